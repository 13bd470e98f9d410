//! From pixels to traces: detection, joining, fitting, uncertainty and confounders.
//!
//! Invariant: knows nothing of files, examinations, finishes or statistics over many traces.

mod background;
mod classifier_table;
mod classify;
mod course;
mod decoys;
mod duplicates;
mod error;
mod features;
mod find;
mod fit;
mod flanks;
mod found;
mod joining;
mod lattice;
mod level;
mod light;
mod plane;
mod recentre;
mod refit;
mod section;
mod splitting;
mod suspects;
mod template;
mod tracking;
pub mod training;
mod types;

pub use error::TraceError;
pub use find::{LEAST_SIDE_PX, find};
pub use found::{Found, HiddenSector, Settings};
pub use refit::refit;
pub use types::{Ends, Suspect, Trace};
