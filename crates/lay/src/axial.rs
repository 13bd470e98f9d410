//! Directions of undirected lines: every angle is doubled, treated on the full circle and halved back.

use quantity::AxialDeg;

use crate::circular::{self, Moments};
use crate::{Answer, CannotTell, Estimate};

/// Doubled angles in radians: what the functions of [`crate::circular`] and [`crate::uniform`] take.
#[must_use]
pub fn doubled_rad(axes: &[AxialDeg]) -> Vec<f64> {
    axes.iter().map(|axis| 2.0 * axis.degrees().to_radians()).collect()
}

/// Halves a doubled angle back to an axis; `None` only for what is not a number.
pub(crate) fn halved(doubled_rad: f64) -> Option<AxialDeg> {
    AxialDeg::new(0.5 * doubled_rad.to_degrees())
}

/// Moments of axes on the doubled circle; see [`circular::moments`] for `weights`.
#[must_use]
pub fn moments(axes: &[AxialDeg], weights: &[f64]) -> Option<Moments> {
    circular::moments(&doubled_rad(axes), weights)
}

/// Mean axis of undirected lines; `None` for none, or where they cancel exactly.
///
/// # Example
/// ```
/// # use quantity::AxialDeg;
/// let axes: Vec<AxialDeg> = [1.0, 179.0].into_iter().filter_map(AxialDeg::new).collect();
/// let mean = lay::axial::mean(&axes, &[]);
/// assert!(mean.is_some_and(|axis| axis.angle_to(axes[0]) < 1.0 + 1e-9)); // 0°, not 90°
/// ```
#[must_use]
pub fn mean(axes: &[AxialDeg], weights: &[f64]) -> Option<AxialDeg> {
    let moments = moments(axes, weights)?;
    if moments.resultant < 1e-12 {
        return None;
    }
    halved(moments.mean_rad)
}

/// Mean axis with its 95 % interval in degrees, from the circular dispersion of the doubled angles.
///
/// # Errors
/// As [`Moments::mean_interval`].
///
/// # Source
/// Fisher 1993, p. 78, on doubled angles.
pub fn mean_interval(axes: &[AxialDeg]) -> Answer<Estimate> {
    let moments = moments(axes, &[]).ok_or(CannotTell::TooFew { what: "directions", found: 0, needed: 3 })?;
    Ok(moments.mean_interval()?.scaled(0.5_f64.to_degrees()))
}
