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

/// Largest amount of `k1` that is taken seriously: beyond −1/3 the model folds the picture over (its derivative 1 + 3·k1 reaches zero at the
/// corner); the positive side is bounded alike.
const LARGEST_K1: f64 = 0.33;
/// Steps of Newton's method; it converges quadratically and needs at most six to 1e-12 within the bounds (tested).
const NEWTON_STEPS: usize = 12;

impl Distortion {
    /// Sagitta, as a share of the picture's width, that the uncertainty of `k1` leaves on a straight line along the picture's
    /// long edge, at the worst: the residual bow that no measurement on this picture can do without.
    ///
    /// A line at height `y` from the centre is drawn with the bow `k1·y·(W/2)²/h²`; the largest `y` is `H/2`.
    ///
    /// # Source
    /// Ours, from the model above: r² = x² + y² moves the line by k1·y·(x² + y²)/h², of which only x² bends it.
    #[must_use]
    pub fn residual_sagitta_share(&self, width_px: f64, height_px: f64) -> f64 {
        sagitta_share(self.k1.u, width_px, height_px)
    }

    fn centre(&self, width_px: f64, height_px: f64) -> [f64; 2] {
        // The middle of the outermost pixel centres.
        self.centre_px.unwrap_or([(width_px - 1.0) / 2.0, (height_px - 1.0) / 2.0])
    }
}

/// Sagitta, as a share of the width, of a straight line along the long edge of a picture with distortion `k1`.
#[must_use]
pub fn sagitta_share(k1: f64, width_px: f64, height_px: f64) -> f64 {
    let (long, short) = (width_px.max(height_px), width_px.min(height_px));
    let half_diagonal_squared = (long * long + short * short) / 4.0;
    if !(half_diagonal_squared > 0.0 && width_px > 0.0) {
        return 0.0;
    }
    k1.abs() * (short / 2.0) * (long / 2.0).powi(2) / half_diagonal_squared / width_px
}

/// Where a straight lens would have drawn the point that this lens drew at `point` (pixels), on a picture of `width_px × height_px`.
///
/// # Source
/// The model of [`Distortion`], inverted by Newton's method on the radius.
#[must_use]
pub fn undistort(point: [f64; 2], distortion: &Distortion, width_px: f64, height_px: f64) -> [f64; 2] {
    along_radius(point, distortion, width_px, height_px, |drawn, k1| {
        let mut radius = drawn;
        for _ in 0..NEWTON_STEPS {
            let error = radius * (1.0 + k1 * radius * radius) - drawn;
            radius -= error / (1.0 + 3.0 * k1 * radius * radius).max(0.01);
        }
        radius
    })
}

/// Where this lens draws the point that a straight lens would draw at `point` (pixels), on a picture of `width_px × height_px`.
///
/// # Source
/// The model of [`Distortion`].
#[must_use]
pub fn distort(point: [f64; 2], distortion: &Distortion, width_px: f64, height_px: f64) -> [f64; 2] {
    along_radius(point, distortion, width_px, height_px, |radius, k1| radius * (1.0 + k1 * radius * radius))
}

/// Moves a point along its radius by a rule on radii in units of half the diagonal.
fn along_radius(
    [x, y]: [f64; 2],
    distortion: &Distortion,
    width_px: f64,
    height_px: f64,
    rule: impl Fn(f64, f64) -> f64,
) -> [f64; 2] {
    let half_diagonal = width_px.hypot(height_px) / 2.0;
    let [cx, cy] = distortion.centre(width_px, height_px);
    let radius = (x - cx).hypot(y - cy) / half_diagonal;
    if !(radius > 0.0 && radius.is_finite()) {
        return [x, y];
    }
    let k1 = distortion.k1.value.clamp(-LARGEST_K1, LARGEST_K1);
    let factor = rule(radius, k1) / radius;
    [cx + (x - cx) * factor, cy + (y - cy) * factor]
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn lens(k1: f64) -> Distortion {
        Distortion { k1: Measured { value: k1, u: 0.0 }, centre_px: None }
    }

    /// By hand from the model: on 801 × 601 pixels the corner (0, 0) lies 500 px from the centre.
    #[test]
    fn pincushion_draws_the_corner_outwards() {
        let drawn = distort([0.0, 0.0], &lens(0.02), 801.0, 601.0);
        let half_diagonal: f64 = 801f64.hypot(601.0) / 2.0;
        let factor = 0.02 * (500.0 / half_diagonal).powi(2);
        assert!(
            (drawn[0] + 400.0 * factor).abs() < 1e-9 && (drawn[1] + 300.0 * factor).abs() < 1e-9,
            "{drawn:?}"
        );
    }

    /// Sagitta of the upper edge of a 4:3 picture, from three distorted points.
    #[test]
    fn sagitta_share_matches_points_moved() {
        let (w, h) = (1600.0, 1200.0);
        let k1 = 0.01;
        let moved = |x: f64| distort([x, -0.5], &lens(k1), w, h);
        let (left, middle, right) = (moved(-0.5), moved(799.5), moved(1599.5));
        let bow = (left[1] + right[1]) / 2.0 - middle[1];
        assert!((bow.abs() / w - sagitta_share(k1, w, h)).abs() < 1e-9, "{bow}");
    }

    proptest! {
        #[test]
        fn undistorting_inverts_distorting(k1 in -0.3..0.3f64, x in 0.0..1600.0f64, y in 0.0..1200.0f64) {
            let there = distort([x, y], &lens(k1), 1600.0, 1200.0);
            let back = undistort(there, &lens(k1), 1600.0, 1200.0);
            prop_assert!((back[0] - x).hypot(back[1] - y) < 1e-6, "{back:?}");
        }
    }
}
