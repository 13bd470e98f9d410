//! Reference panels and blind tests, in the weighing room.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::pages::PageForm;
use super::weighing::ModelForm;

/// The reference panels of an examination.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PanelsForm {
    /// The finishes that are modelled.
    pub models: Vec<ModelForm>,
    /// The panels in the order they were added.
    pub panels: Vec<PanelItemForm>,
    /// What came of leaving each out, if that was done.
    pub check: Option<PageForm>,
    /// Why they cannot be checked by leaving each out, if they cannot.
    pub cannot_check: Option<String>,
    /// The caution for whoever makes panels.
    pub caution: String,
}

/// One panel.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PanelItemForm {
    /// Its number.
    pub id: u32,
    /// Its name.
    pub name: String,
    /// How it was finished, by name.
    pub finish: String,
    /// The grit it was finished with and what that left, in words; empty if none was given.
    pub grit: String,
    /// Where its measurements are, in words.
    pub source: String,
}

/// How a panel was made.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PanelAsked {
    /// How it was finished, by name.
    pub finish: String,
    /// The grit it was finished with, with its scale, if that is known.
    #[serde(default)]
    pub grit: Option<String>,
}

/// A panel that is an examination of its own, or a file with measurements on this machine.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PanelAt {
    /// How it was made.
    pub asked: PanelAsked,
    /// The whole path of its folder.
    pub folder: String,
}

/// A panel given as the output of `rubstone measure --json`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct PanelUpload {
    /// A [`PanelAsked`] as text; comes before the file.
    pub asked: String,
    /// The measurements, with the file's own name.
    #[schema(value_type = String, format = Binary)]
    pub file: Vec<u8>,
}

/// The answers of a blind test, to be sealed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SealRequest {
    /// Each panel's name and its finish, in the order they are sealed in.
    pub answers: Vec<BlindAnswerForm>,
    /// A secret text that goes into the seal.
    pub salt: String,
}

/// The true finish of one panel of a blind test.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BlindAnswerForm {
    /// Name under which it was weighed.
    pub name: String,
    /// Its finish, by name.
    pub finish: String,
}

/// A blind test to be scored.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ScoreRequest {
    /// The answers, as they were sealed.
    pub answers: Vec<BlindAnswerForm>,
    /// The secret text.
    pub salt: String,
    /// The seal that was published.
    pub sealed: String,
    /// What was weighed without knowing the answers.
    pub weighings: Vec<BlindWeighing>,
}

/// The weighing of one panel of a blind test.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BlindWeighing {
    /// The panel's name.
    pub name: String,
    /// The output of `rubstone weigh --json`.
    pub weighing: String,
}

/// The score of a blind test, or the seal it begins with.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct BlindForm {
    /// Hash of the answers and the secret text.
    pub seal: String,
    /// What came of it, in sentences; empty before the test.
    pub sentences: Vec<String>,
}
