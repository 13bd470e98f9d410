//! Forms of the workbench's API: what the page is told, and what it may ask for.
//!
//! Every change answers with the whole [`ExaminationForm`], so that a page never has to guess what its change did.

mod captures;
mod form;
mod object;
mod pages;
mod panels;
mod stone;
mod tiles;
mod tracing;
mod visit;
mod weighing;
mod work;

use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

pub use captures::{
    AddQuery, AddedFile, AddedForm, CaptureChange, CaptureForm, InstrumentForm, InstrumentText, LightForm,
    ScaleForm, ScaleRequest, SetScale, UploadForm,
};
pub use form::{FormAsked, FormUpload, LandmarkPair, LandmarksAsked, MeasuredFormForm};
pub use object::{
    DeskForm, ExaminationForm, NextStep, ObjectForm, OpenRequest, PinForm, StationForm, StationText,
};
pub use pages::{BlockForm, FigureForm, PageForm, ReportQuery};
pub use panels::{
    BlindAnswerForm, BlindForm, BlindWeighing, PanelAsked, PanelAt, PanelItemForm, PanelUpload, PanelsForm,
    ScoreRequest, SealRequest,
};
pub use stone::StoneRoomForm;
pub use tiles::{ImageInfoForm, SizeForm, TilesForm};
pub use tracing::{AgreementForm, PersonQuery, ReadingForm, ReadingRequest, TraceForm};
pub use visit::VisitForm;
pub use weighing::{FileWeighingForm, ModelForm, PriorForm, WeighAsked, WeighUpload, WeighingForm};
pub use work::{EventForm, JobForm, JobRequest};

/// Reads what came beside an upload.
///
/// # Errors
/// In words, what is wrong with the text.
pub fn read_asked<T: DeserializeOwned>(text: &str) -> Result<T, String> {
    serde_json::from_str(text).map_err(|e| format!("'asked' is not of the form it should have: {e}"))
}

/// A value with its standard uncertainty, in the unit the field's name states.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ValueForm {
    /// The estimate.
    pub value: f64,
    /// Its standard uncertainty.
    pub u: f64,
}

/// What went wrong, in words.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Problem {
    /// What is wrong and what to do.
    pub message: String,
}
