//! Captures, the instruments they were taken with, and their scales.

use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::ValueForm;
use super::object::ExaminationForm;

/// Where light came from.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "kind", rename_all = "lowercase")]
pub enum LightForm {
    /// From one side.
    Azimuth {
        /// Axis it came along, degrees 0–180, counter-clockwise as seen from +x.
        azimuth_deg: f64,
    },
    /// A ring of light.
    Ring,
    /// Through the lens.
    Coaxial,
    /// Not recorded.
    Unknown,
}

/// A scale and where it came from.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ScaleForm {
    /// Micrometres per pixel.
    pub um_per_px: ValueForm,
    /// Where it came from, in words.
    pub source: String,
}

/// An instrument to be made or changed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct InstrumentText {
    /// Name of the instrument at one setting.
    pub name: String,
    /// `camera` or `microscope`.
    pub kind: String,
    /// Light of its captures unless they say otherwise.
    pub light: LightForm,
    /// As printed on it; recorded, never used as a scale.
    pub nominal_magnification: String,
    /// Note.
    pub note: String,
}

/// A camera or microscope at one setting.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct InstrumentForm {
    /// Number.
    pub id: i64,
    /// Name of the instrument at one setting.
    pub name: String,
    /// `camera` or `microscope`.
    pub kind: String,
    /// Light of its captures unless they say otherwise.
    pub light: LightForm,
    /// As printed on it; recorded, never used as a scale.
    pub nominal_magnification: String,
    /// Note.
    pub note: String,
    /// Scale of its captures unless they have their own.
    pub scale: Option<ScaleForm>,
    /// Its lens in words: distortion with uncertainty, or that it is not calibrated.
    pub lens: String,
}

/// One picture.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct CaptureForm {
    /// Number.
    pub id: i64,
    /// `overview`, `micrograph` or `graduation`.
    pub kind: String,
    /// Station it was taken at.
    pub station: Option<i64>,
    /// Instrument it was taken with.
    pub instrument: Option<i64>,
    /// Its own file name.
    pub file_name: String,
    /// SHA-256 of the untouched original.
    pub sha256: String,
    /// Width, px.
    pub width_px: u32,
    /// Height, px.
    pub height_px: u32,
    /// When it was taken, as the camera wrote it.
    pub taken_at: Option<String>,
    /// Scale in force: its own, or its instrument's.
    pub scale: Option<ScaleForm>,
    /// Whether the scale is its own.
    pub scale_is_own: bool,
    /// Light in force.
    pub light: LightForm,
    /// Whether the light is its own.
    pub light_is_own: bool,
    /// The lens in force in words: what remains of its distortion, or that it is not calibrated.
    pub lens: String,
    /// Set aside: kept, but not counted.
    pub set_aside: bool,
    /// Note.
    pub note: String,
    /// Why it cannot be measured whatever is set, if it cannot.
    pub cannot: Option<String>,
    /// `usable`, `usable with care`, `not usable`; absent before measuring.
    pub verdict: Option<String>,
    /// Why, in words.
    pub reasons: Vec<String>,
    /// Number of accepted traces; absent before measuring.
    pub traces: Option<usize>,
    /// Whether the measurement is of an older version or other settings.
    pub out_of_date: bool,
    /// Largest radius that could be told from straight, in words with unit; absent before measuring.
    pub reach: Option<String>,
}

/// A capture's changeable part; absent fields stay as they are.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields, default)]
pub struct CaptureChange {
    /// `overview`, `micrograph` or `graduation`.
    pub kind: Option<String>,
    /// Station, 0 for none.
    pub station: Option<i64>,
    /// Instrument, 0 for none.
    pub instrument: Option<i64>,
    /// Light of this capture alone.
    pub light: Option<LightForm>,
    /// Gives up scale, lens and light of its own: those of its instrument hold again.
    pub as_instrument: bool,
    /// Set aside or taken back.
    pub set_aside: Option<bool>,
    /// Note.
    pub note: Option<String>,
}

/// How a scale is set.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "from", rename_all = "snake_case")]
pub enum ScaleRequest {
    /// From a photographed graduation, found automatically on this capture.
    Graduation {
        /// Capture that shows the graduation.
        capture: i64,
        /// Micrometres from one line to the next.
        um_per_tick: ValueForm,
    },
    /// From two points on this capture and their distance.
    TwoPoints {
        /// Capture the points are on.
        capture: i64,
        /// First point, px.
        a: [f64; 2],
        /// Second point, px.
        b: [f64; 2],
        /// Their distance on the surface, micrometres.
        distance_um: ValueForm,
    },
    /// Typed.
    Typed {
        /// Micrometres per pixel.
        um_per_px: ValueForm,
    },
}

/// Sets the scale of an instrument (all its captures) or of one capture.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SetScale {
    /// Instrument whose setting it is, or
    pub instrument: Option<i64>,
    /// the one capture it is for.
    pub capture: Option<i64>,
    /// Where it comes from.
    pub scale: ScaleRequest,
}

/// What an added picture is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct AddQuery {
    /// `overview`, `micrograph` or `graduation`.
    pub kind: String,
    /// Station it was taken at.
    pub station: Option<i64>,
    /// Instrument it was taken with.
    pub instrument: Option<i64>,
}

/// An upload.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct UploadForm {
    /// The picture, with its own file name.
    #[schema(value_type = String, format = Binary)]
    pub file: Vec<u8>,
}

/// What became of each file that was dropped.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct AddedForm {
    /// One line per file.
    pub files: Vec<AddedFile>,
    /// The examination afterwards.
    pub examination: ExaminationForm,
}

/// What became of one file.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct AddedFile {
    /// Its name.
    pub file_name: String,
    /// `added`, `known` (the same picture is there already) or `failed`.
    pub outcome: String,
    /// In words: notes, or what is wrong and what to do.
    pub message: String,
    /// Number of the capture.
    pub capture: Option<i64>,
}
