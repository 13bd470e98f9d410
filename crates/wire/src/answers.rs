//! What the commands print with `--json`: one object each, with its form and number in `schema`.
//!
//! `rubstone measure` has a form of its own: [`crate::measure`].

use serde::Serialize;
use utoipa::ToSchema;

use crate::desk::{AgreementForm, CaptureForm, ObjectForm, PanelItemForm, ReadingForm};
use crate::measure::LayForm;
use crate::plan::PanelsAnswer;

/// An input that failed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct FailedForm {
    /// The input.
    pub subject: String,
    /// One line: the input, what is wrong, what to do.
    pub message: String,
}

/// Answer of `rubstone begin`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct BeginAnswer {
    /// `rubstone.begin/1`.
    pub schema: &'static str,
    /// The folder.
    pub folder: String,
    /// The examination's identifier.
    pub uuid: String,
}

/// Answer of `rubstone object`.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ObjectAnswer {
    /// `rubstone.object/1`.
    pub schema: &'static str,
    /// What is known of the object.
    pub object: ObjectForm,
}

/// Answer of `rubstone capture`.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct CapturesAnswer {
    /// `rubstone.captures/1`.
    pub schema: &'static str,
    /// The captures, with what holds for them.
    pub captures: Vec<CaptureForm>,
}

/// Answer of `rubstone reading`.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ReadingAnswer {
    /// `rubstone.reading/1`.
    pub schema: &'static str,
    /// The traces as this person leaves them.
    pub reading: ReadingForm,
}

/// Answer of `rubstone reading --agreement`.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct AgreementAnswer {
    /// `rubstone.agreement/1`.
    pub schema: &'static str,
    /// Each pair of people who have read the capture.
    pub pairs: Vec<AgreementForm>,
}

/// Answer of `rubstone panel set`.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PanelSetAnswer {
    /// `rubstone.panel-set/1`.
    pub schema: &'static str,
    /// The panels that the examination keeps.
    pub panels: Vec<PanelItemForm>,
    /// What came of leaving each out, if that was asked for.
    pub check: Option<PanelsAnswer>,
}

/// Answer of `rubstone add`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct AddAnswer {
    /// `rubstone.add/1`.
    pub schema: &'static str,
    /// Pictures that are in the examination now.
    pub added: Vec<AddedForm>,
    /// Files that are not.
    pub failed: Vec<FailedForm>,
    /// Files in folders passed over because they are no pictures by their names.
    pub passed_over: usize,
}

/// One picture taken in.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct AddedForm {
    /// The file.
    pub file: String,
    /// Number of its capture.
    pub capture: i64,
    /// The same picture was there already.
    pub already: bool,
    /// Notes made while reading it.
    pub notes: Vec<String>,
}

/// Answer of `rubstone scale`.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ScaleAnswer {
    /// `rubstone.scale/1`.
    pub schema: &'static str,
    /// Micrometres per pixel.
    pub um_per_px: f64,
    /// Its standard uncertainty.
    pub u_um_per_px: f64,
    /// Where it came from.
    pub source: String,
    /// Instrument or capture it holds for.
    pub holds_for: String,
}

/// Answer of `rubstone station` and `rubstone instrument`.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct NamesAnswer {
    /// `rubstone.stations/1` or `rubstone.instruments/1`.
    pub schema: &'static str,
    /// Stations or instruments.
    pub items: Vec<NamedForm>,
}

/// A station or an instrument.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct NamedForm {
    /// Number.
    pub id: i64,
    /// Name.
    pub name: String,
    /// Number of captures.
    pub captures: usize,
    /// Scale of an instrument, µm/px.
    pub um_per_px: Option<f64>,
    /// Note.
    pub note: String,
}

/// Answer of `rubstone lay`.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct LayAnswer {
    /// `rubstone.lay/1`.
    pub schema: &'static str,
    /// All stations together.
    pub object: LayForm,
    /// Each station with traces.
    pub stations: Vec<StationLayForm>,
    /// Each capture with traces; only with `--captures`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub captures: Option<Vec<CaptureLayForm>>,
    /// Whether the stations differ: one entry per test that could be made.
    pub differences: Vec<DifferenceForm>,
    /// What was left out and why.
    pub notes: Vec<String>,
}

/// Lay of one station.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct StationLayForm {
    /// Its name.
    pub station: String,
    /// Its captures that count.
    pub captures: usize,
    /// Its lay.
    pub lay: LayForm,
}

/// Lay of one capture.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct CaptureLayForm {
    /// Its file name.
    pub capture: String,
    /// Its station; absent without one.
    pub station: Option<String>,
    /// Its lay.
    pub lay: LayForm,
}

/// One test between all stations.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct DifferenceForm {
    /// What was compared.
    pub quantity: String,
    /// Probability of at least this difference if captures were handed to the stations at random.
    pub p: f64,
    /// The same after Holm's correction.
    pub p_holm: f64,
    /// Smallest probability these captures could have shown.
    pub smallest_p: f64,
}

/// Answer of `rubstone report`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct ReportAnswer {
    /// `rubstone.report/1`.
    pub schema: &'static str,
    /// The one-file HTML page.
    pub html: String,
    /// The PDF.
    pub pdf: String,
    /// The tables.
    pub tables: Vec<String>,
}

/// Answer of `rubstone bag`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct BagAnswer {
    /// `rubstone.bag/1`.
    pub schema: &'static str,
    /// The package.
    pub folder: String,
    /// Payload files.
    pub files: u64,
    /// Payload bytes.
    pub bytes: u64,
}

/// Answer of `rubstone sample`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct SampleAnswer {
    /// `rubstone.sample/1`.
    pub schema: &'static str,
    /// The examination.
    pub folder: String,
    /// Micrographs measured.
    pub measured: usize,
    /// The report.
    pub report: ReportAnswer,
    /// Inputs that failed.
    pub failed: Vec<FailedForm>,
}

/// Answer of `rubstone render`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct RenderAnswer {
    /// `rubstone.render/1`.
    pub schema: &'static str,
    /// Pictures written, with their truths.
    pub pictures: Vec<RenderedForm>,
}

/// One rendered picture.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct RenderedForm {
    /// The picture.
    pub picture: String,
    /// Its truth (`rubstone.truth/1`).
    pub truth: String,
}

/// Answer of `rubstone status`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct StatusAnswer {
    /// `rubstone.status/1`.
    pub schema: &'static str,
    /// Name of the object.
    pub object: String,
    /// Stations.
    pub stations: usize,
    /// Overviews.
    pub overviews: usize,
    /// Micrographs.
    pub micrographs: usize,
    /// Graduations.
    pub graduations: usize,
    /// Micrographs without a scale.
    pub without_scale: usize,
    /// Micrographs without a station.
    pub without_station: usize,
    /// Micrographs still to be measured.
    pub to_measure: usize,
    /// Originals missing or altered.
    pub lost: Vec<String>,
    /// What an interrupted program had left, and what became of it.
    pub unfinished: Vec<String>,
    /// What to do next.
    pub next: String,
}
