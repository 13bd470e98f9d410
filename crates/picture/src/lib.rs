//! Pictures in: decoding, metadata, scale, lens, light, quality and tiles.
//!
//! Invariant: the only crate that decodes picture files; knows nothing of traces, examinations or reports.

mod grey;
mod lens;
mod light;

pub use grey::Grey;
pub use lens::Distortion;
pub use light::Light;
