//! Everything the report prints, as plain structs. Whoever fills them has measured; whoever prints them only words them.
//!
//! Conventions: pixel coordinates have their origin at the top-left pixel's centre, x right, y down; directions are axes,
//! 0° along +x, counter-clockwise as seen. A missing number is `None`, never a guess and never zero.

mod capture;
mod chapter;
mod lay;
mod weighing;

pub use capture::{
    Capture, HiddenSector, Image, ImageKind, Quality, Reach, Reading, Scale, ShownTrace, Verdict,
};
pub use chapter::{Chapter, ChapterFigure, Table};
pub use lay::{
    BowSample, Direction, Ends, Estimate, Lay, LengthUnit, Set, Spacing, SpacingVerdict, Step, Straightness,
    StraightnessVerdict, StrokeLength, Widths,
};
pub use weighing::{FinishRow, Group, NoneFits, Pair, SensitivityRow, Simulated, TypedPrior, Weighing};

/// One examination as printed.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Dossier {
    /// The worked stone itself.
    pub object: Object,
    /// Overview photographs with the stations pinned on them.
    pub overviews: Vec<Overview>,
    /// The places examined, in the order of the visit, each with its captures.
    pub stations: Vec<Station>,
    /// Lay of all stations taken together; `None` where nothing could be described.
    pub whole: Option<Lay>,
    /// Whether the stations differ; `None` with fewer than two stations that have a lay.
    pub comparison: Option<Comparison>,
    /// Ways of finishing weighed against each other.
    pub weighing: Option<Weighing>,
    /// Flatness, symmetry, radii, grooves, volume.
    pub form: Option<Chapter>,
    /// Minerals, tools and abrasives that could meet.
    pub stone: Option<Chapter>,
    /// What to photograph next time.
    pub next_visit: Option<Chapter>,
    /// Remarks of the examiner, printed word for word and marked as theirs.
    pub remarks: Vec<String>,
    /// What made these numbers.
    pub provenance: Provenance,
}

/// The worked stone itself. Every text is as the examiner typed it.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Object {
    /// Name; may be empty.
    pub name: String,
    /// Where it stands.
    pub place: Option<String>,
    /// Rock, or minerals with their shares.
    pub rock: Option<String>,
    /// Light, weather, distance, time allowed.
    pub conditions: Option<String>,
    /// Who allowed the examination and within what limits.
    pub permission: Option<String>,
    /// Free description of the object.
    pub description: Option<String>,
    /// Who examined it; may be several names in one text.
    pub examiner: Option<String>,
}

/// An overview photograph.
#[derive(Debug, Clone, PartialEq)]
pub struct Overview {
    /// Name of the original file.
    pub file_name: String,
    /// SHA-256 of the original, hexadecimal.
    pub sha256: String,
    /// What it shows, as the examiner wrote it.
    pub note: Option<String>,
    /// The picture as printed.
    pub picture: Image,
    /// Stations on it.
    pub pins: Vec<Pin>,
}

/// A station on an overview.
#[derive(Debug, Clone, PartialEq)]
pub struct Pin {
    /// [`Station::label`] of the station.
    pub station: String,
    /// Position as a share of the picture's width, 0 left to 1 right.
    pub x_share: f64,
    /// Position as a share of the picture's height, 0 top to 1 bottom.
    pub y_share: f64,
}

/// One place on the object.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Station {
    /// Short label used on pins, in tables and figures: `A`, `B`, …
    pub label: String,
    /// Name the examiner gave it; may be empty.
    pub name: String,
    /// Note of the examiner.
    pub note: Option<String>,
    /// Micrographs taken there.
    pub captures: Vec<Capture>,
    /// Lay of all captures of this station; `None` where nothing could be described.
    pub lay: Option<Lay>,
}

impl Station {
    /// The lay, where at least one trace counts.
    #[must_use]
    pub fn described(&self) -> Option<&Lay> {
        self.lay.as_ref().filter(|lay| !lay.directions.is_empty())
    }

    /// The sector that the light hid on every capture with traces; a direction that one light hid and another showed is not
    /// hidden.
    #[must_use]
    pub fn hidden_everywhere(&self) -> Option<HiddenSector> {
        let mut usable = self
            .captures
            .iter()
            .filter(|capture| capture.quality.verdict != Verdict::NotUsable && capture.refused.is_none());
        let first = usable.next()?.hidden?;
        usable.try_fold(first, |shared, capture| {
            let other = capture.hidden?;
            let overlap = other.axis.angle_to(shared.axis) < shared.half_width_deg.min(other.half_width_deg);
            overlap.then_some(shared)
        })
    }
}

/// Whether the stations differ from each other.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// One row for each property compared.
    pub tests: Vec<ComparisonTest>,
    /// Error rate kept over all rows together, for example 0.05.
    pub level: f64,
    /// How the level was kept over several rows, in words: `Holm's procedure over 3 tests`.
    pub multiplicity: String,
    /// Reasons to doubt the comparison, in words.
    pub cautions: Vec<String>,
}

/// One property compared over all stations.
#[derive(Debug, Clone, PartialEq)]
pub struct ComparisonTest {
    /// What is compared: `directions`, `stroke length`, …
    pub property: String,
    /// Name of the test: `Watson's U², captures permuted`.
    pub test: String,
    /// Adjusted p value; `None` where the test could not be made, with the reason in `note`.
    pub p_adjusted: Option<f64>,
    /// Which stations stand out, or why the test could not be made.
    pub note: Option<String>,
}

/// What made these numbers.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Provenance {
    /// Program and version: `rubstone 0.1.0`.
    pub software: String,
    /// Seed of all random numbers.
    pub seed: u64,
    /// Number of bootstrap resamples behind the intervals.
    pub resamples: u32,
    /// When the report was made, given as text by whoever asked for it; left out when not given.
    pub made_at: Option<String>,
    /// Further settings as name and value, in the order to print.
    pub settings: Vec<(String, String)>,
    /// Inputs that could not be used: file name and reason.
    pub failures: Vec<(String, String)>,
}
