//! The scale of a picture: from a photographed graduation, or from two points and their distance.

mod graduation;
mod points;

pub use graduation::{Graduation, GraduationError, Tick, find_graduation};
pub use points::{PointsError, scale_from_points};
