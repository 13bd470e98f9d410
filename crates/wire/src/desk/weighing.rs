//! The weighing room.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::pages::PageForm;

/// A prior probability that was typed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PriorForm {
    /// Finish, by name.
    pub finish: String,
    /// Probability, 0 to 1.
    pub probability: f64,
}

/// A way of finishing that is modelled.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct ModelForm {
    /// Name, as in results and on the command line.
    pub name: String,
    /// Name for people.
    pub title: String,
    /// What moves how.
    pub sentence: String,
}

/// The weighing as it stands.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct WeighingForm {
    /// Why the examination cannot be weighed as it stands, if it cannot.
    pub cannot: Option<String>,
    /// The finishes that are modelled.
    pub models: Vec<ModelForm>,
    /// Finishes considered last, or all.
    pub finishes: Vec<String>,
    /// Seed used last, or the usual one.
    pub seed: u64,
    /// Priors typed last; empty for none.
    pub priors: Vec<PriorForm>,
    /// The answer kept, if there is one.
    pub page: Option<PageForm>,
}
