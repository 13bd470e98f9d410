//! Statistics of directions, lengths, spacings and widths: numbers in, numbers out.
//!
//! Invariant: knows nothing of pictures, files or finishes; every random draw takes its seed from the caller.

mod agreement;
mod answer;
pub mod axial;
pub mod bessel;
pub mod circle;
pub mod circular;
pub mod cluster;
pub mod compare;
pub mod curvature;
mod describe;
mod field;
mod influence;
pub mod mixture;
mod patches;
mod permutation;
pub mod sets;
pub mod spacing;
pub mod stroke;
mod student;
pub mod survival;
pub mod two_sample;
pub mod uniform;
pub mod width;
pub mod window;

pub use agreement::{Agreement, AgreementOptions, agreement};
pub use answer::{Answer, CannotTell, Estimate};
pub use compare::{CompareOptions, Comparison, Difference, Quantity, compare_stations};
pub use describe::{DescribeOptions, Description, Spacing, Weighting, describe};
pub use field::{Field, Item, Unit};
pub use student::{coverage_factor_95, effective_degrees};
