//! Undirected directions.

/// An axis: a direction without head or tail, in degrees, always in `[0, 180)`.
///
/// 0° runs along +x of the picture, 90° upwards as seen (towards −y), counter-clockwise as seen.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct AxialDeg(f64);

impl AxialDeg {
    /// Folds any finite angle in degrees into `[0, 180)`; `None` if it is not finite.
    #[must_use]
    pub fn new(angle_deg: f64) -> Option<Self> {
        if !angle_deg.is_finite() {
            return None;
        }
        let folded = angle_deg.rem_euclid(180.0);
        // `rem_euclid` of a tiny negative angle may round up to 180 itself.
        Some(Self(if folded < 180.0 { folded } else { 0.0 }))
    }

    /// The axis of a step `(dx_px, dy_px)` in pixel coordinates (y down); `None` for a step of no or non-finite length.
    #[must_use]
    pub fn from_pixel_step(dx_px: f64, dy_px: f64) -> Option<Self> {
        if dx_px == 0.0 && dy_px == 0.0 {
            return None;
        }
        Self::new((-dy_px).atan2(dx_px).to_degrees())
    }

    /// Degrees in `[0, 180)`.
    #[must_use]
    pub fn degrees(self) -> f64 {
        self.0
    }

    /// Unit step along the axis in pixel coordinates `(dx_px, dy_px)`, y down.
    #[must_use]
    pub fn pixel_step(self) -> (f64, f64) {
        let (sin, cos) = self.0.to_radians().sin_cos();
        (cos, -sin)
    }

    /// Smallest angle between two axes, degrees in `[0, 90]`.
    ///
    /// # Example
    /// ```
    /// # use quantity::AxialDeg;
    /// let near_zero = AxialDeg::new(1.0).zip(AxialDeg::new(179.0)).map(|(a, b)| a.angle_to(b));
    /// assert_eq!(near_zero, Some(2.0));
    /// ```
    #[must_use]
    pub fn angle_to(self, other: Self) -> f64 {
        let apart = (self.0 - other.0).abs();
        apart.min(180.0 - apart)
    }

    /// Signed turn from `self` to `other`, degrees in `[-90, 90)`, positive counter-clockwise as seen.
    #[must_use]
    pub fn turn_to(self, other: Self) -> f64 {
        (other.0 - self.0 + 90.0).rem_euclid(180.0) - 90.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pixel_steps_are_seen_counter_clockwise() {
        let cases = [
            ((1.0, 0.0), 0.0),
            ((0.0, -1.0), 90.0),
            ((1.0, -1.0), 45.0),
            ((1.0, 1.0), 135.0),
            ((-1.0, 0.0), 0.0),
        ];
        for ((dx, dy), expected) in cases {
            assert_eq!(AxialDeg::from_pixel_step(dx, dy).unwrap().degrees(), expected, "step {dx},{dy}");
        }
        assert!(AxialDeg::from_pixel_step(0.0, 0.0).is_none());
        assert!(AxialDeg::from_pixel_step(f64::NAN, 0.0).is_none());
    }

    /// Case `circ.axial_difference` of the reference sheet (identity).
    #[test]
    fn difference_of_axes() {
        for (a, b, expected) in [
            (1.0, 179.0, 2.0),
            (10.0, 100.0, 90.0),
            (170.0, 20.0, 30.0),
            (350.0, 5.0, 15.0),
            (90.0, 270.0, 0.0),
        ] {
            let apart = AxialDeg::new(a).unwrap().angle_to(AxialDeg::new(b).unwrap());
            assert!((apart - expected).abs() < 1e-12, "{a} and {b}: {apart}");
        }
    }

    #[test]
    fn folding_keeps_the_half_open_range() {
        for angle in [-1e-18, -180.0, 180.0, 360.0, 179.999_999, 1e9] {
            let folded = AxialDeg::new(angle).unwrap().degrees();
            assert!((0.0..180.0).contains(&folded), "{angle} became {folded}");
        }
    }

    #[test]
    fn step_and_axis_are_inverse() {
        for deg in [0.0, 12.5, 89.0, 90.0, 133.0, 179.0] {
            let axis = AxialDeg::new(deg).unwrap();
            let (dx, dy) = axis.pixel_step();
            assert!(AxialDeg::from_pixel_step(dx, dy).unwrap().angle_to(axis) < 1e-9);
        }
    }
}
