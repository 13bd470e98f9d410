//! Forward models of finishes: paths on the surface, and micrographs rendered from them with their truth.
//!
//! Invariant: never measures; knows nothing of traces, examinations or reports.

pub mod models;
pub mod render;
pub mod sample;
