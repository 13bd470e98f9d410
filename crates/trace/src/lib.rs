//! From pixels to traces: detection, joining, fitting, uncertainty and confounders.
//!
//! Invariant: knows nothing of files, examinations, finishes or statistics over many traces.

mod types;

pub use types::{Ends, Suspect, Trace};
