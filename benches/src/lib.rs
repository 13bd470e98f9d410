//! Rendered picture sets with their truth, and the scores of what is measured on them.
//!
//! Invariant: sees every crate and is seen by none; measures no picture itself.

pub mod sets;
pub mod traces;
