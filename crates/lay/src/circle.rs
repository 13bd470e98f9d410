//! Circles through points: four ways of fitting, from the simplest to the best.
//!
//! On short arcs the simplest (Kåsa) comes out too small; Pratt's and Taubin's hardly do; the geometric one minimises what
//! is meant, the distances to the circle.

use nalgebra::{DMatrix, Matrix3, Vector3};

/// A fitted circle, in the unit of the points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Circle {
    /// Centre, x.
    pub x: f64,
    /// Centre, y.
    pub y: f64,
    /// Radius.
    pub radius: f64,
}

/// Points a circle needs.
const POINTS_NEEDED: usize = 3;
/// Steps of the geometric fit; from Taubin's circle it takes under twenty.
const GEOMETRIC_STEPS: usize = 200;

impl Circle {
    /// Sum of the squared distances of `points` to the circle.
    #[must_use]
    pub fn squared_distances(&self, points: &[[f64; 2]]) -> f64 {
        points.iter().map(|[x, y]| (f64::hypot(x - self.x, y - self.y) - self.radius).powi(2)).sum()
    }
}

/// Least squares of `x² + y² − 2ax − 2by − c`. `None` for fewer than three points or points on a line.
///
/// # Source
/// Kåsa 1976 (from memory, source not seen); values of the reference sheet §3.
#[must_use]
pub fn kasa(points: &[[f64; 2]]) -> Option<Circle> {
    let centred = Centred::new(points)?;
    let mut normal = Matrix3::zeros();
    let mut right = Vector3::zeros();
    for &[x, y, z] in &centred.points {
        let row = Vector3::new(x, y, 1.0);
        normal += row * row.transpose();
        right += row * z;
    }
    let solved = normal.try_inverse()? * right;
    centred.circle([1.0, -solved[0], -solved[1], -solved[2]])
}

/// Algebraic fit with `B² + C² − 4AD = 1` for `A(x² + y²) + Bx + Cy + D`.
///
/// # Source
/// Pratt 1987 (from memory, source not seen); values of the reference sheet §3.
#[must_use]
pub fn pratt(points: &[[f64; 2]]) -> Option<Circle> {
    // Constraint matrix of B² + C² − 4AD.
    algebraic(points, |_| {
        [[0.0, 0.0, 0.0, -2.0], [0.0, 1.0, 0.0, 0.0], [0.0, 0.0, 1.0, 0.0], [-2.0, 0.0, 0.0, 0.0]]
    })
}

/// Algebraic fit weighted by the mean squared gradient.
///
/// # Source
/// Taubin 1991 (from memory, source not seen); values of the reference sheet §3.
#[must_use]
pub fn taubin(points: &[[f64; 2]]) -> Option<Circle> {
    algebraic(points, |[x, y, z]| {
        [[4.0 * z, 2.0 * x, 2.0 * y, 0.0], [2.0 * x, 1.0, 0.0, 0.0], [2.0 * y, 0.0, 1.0, 0.0], [0.0; 4]]
    })
}

/// Algebraic fit with `A² + B² + C² + D² = 1` in the coordinates given: depends on where the origin is, for comparison only.
///
/// # Source
/// Gander, Golub & Strebel 1994 (figures from memory); values of the reference sheet §3.
#[must_use]
pub fn unit_norm(points: &[[f64; 2]]) -> Option<Circle> {
    let count = points.len();
    if count < POINTS_NEEDED {
        return None;
    }
    let rows: Vec<f64> = points.iter().flat_map(|[x, y]| [x * x + y * y, *x, *y, 1.0]).collect();
    let design = DMatrix::from_row_slice(count, 4, &rows);
    let decomposed = (design.transpose() * design).symmetric_eigen();
    let least = decomposed.eigenvalues.imin();
    let v = decomposed.eigenvectors.column(least);
    from_coefficients([v[0], v[1], v[2], v[3]])
}

/// Least squares of the distances to the circle (Levenberg–Marquardt from Taubin's circle).
///
/// # Source
/// Gander, Golub & Strebel 1994 (figures from memory); values of the reference sheet §3.
#[must_use]
pub fn geometric(points: &[[f64; 2]]) -> Option<Circle> {
    let mut circle = taubin(points)?;
    let mut damping = 1e-3;
    let mut sum = circle.squared_distances(points);
    for _ in 0..GEOMETRIC_STEPS {
        let mut normal = Matrix3::zeros();
        let mut right = Vector3::zeros();
        for [x, y] in points {
            let (dx, dy) = (circle.x - x, circle.y - y);
            let distance = f64::hypot(dx, dy).max(f64::MIN_POSITIVE);
            let row = Vector3::new(dx / distance, dy / distance, -1.0);
            normal += row * row.transpose();
            right -= row * (distance - circle.radius);
        }
        for diagonal in 0..3 {
            normal[(diagonal, diagonal)] *= 1.0 + damping;
        }
        let step = normal.try_inverse()? * right;
        let next = Circle { x: circle.x + step[0], y: circle.y + step[1], radius: circle.radius + step[2] };
        let next_sum = next.squared_distances(points);
        if next_sum <= sum {
            let settled = step.norm() <= 1e-12 * circle.radius.abs();
            (circle, sum, damping) = (next, next_sum, damping * 0.1);
            if settled {
                break;
            }
        } else {
            damping *= 10.0;
            if damping > 1e12 {
                break;
            }
        }
    }
    (circle.radius.is_finite() && circle.radius > 0.0).then_some(circle)
}

/// Points about their mean, so that nothing cancels far from the origin: `[x, y, x² + y²]`.
struct Centred {
    points: Vec<[f64; 3]>,
    middle: [f64; 2],
}

impl Centred {
    fn new(points: &[[f64; 2]]) -> Option<Self> {
        if points.len() < POINTS_NEEDED {
            return None;
        }
        let count = points.len() as f64;
        let middle = [0, 1].map(|axis| points.iter().map(|point| point[axis]).sum::<f64>() / count);
        let shifted = |[x, y]: &[f64; 2]| {
            let (x, y) = (x - middle[0], y - middle[1]);
            [x, y, x * x + y * y]
        };
        Some(Self { points: points.iter().map(shifted).collect(), middle })
    }

    fn circle(&self, coefficients: [f64; 4]) -> Option<Circle> {
        let circle = from_coefficients(coefficients)?;
        Some(Circle { x: circle.x + self.middle[0], y: circle.y + self.middle[1], ..circle })
    }
}

/// The coefficients `v` with `Mv = ηNv` for the smallest positive `η`, `M` the moments and `N` the constraint.
fn algebraic(points: &[[f64; 2]], constraint: impl Fn([f64; 3]) -> [[f64; 4]; 4]) -> Option<Circle> {
    let centred = Centred::new(points)?;
    let count = points.len() as f64;
    let scale = (centred.points.iter().map(|point| point[2]).sum::<f64>() / count).sqrt();
    if scale.is_nan() || scale <= 0.0 {
        return None;
    }
    let mut moments = nalgebra::Matrix4::zeros();
    let mut means = [0.0; 3];
    for &[x, y, z] in &centred.points {
        let row = nalgebra::Vector4::new(z / (scale * scale), x / scale, y / scale, 1.0);
        moments += row * row.transpose() / count;
        means[0] += x / (scale * count);
        means[1] += y / (scale * count);
        means[2] += z / (scale * scale * count);
    }
    let rows = constraint(means);
    let bound = nalgebra::Matrix4::from_fn(|row, column| rows[row][column]);
    let v = smallest_pair(&moments, &bound)?;
    let (a, b, c, d) = (v[0] / (scale * scale), v[1] / scale, v[2] / scale, v[3]);
    centred.circle([a, b, c, d])
}

/// Inverse iteration would stall on points that lie on a circle exactly (singular moments), so the moments' square root is
/// taken by eigenvectors and the pair read off a symmetric problem.
fn smallest_pair(
    moments: &nalgebra::Matrix4<f64>,
    bound: &nalgebra::Matrix4<f64>,
) -> Option<nalgebra::Vector4<f64>> {
    let decomposed = moments.symmetric_eigen();
    let largest = decomposed.eigenvalues.max();
    // The floor lets exact circles through; it moves the fit by far less than rounding of the points does.
    let roots = decomposed.eigenvalues.map(|value| 1.0 / value.max(1e-15 * largest).sqrt());
    let root = decomposed.eigenvectors
        * nalgebra::Matrix4::from_diagonal(&roots)
        * decomposed.eigenvectors.transpose();
    // Mv = ηNv with v = M^(−½)w becomes M^(−½)NM^(−½)w = w/η: the largest eigenvalue gives the smallest η.
    let reduced = root * bound * root;
    let pairs = (0.5 * (reduced + reduced.transpose())).symmetric_eigen();
    let best = pairs.eigenvalues.imax();
    let v = root * pairs.eigenvectors.column(best);
    v.iter().all(|value| value.is_finite()).then_some(v)
}

fn from_coefficients([a, b, c, d]: [f64; 4]) -> Option<Circle> {
    let (x, y) = (-b / (2.0 * a), -c / (2.0 * a));
    let squared = x * x + y * y - d / a;
    (squared.is_finite() && squared > 0.0).then(|| Circle { x, y, radius: squared.sqrt() })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_circles_and_lines() {
        let on: Vec<[f64; 2]> = (0..9)
            .map(|i| 0.1 * f64::from(i))
            .map(|t| [1e4 + 20.0 * t.cos(), -3e3 + 20.0 * t.sin()])
            .collect();
        for fit in [kasa, pratt, taubin, geometric] {
            let circle = fit(&on).unwrap();
            assert!((circle.radius - 20.0).abs() < 1e-5, "{circle:?}");
        }
        let line: Vec<[f64; 2]> = (0..9).map(|i| [f64::from(i), 0.0]).collect();
        for fit in [kasa, pratt, taubin, geometric] {
            assert!(fit(&line).is_none_or(|circle| circle.radius > 1e5), "a line has no radius");
            assert!(fit(&line[..2]).is_none());
        }
    }
}
