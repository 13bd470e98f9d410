//! Work that goes on in the background, and what the event stream says.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::weighing::WeighAsked;
use crate::plan::PlanQuestionForm;

/// Work to be started.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "work", rename_all = "snake_case")]
pub enum JobRequest {
    /// Measures every capture that needs it.
    Measure {
        /// False traces to expect per megapixel of scratch-free stone from now on; absent to leave that as it is.
        expected_false: Option<f64>,
    },
    /// Reads every original and checks it against its SHA-256.
    CheckOriginals,
    /// Weighs the finishes.
    Weigh(WeighAsked),
    /// Leaves each reference panel out in turn and weighs it with an engine that knows the others.
    CheckPanels {
        /// Panels take the place of the models of their finishes instead of updating them.
        replace: bool,
        /// Seed of the simulations.
        seed: u64,
    },
    /// Plans the next visit.
    Plan {
        /// What is to be planned.
        question: PlanQuestionForm,
    },
    /// Writes the report.
    Report {
        /// Chapters left out.
        without: Vec<String>,
        /// Day or time printed as that of the report; absent for none.
        made_at: Option<String>,
    },
    /// Writes the archive package.
    Package {
        /// Folder to write it to; must not exist.
        folder: String,
        /// Licence under which others may use it, in words or as an address; absent for none.
        license: Option<String>,
    },
    /// Writes the sample examination and opens it.
    Sample {
        /// Folder to write it to.
        folder: String,
    },
}

/// Work in progress or ended.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct JobForm {
    /// Number.
    pub id: u64,
    /// What it does, in words.
    pub title: String,
    /// What it is at now.
    pub at: String,
    /// Share done, 0 to 1.
    pub done: f64,
    /// `running`, `done`, `failed` or `cancelled`.
    pub state: String,
    /// Failures of single inputs, each with what to do; the rest was done.
    pub problems: Vec<String>,
    /// What came of it, in words.
    pub outcome: Option<String>,
}

/// What the event stream says: enough for a page to know whether it is out of date.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct EventForm {
    /// Revision of the open examination; absent where none is open.
    pub revision: Option<i64>,
    /// All work.
    pub jobs: Vec<JobForm>,
}
