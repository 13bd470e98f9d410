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

/// How to weigh.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WeighAsked {
    /// Finishes to consider, by name; empty for all.
    pub finishes: Vec<String>,
    /// Seed of the simulations.
    pub seed: u64,
    /// Prior probabilities that were typed; empty for none.
    pub priors: Vec<PriorForm>,
    /// What the reference panels of the open examination do: `update` or `replace` the models of their finishes; absent to
    /// leave them out.
    pub panels: Option<String>,
    /// Simulates anew even if these captures were weighed before, and keeps no simulations.
    pub anew: bool,
}

/// Somebody's measurements to be weighed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct WeighUpload {
    /// How, as JSON; comes before the file.
    #[schema(value_type = WeighAsked)]
    pub asked: String,
    /// The output of `rubstone measure --json`, with the file's own name.
    #[schema(value_type = String, format = Binary)]
    pub file: Vec<u8>,
}

/// The last weighing of measurements that came in a file. No examination keeps it, only the running program.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct FileWeighingForm {
    /// Name of the file; absent where none was weighed.
    pub file: Option<String>,
    /// The answer.
    pub page: Option<PageForm>,
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
