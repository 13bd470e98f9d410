//! Summary of angles on the full circle: mean direction, resultant, concentration and the interval of the mean.
//!
//! Axes come here doubled (see `axial`); everything is in radians and weights only count by their ratio.

use std::f64::consts::TAU;

use crate::{Answer, CannotTell, Estimate, bessel, student::Z_95};

/// First and second moments of a sample of angles.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moments {
    /// Number of angles.
    pub count: usize,
    /// Mean direction in `[0, 2π)`. Meaningless where the resultant is zero.
    pub mean_rad: f64,
    /// Mean resultant length in `[0, 1]`.
    pub resultant: f64,
    /// Mean cosine of twice the distance from the mean (second trigonometric moment about the mean).
    pub second_moment: f64,
}

/// Moments of `angles_rad` (any finite values, shape `(n,)`); `None` for no angles or no weight.
///
/// `weights` is empty (all equal) or of shape `(n,)`, not negative.
///
/// # Source
/// Fisher 1993, *Statistical Analysis of Circular Data*, §2–3 (clauses from memory); values checked on his data.
#[must_use]
pub fn moments(angles_rad: &[f64], weights: &[f64]) -> Option<Moments> {
    let weight = |index: usize| weights.get(index).copied().unwrap_or(1.0);
    let (mut cosines, mut sines, mut total) = (0.0, 0.0, 0.0);
    for (index, angle) in angles_rad.iter().enumerate() {
        let (sin, cos) = angle.sin_cos();
        cosines += weight(index) * cos;
        sines += weight(index) * sin;
        total += weight(index);
    }
    if !(total > 0.0 && total.is_finite()) {
        return None;
    }
    let mean_rad = fold(f64::atan2(sines, cosines));
    let second: f64 = angles_rad
        .iter()
        .enumerate()
        .map(|(index, angle)| weight(index) * (2.0 * (angle - mean_rad)).cos())
        .sum();
    Some(Moments {
        count: angles_rad.len(),
        mean_rad,
        resultant: (f64::hypot(cosines, sines) / total).min(1.0),
        second_moment: second / total,
    })
}

impl Moments {
    /// Circular standard deviation, radians: `√(−2 ln R̄)`.
    #[must_use]
    pub fn standard_deviation_rad(&self) -> f64 {
        (-2.0 * self.resultant.ln()).sqrt()
    }

    /// Circular dispersion `(1 − m₂)/(2R̄²)`.
    #[must_use]
    pub fn dispersion(&self) -> f64 {
        (1.0 - self.second_moment) / (2.0 * self.resultant * self.resultant)
    }

    /// Maximum-likelihood concentration of a von Mises law.
    #[must_use]
    pub fn kappa(&self) -> f64 {
        bessel::kappa_for(self.resultant)
    }

    /// Mean direction with its 95 % interval from the circular dispersion, radians. Right for any law with a clear mean,
    /// for some 25 angles and more; not for multimodal samples.
    ///
    /// # Errors
    /// Too few angles, or a mean too vague for an interval (half-width beyond a quarter turn).
    ///
    /// # Source
    /// Fisher 1993, p. 78: half-width `asin(1.96·√(δ̂/n))`; checked on his interval.
    pub fn mean_interval(&self) -> Answer<Estimate> {
        if self.count < 3 {
            return Err(CannotTell::TooFew { what: "directions", found: self.count, needed: 3 });
        }
        let u = (self.dispersion() / self.count as f64).sqrt();
        let sine = Z_95 * u;
        if sine.is_nan() || sine >= 1.0 {
            return Err(CannotTell::NoPreferredDirection { count: self.count });
        }
        let half = sine.asin();
        Ok(Estimate { value: self.mean_rad, u, low: self.mean_rad - half, high: self.mean_rad + half })
    }
}

/// Folds an angle into `[0, 2π)`.
pub(crate) fn fold(angle_rad: f64) -> f64 {
    let folded = angle_rad.rem_euclid(TAU);
    // `rem_euclid` of a tiny negative angle may round up to 2π itself.
    if folded < TAU { folded } else { 0.0 }
}
