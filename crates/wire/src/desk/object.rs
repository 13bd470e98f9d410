//! What is examined, where, and whether an examination is open.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::stones::MineralShareForm;

use super::captures::{CaptureForm, InstrumentForm};

/// What the page needs to begin: whether an examination is open.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct DeskForm {
    /// Version of the program.
    pub software: String,
    /// The open examination, if any.
    pub examination: Option<ExaminationForm>,
    /// Folders opened before on this machine, newest first.
    pub recent: Vec<String>,
    /// Where new examinations are suggested.
    pub home: String,
}

/// One examination as the page shows it.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ExaminationForm {
    /// Its folder.
    pub folder: String,
    /// Counts every change; a page with a lower number is out of date.
    pub revision: i64,
    /// What is examined.
    pub object: ObjectForm,
    /// Stations in the order they were made.
    pub stations: Vec<StationForm>,
    /// Instruments.
    pub instruments: Vec<InstrumentForm>,
    /// Captures in the order they were added.
    pub captures: Vec<CaptureForm>,
    /// What is missing before the next step, most pressing first; the first is shown at the top of every room.
    pub next_steps: Vec<NextStep>,
    /// What an interrupted run had left, and what was done about it.
    pub unfinished: Vec<String>,
    /// Rocks that can be chosen.
    pub rocks: Vec<String>,
    /// Minerals that can be chosen.
    pub minerals: Vec<String>,
    /// False traces to expect per megapixel of scratch-free stone.
    pub expected_false: f64,
}

/// The object.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ObjectForm {
    /// Name, as the examiner calls it.
    pub name: String,
    /// Rock from the list, or empty.
    pub rock: String,
    /// Minerals that were determined, each with its share, in place of a rock.
    pub minerals: Vec<MineralShareForm>,
    /// Where it is, as free text.
    pub place: String,
    /// Conditions of access, light and permission, as free text.
    pub conditions: String,
    /// Anything else.
    pub note: String,
}

/// A station to be made or changed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct StationText {
    /// Name.
    pub name: String,
    /// Note.
    pub note: String,
}

/// One place on the object.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct StationForm {
    /// Number.
    pub id: i64,
    /// Name.
    pub name: String,
    /// Note.
    pub note: String,
    /// Where it is pinned on an overview picture.
    pub pin: Option<PinForm>,
    /// Number of its captures.
    pub captures: usize,
}

/// A place on an overview picture.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PinForm {
    /// Number of the overview capture.
    pub capture: i64,
    /// From its left edge, as a share of its width, 0 to 1.
    pub x: f64,
    /// From its top edge, as a share of its height, 0 to 1.
    pub y: f64,
}

/// What to do next, and where.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct NextStep {
    /// Room to do it in: `object`, `captures`, `tracing`, `lay`, `weighing`, `visit`, `form`, `stone`, `report`.
    pub room: String,
    /// What, in one sentence.
    pub text: String,
    /// Whether measuring cannot start without it.
    pub needed: bool,
}

/// Opens an examination, or begins one.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct OpenRequest {
    /// Its folder.
    pub folder: String,
    /// Begin a new one there.
    pub begin: bool,
}
