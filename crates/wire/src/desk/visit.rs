//! The room of the next visit.

use serde::Serialize;
use utoipa::ToSchema;

use super::pages::PageForm;
use super::weighing::ModelForm;
use crate::plan::PlanQuestionForm;

/// The plan of the next visit as it stands.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct VisitForm {
    /// The finishes that are modelled.
    pub models: Vec<ModelForm>,
    /// Groups that the weighing cannot tell apart: what a visit could settle.
    pub open: Vec<Vec<String>>,
    /// What was asked last, or a question to begin with from the instruments of the examination.
    pub question: PlanQuestionForm,
    /// The answer kept, if there is one.
    pub page: Option<PageForm>,
    /// Whether there is a field sheet.
    pub sheet: bool,
}
