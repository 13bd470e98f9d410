//! The versioned JSON forms of the command line, the API and the disk; the only crate that knows serde.
//!
//! Invariant: forms and their checks only. Nothing is measured, nothing is read from or written to a disk, and no other
//! crate's types carry serde: what others work with is copied into a form here, and back.
//!
//! A released form is never changed; a changed one gets the next number.

pub mod answers;
pub mod desk;
pub mod form;
pub mod kept;
pub mod measure;
pub mod measuring;
pub mod panels;
pub mod plan;
pub mod reading;
pub mod ro_crate;
pub mod stone;
pub mod stones;
mod text;
pub mod truth;
pub mod weigh;

pub use text::{FormError, from_text, to_line, to_text};
