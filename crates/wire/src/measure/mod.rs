//! `rubstone.measure/1`: what `rubstone measure --json` prints and `rubstone weigh` reads.
//!
//! Pixel coordinates: origin at the top-left pixel's centre, x right, y down. Directions: 0–180°, 0 along +x,
//! counter-clockwise as seen. Millimetres appear only where a scale is known. `lay` rests on the traces that are not
//! suspect. Whatever goes beyond the contract stands in `quality`.

mod check;
mod make;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

pub use check::read;
pub use make::{lay, quality, suspect, trace};

/// Name of the form.
pub const SCHEMA: &str = "rubstone.measure/1";

/// Everything measured on some pictures.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct Measure {
    /// [`SCHEMA`].
    pub schema: String,
    /// One entry per picture that could be measured, in the order given.
    pub captures: Vec<CaptureForm>,
}

impl Measure {
    /// The form around its captures.
    #[must_use]
    pub fn new(captures: Vec<CaptureForm>) -> Self {
        Self { schema: SCHEMA.to_owned(), captures }
    }
}

/// One picture.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct CaptureForm {
    /// File as it was named.
    pub file: String,
    /// SHA-256 of the file, lower-case hex.
    pub sha256: String,
    /// Width after the orientation tag, px.
    pub width_px: u32,
    /// Height after the orientation tag, px.
    pub height_px: u32,
    /// Scale, µm/px; null where none is known.
    pub um_per_px: Option<f64>,
    /// Whether the picture can be trusted, and under what circumstances it was measured.
    #[serde(default)]
    pub quality: QualityForm,
    /// The traces, strongest first.
    pub traces: Vec<TraceForm>,
    /// What the traces say together.
    pub lay: LayForm,
    /// Largest radius that could be told from straight.
    pub reach: ReachForm,
}

/// Whether a picture can be trusted, and the circumstances of its measuring.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, ToSchema)]
#[serde(default)]
pub struct QualityForm {
    /// `usable`, `usable with care` or `not usable`.
    pub verdict: String,
    /// Why, in words.
    pub reasons: Vec<String>,
    /// Standard deviation of the blur, px.
    pub focus_sigma_px: Option<f64>,
    /// Its standard uncertainty, px.
    pub focus_sigma_u_px: Option<f64>,
    /// Direction of motion blur, degrees; null if none was found.
    pub motion_deg: Option<f64>,
    /// Length of motion blur, px.
    pub motion_px: Option<f64>,
    /// Period of a compression grid, px; null if none was found.
    pub blocks_px: Option<f64>,
    /// Share of pixels at either end of the scale.
    pub clipped_share: Option<f64>,
    /// Ratio of uneven light over the picture.
    pub unevenness: Option<f64>,
    /// Standard deviation of the grey noise, 0 to 1.
    pub noise_sigma: Option<f64>,
    /// Standard uncertainty of the scale, µm/px.
    pub um_per_px_u: Option<f64>,
    /// `azimuth`, `ring`, `coaxial` or `unknown`.
    pub light: String,
    /// Azimuth of one-sided light, degrees.
    pub light_azimuth_deg: Option<f64>,
    /// Middle of the directions this light could not show, degrees.
    pub hidden_deg: Option<f64>,
    /// Half-width of the directions this light could not show, degrees.
    pub hidden_half_width_deg: Option<f64>,
    /// Why no traces are reported at all.
    pub refused: Option<String>,
    /// Typical white scatter of one point of a trace across it, px.
    pub localisation_px: Option<f64>,
    /// Typical waviness of a trace, px.
    pub waviness_px: Option<f64>,
    /// Expected number of false traces the finder was set to.
    pub expected_false: Option<f64>,
    /// Notes made while reading the file.
    pub notes: Vec<String>,
}

/// One trace.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct TraceForm {
    /// Number within the picture.
    pub id: u32,
    /// Axis of the groove, px.
    pub points: Vec<[f64; 2]>,
    /// Length inside the picture, px.
    pub length_px: f64,
    /// Full width at half depth, px.
    pub width_px: f64,
    /// Axis at mid-length, degrees in [0, 180).
    pub direction_deg: f64,
    /// Its standard uncertainty.
    pub direction_u_deg: f64,
    /// Signed curvature, 1/px.
    pub curvature_per_px: f64,
    /// Its standard uncertainty.
    pub curvature_u_per_px: f64,
    /// Number of true ends in the picture, 0 to 2.
    pub ends_inside: u8,
    /// Contrast-to-noise ratio.
    pub contrast: f64,
    /// log10 of the expected number of false traces at least as strong.
    pub log10_nfa: f64,
    /// What else it may be.
    pub suspect: Option<SuspectForm>,
}

/// What else could have drawn a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum SuspectForm {
    /// A line that lives inside one grain.
    Lamella,
    /// Boundary between two grains.
    GrainEdge,
    /// Block grid of lossy compression.
    Compression,
    /// Row or column of the sensor.
    Sensor,
    /// Drawn out by motion blur.
    Blur,
}

/// What the traces of a picture say together.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct LayForm {
    /// Traces counted: those not suspect.
    pub count: usize,
    /// Traces per mm²; null without a scale.
    pub density_per_mm2: Option<f64>,
    /// Length of trace per area, 1/mm; null without a scale.
    pub intensity_per_mm: Option<f64>,
    /// Resultant length of the doubled directions, 0 to 1; 0 without traces.
    pub resultant: f64,
    /// p value of the test that every direction is equally common; 1 without traces.
    pub uniform_p: f64,
    /// Groups of parallel traces, most common first.
    pub sets: Vec<SetForm>,
    /// Acute angle between the first two sets, degrees; null with fewer.
    pub crossing_deg: Option<f64>,
    /// Its standard uncertainty.
    pub crossing_u_deg: Option<f64>,
}

/// One group of parallel traces.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SetForm {
    /// Mean axis, degrees in [0, 180).
    pub direction_deg: f64,
    /// Its standard uncertainty.
    pub direction_u_deg: f64,
    /// Concentration of the doubled directions (von Mises).
    pub concentration: f64,
    /// Share of the traces.
    pub share: f64,
}

/// Largest radius of curvature that the picture can tell from a straight line.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ReachForm {
    /// In mm; null without a scale or without a trace that counts.
    pub radius_mm: Option<f64>,
    /// In px; 0 without a trace that counts: nothing can be told then.
    pub radius_px: f64,
    /// `field`, `sharpness`, `waviness`, `lens` or `tilt`.
    pub limited_by: String,
}
