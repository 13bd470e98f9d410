//! One micrograph as printed: facts, quality, traces, reach.

use picture::Light;
use quantity::{AxialDeg, UmPerPx};
use trace::Trace;

pub use picture::Verdict;

use super::Lay;
use crate::words;

/// One micrograph.
#[derive(Debug, Clone, PartialEq)]
pub struct Capture {
    /// Short label used in tables and figures: `A1`, `A2`, …
    pub label: String,
    /// Name of the original file.
    pub file_name: String,
    /// SHA-256 of the original, hexadecimal.
    pub sha256: String,
    /// Size of the original file.
    pub bytes: u64,
    /// Width of the original after its orientation tag, px.
    pub width_px: usize,
    /// Height of the original after its orientation tag, px.
    pub height_px: usize,
    /// File format and depth in words: `TIFF, 16 bit, grey`.
    pub format: String,
    /// Time the camera wrote into the file, as it wrote it.
    pub taken_at: Option<String>,
    /// Camera the file names.
    pub camera: Option<String>,
    /// Instrument setting the examiner chose.
    pub instrument: Option<String>,
    /// Scale; without one every length stays in pixels.
    pub scale: Option<Scale>,
    /// Nominal magnification as written on the instrument. Recorded, never used as a scale.
    pub nominal_magnification: Option<String>,
    /// Where the light came from.
    pub light: Light,
    /// What is known of the lens in words: `calibrated on a graduation: 0.04 % of the width remains`.
    pub lens: String,
    /// Whether the picture can be trusted.
    pub quality: Quality,
    /// The picture as printed, usually smaller than the original.
    pub picture: Option<Image>,
    /// Everything traced, with what the reading says of it.
    pub traces: Vec<ShownTrace>,
    /// Why no traces are reported for this picture at all.
    pub refused: Option<String>,
    /// Directions the light could not show.
    pub hidden: Option<HiddenSector>,
    /// Expected number of false traces the finder was set to; `None` where nothing was measured.
    pub expected_false: Option<f64>,
    /// Largest radius that could be told from straight.
    pub reach: Option<Reach>,
    /// Lay of this capture alone; `None` where nothing could be described.
    pub lay: Option<Lay>,
    /// Notes made while reading the file: first page of several, profile missing, …
    pub notes: Vec<String>,
}

impl Capture {
    /// Traces the statistics rest on.
    pub fn accepted(&self) -> impl Iterator<Item = &ShownTrace> {
        self.traces.iter().filter(|shown| shown.reading.counts())
    }

    /// Size of the field in millimetres, `(width, height)`.
    #[must_use]
    pub fn field_mm(&self) -> Option<(f64, f64)> {
        let um_per_px = self.scale.as_ref()?.um_per_px.value();
        Some((self.width_px as f64 * um_per_px / 1000.0, self.height_px as f64 * um_per_px / 1000.0))
    }
}

/// A scale and where it came from.
#[derive(Debug, Clone, PartialEq)]
pub struct Scale {
    /// Micrometres per pixel.
    pub um_per_px: UmPerPx,
    /// Where it came from in words: `photographed graduation, 10 µm a tick`, `typed by the examiner`.
    pub origin: String,
}

/// A trace and what the reading says of it.
#[derive(Debug, Clone, PartialEq)]
pub struct ShownTrace {
    /// The trace as measured.
    pub trace: Trace,
    /// Accepted, suspect or rejected.
    pub reading: Reading,
    /// Drawn, cut or joined by hand.
    pub by_hand: bool,
}

/// What a reading says of a trace.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reading {
    /// A scratch: counts.
    Accepted,
    /// May be something else: does not count unless the examiner accepts it.
    Suspect,
    /// Not a scratch, says the examiner: does not count.
    Rejected,
}

impl Reading {
    /// Whether the statistics rest on it.
    #[must_use]
    pub fn counts(self) -> bool {
        self == Self::Accepted
    }

    /// The word printed for it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Accepted => "accepted",
            Self::Suspect => "suspect",
            Self::Rejected => "rejected",
        }
    }
}

/// Whether a picture can be trusted.
#[derive(Debug, Clone, PartialEq)]
pub struct Quality {
    /// In one word.
    pub verdict: Verdict,
    /// Why, each a sentence or a clause without a full stop.
    pub reasons: Vec<String>,
}

/// Directions the light could not show: an axis and the half-width of the sector round it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HiddenSector {
    /// Middle of the sector.
    pub axis: AxialDeg,
    /// Half of its width, degrees.
    pub half_width_deg: f64,
}

/// Largest radius of curvature that this picture can tell from a straight line.
#[derive(Debug, Clone, PartialEq)]
pub struct Reach {
    /// In pixels.
    pub radius_px: f64,
    /// In millimetres, where a scale is known.
    pub radius_mm: Option<f64>,
    /// What limits it in one or two words: `field`, `sharpness`, `lens`, `waviness`, `tilt`.
    pub limited_by: String,
    /// Length of trace it was computed for, px.
    pub chord_px: f64,
}

impl Reach {
    /// The radius with its unit, as printed everywhere.
    #[must_use]
    pub fn radius(&self) -> String {
        match self.radius_mm {
            _ if !self.radius_px.is_finite() => "not known".to_owned(),
            Some(radius_mm) => format!("{} mm", words::significant(radius_mm, 2)),
            None => format!("{} px", words::significant(self.radius_px, 2)),
        }
    }

    /// The radius with what limits it.
    #[must_use]
    pub fn words(&self) -> String {
        format!("{}, limited by {}", self.radius(), self.limited_by)
    }
}

/// A picture ready to be embedded.
#[derive(Debug, Clone, PartialEq)]
pub struct Image {
    /// How it is encoded.
    pub kind: ImageKind,
    /// The encoded file.
    pub bytes: Vec<u8>,
    /// Width, px.
    pub width_px: usize,
    /// Height, px.
    pub height_px: usize,
}

/// Encodings that every reader of the report can show.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ImageKind {
    /// Lossy, for photographs.
    Jpeg,
    /// Lossless.
    Png,
}

impl ImageKind {
    /// Media type.
    #[must_use]
    pub fn mime(self) -> &'static str {
        match self {
            Self::Jpeg => "image/jpeg",
            Self::Png => "image/png",
        }
    }

    /// Ending of a file name, without the dot.
    #[must_use]
    pub fn extension(self) -> &'static str {
        match self {
            Self::Jpeg => "jpg",
            Self::Png => "png",
        }
    }
}
