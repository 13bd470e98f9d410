//! Pictures in: decoding, metadata, scale, lens, light, quality and tiles.
//!
//! Invariant: the only crate that decodes picture files; knows nothing of traces, examinations or reports.

mod blur;
mod decode;
mod encode;
mod error;
mod facts;
mod fft;
mod fingerprint;
mod grey;
pub mod iiif;
mod judge;
mod lens;
mod lens_calibration;
mod light;
mod pyramid;
mod rgb;
mod scale;
mod sniff;

pub use decode::{display, open, read};
pub use error::{EncodeError, PictureError};
pub use facts::{ColourNote, Facts, Format, Limits, Picture};
pub use fingerprint::Fingerprint;
pub use grey::Grey;
pub use judge::{BlockGrid, Motion, Quality, SensorLines, Verdict, judge};
pub use lens::{Distortion, distort, sagitta_share, undistort};
pub use lens_calibration::{DistortionError, distortion_from_graduation};
pub use light::Light;
pub use pyramid::Pyramid;
pub use rgb::Rgb;
pub use scale::{Graduation, GraduationError, PointsError, Tick, find_graduation, scale_from_points};
