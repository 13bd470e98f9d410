//! A circle through points of a section, by least geometric distance.

use nalgebra::{DMatrix, DVector, Matrix3, Vector3};

/// A circle in a plane; the unit is that of the points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Circle {
    /// Centre.
    pub centre: [f64; 2],
    /// Radius.
    pub radius: f64,
    /// Root mean square of the distances of the points from it.
    pub rms: f64,
}

/// The circle with the least sum of squared distances to the points; `None` for fewer than three points or points
/// along a line.
///
/// # Source
/// Start by the algebraic fit of Kåsa, then Gauss–Newton on Σ(rᵢ − R)². Checked against the values printed by Gander,
/// Golub and Strebel (1994) below.
#[must_use]
pub fn fit_circle(points: &[[f64; 2]]) -> Option<Circle> {
    if points.len() < 3 {
        return None;
    }
    let count = points.len() as f64;
    let sum = points.iter().fold([0.0; 2], |s, p| [s[0] + p[0], s[1] + p[1]]);
    let middle = sum.map(|s| s / count);
    let local: Vec<[f64; 2]> = points.iter().map(|p| [p[0] - middle[0], p[1] - middle[1]]).collect();
    let (mut centre, mut radius) = algebraic(&local)?;
    for _ in 0..100 {
        let (mut matrix, mut right) = (Matrix3::zeros(), Vector3::zeros());
        for point in &local {
            let (row, residual) = derivatives(*point, centre, radius)?;
            matrix += row * row.transpose();
            right += row * residual;
        }
        let change = matrix.try_inverse()? * right;
        centre = [centre[0] - change[0], centre[1] - change[1]];
        radius -= change[2];
        if change.norm() <= 1e-13 * radius.abs() {
            break;
        }
    }
    let squares: f64 =
        local.iter().map(|p| ((p[0] - centre[0]).hypot(p[1] - centre[1]) - radius).powi(2)).sum();
    let usable = radius.is_finite() && radius > 0.0 && centre.iter().all(|c| c.is_finite());
    let centre = [centre[0] + middle[0], centre[1] + middle[1]];
    usable.then_some(Circle { centre, radius, rms: (squares / count).sqrt() })
}

/// Distance residual and its derivatives by centre and radius.
fn derivatives(point: [f64; 2], centre: [f64; 2], radius: f64) -> Option<(Vector3<f64>, f64)> {
    let (dx, dy) = (point[0] - centre[0], point[1] - centre[1]);
    let distance = dx.hypot(dy);
    (distance > 0.0).then(|| (Vector3::new(-dx / distance, -dy / distance, -1.0), distance - radius))
}

fn algebraic(points: &[[f64; 2]]) -> Option<([f64; 2], f64)> {
    let (mut matrix, mut right) = (Matrix3::zeros(), Vector3::zeros());
    for [x, y] in points {
        let row = Vector3::new(2.0 * x, 2.0 * y, 1.0);
        matrix += row * row.transpose();
        right += row * (x * x + y * y);
    }
    // Points along a line leave the matrix without rank.
    let scale = matrix[(0, 0)] + matrix[(1, 1)];
    let flat = (matrix[(0, 0)] * matrix[(1, 1)] - matrix[(0, 1)] * matrix[(0, 1)]).abs();
    if flat <= 1e-18 * scale * scale {
        return None;
    }
    let solution = matrix.try_inverse()? * right;
    let squared = solution[2] + solution[0] * solution[0] + solution[1] * solution[1];
    (squared > 0.0).then(|| ([solution[0], solution[1]], squared.sqrt()))
}

/// Standard uncertainty of the fitted radius when the errors of the points are `sources · e` with independent `e` of
/// one standard deviation; that deviation is taken from the residuals. `None` if the points do not suffice.
///
/// Points of a section share the corners of the mesh they lie between, so their errors are not independent; the rows
/// of `sources` say how much of which corner each point carries.
pub(crate) fn radius_u(points: &[[f64; 2]], circle: &Circle, sources: &DMatrix<f64>) -> Option<f64> {
    let count = points.len();
    if count < 4 || sources.nrows() != count {
        return None;
    }
    let mut jacobian = DMatrix::zeros(count, 3);
    let mut residuals = DVector::zeros(count);
    for (k, &point) in points.iter().enumerate() {
        let (row, residual) = derivatives(point, circle.centre, circle.radius)?;
        jacobian.set_row(k, &row.transpose());
        residuals[k] = residual;
    }
    let inverse = (jacobian.transpose() * &jacobian).try_inverse()?;
    let fit = &inverse * jacobian.transpose();
    let left_over = sources - &jacobian * (&fit * sources);
    let freedom = left_over.norm_squared();
    if freedom <= 0.0 {
        return None;
    }
    let variance = residuals.norm_squared() / freedom;
    let radius_row = fit.row(2) * sources;
    Some((variance * radius_row.norm_squared()).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Points and values of Gander, Golub & Strebel, BIT 34 (1994), as in the reference sheet (`fit.circle_gander1994`).
    #[test]
    fn geometric_circle_of_gander_golub_strebel() {
        let points = [[1.0, 7.0], [2.0, 6.0], [5.0, 8.0], [7.0, 7.0], [9.0, 5.0], [3.0, 7.0]];
        let circle = fit_circle(&points).unwrap();
        assert!((circle.centre[0] - 4.739_782).abs() < 1e-6, "{circle:?}");
        assert!((circle.centre[1] - 2.983_533).abs() < 1e-6, "{circle:?}");
        assert!((circle.radius - 4.714_226).abs() < 1e-6, "{circle:?}");
        assert!((6.0 * circle.rms * circle.rms - 1.227_599_1).abs() < 1e-6);
    }

    #[test]
    fn lines_and_pairs_have_no_circle() {
        assert!(fit_circle(&[[0.0, 0.0], [1.0, 1.0]]).is_none());
        assert!(fit_circle(&[[0.0, 0.0], [1.0, 1.0], [2.0, 2.0], [3.0, 3.0]]).is_none());
    }
}
