//! Radial lens distortion.

use quantity::Measured;

/// Radial distortion of a lens, first order: a true point at distance `r` from the centre is drawn at
/// `r·(1 + k1·(r/h)²)`, `h` being half the picture's diagonal. `k1` has no unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Distortion {
    /// Coefficient at the corner: positive draws corners outwards (pincushion), negative inwards (barrel).
    pub k1: Measured,
    /// Centre of distortion in pixels; `None` is the picture's centre.
    pub centre_px: Option<[f64; 2]>,
}
