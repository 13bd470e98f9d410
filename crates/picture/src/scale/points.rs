//! Scale from two points a known distance apart.

use quantity::{Measured, UmPerPx};

/// Why two points give no scale.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PointsError {
    /// A number is not finite, or a distance or uncertainty is not what it can be.
    #[error(
        "{what} is {found}; give a finite number, above zero for a distance, not below zero for an uncertainty"
    )]
    BadNumber {
        /// Which number.
        what: &'static str,
        /// Its value.
        found: f64,
    },
    /// The points are not farther apart than their own uncertainty allows to tell.
    #[error(
        "the points lie {apart_px:.2} px apart, known to ± {u_px:.2} px: too near for a scale; take points farther apart"
    )]
    TooNear {
        /// Distance on the picture, pixels.
        apart_px: f64,
        /// Its standard uncertainty, pixels.
        u_px: f64,
    },
}

/// Distances below this many of their uncertainties give a scale that is too coarse to use, and not normally distributed (ours).
const LEAST_RATIO: f64 = 10.0;

/// Scale from two points on the picture (pixels) and their distance on the surface.
///
/// `u_point_px` is the standard uncertainty of each coordinate of each point along the line between them, so that of the distance
/// on the picture is √2 as large.
///
/// # Errors
/// [`PointsError`] for numbers out of range or points too near to each other.
///
/// # Source
/// JCGM 100:2008 (GUM) 5.1.2 for a quotient of uncorrelated quantities.
///
/// # Example
/// ```
/// # use picture::scale_from_points;
/// # use quantity::Measured;
/// let scale = scale_from_points([10.0, 10.0], [310.0, 410.0], 0.5, Measured { value: 1000.0, u: 1.0 })?;
/// assert!((scale.value() - 2.0).abs() < 1e-12);
/// # Ok::<(), picture::PointsError>(())
/// ```
pub fn scale_from_points(
    a: [f64; 2],
    b: [f64; 2],
    u_point_px: f64,
    distance_um: Measured,
) -> Result<UmPerPx, PointsError> {
    let coordinates = a.iter().chain(&b);
    for (what, found, low) in coordinates.map(|&value| ("a coordinate", value, f64::NEG_INFINITY)).chain([
        ("the uncertainty of a point", u_point_px, 0.0),
        ("the uncertainty of the distance", distance_um.u, 0.0),
    ]) {
        if !found.is_finite() || found < low {
            return Err(PointsError::BadNumber { what, found });
        }
    }
    if !(distance_um.value.is_finite() && distance_um.value > 0.0) {
        return Err(PointsError::BadNumber { what: "the distance", found: distance_um.value });
    }
    let apart =
        Measured { value: (b[0] - a[0]).hypot(b[1] - a[1]), u: u_point_px * std::f64::consts::SQRT_2 };
    let too_near = PointsError::TooNear { apart_px: apart.value, u_px: apart.u };
    if apart.value <= 0.0 || apart.value < LEAST_RATIO * apart.u {
        return Err(too_near);
    }
    quotient(distance_um, apart).ok_or(too_near)
}

/// Length on the surface over length on the picture, with the relative uncertainties combined.
pub(super) fn quotient(length_um: Measured, length_px: Measured) -> Option<UmPerPx> {
    let value = length_um.value / length_px.value;
    UmPerPx::new(value, value * (length_um.u / length_um.value).hypot(length_px.u / length_px.value))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Case `scale.pixel` of the reference sheet: 1000 ± 0.6 µm over 1234.5 ± 0.35 px.
    #[test]
    fn quotient_of_two_lengths() {
        let (length, u_px) = (Measured { value: 1000.0, u: 0.6 }, 0.35 / std::f64::consts::SQRT_2);
        let scale = scale_from_points([0.0, 7.0], [1234.5, 7.0], u_px, length).unwrap();
        assert!((scale.value() / 0.810_044_552_450_384_8 - 1.0).abs() < 1e-9);
        assert!((scale.u() / 0.000_537_555_410_739_461_2 - 1.0).abs() < 1e-9);
        let measured = scale.micrometres(Measured { value: 250.0, u: 0.4 });
        assert!((measured.value / 202.511_138_112_596_2 - 1.0).abs() < 1e-9);
        assert!((measured.u / 0.350_781_858_194_920_8 - 1.0).abs() < 1e-9);
    }

    #[test]
    fn unusable_points_are_refused() {
        let known = Measured { value: 100.0, u: 0.1 };
        assert!(matches!(
            scale_from_points([1.0, 1.0], [1.0, 1.0], 0.0, known),
            Err(PointsError::TooNear { .. })
        ));
        assert!(matches!(
            scale_from_points([1.0, 1.0], [4.0, 1.0], 0.5, known),
            Err(PointsError::TooNear { .. })
        ));
        for (a, u, distance) in
            [(f64::NAN, 0.5, 1.0), (0.0, -1.0, 1.0), (0.0, 0.5, 0.0), (0.0, 0.5, f64::INFINITY)]
        {
            let result = scale_from_points([a, 0.0], [100.0, 0.0], u, Measured::exact(distance));
            assert!(matches!(result, Err(PointsError::BadNumber { .. })), "{a} {u} {distance}");
        }
    }
}
