//! Flatness: how far a face departs from a plane.

use nalgebra::{Matrix3, SymmetricEigen, Vector3};
use quantity::Measured;

use crate::minimum_zone::{MinimumZone, minimum_zone};
use crate::row::{Row, Rows};
use crate::{MeasureError, Plane};

/// Departures from one plane, in the unit of the points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Zone {
    /// The plane they are measured from, along its normal.
    pub plane: Plane,
    /// Highest above plus deepest below (FLTt).
    pub total: f64,
    /// Highest above (FLTp).
    pub peak: f64,
    /// Deepest below, positive (FLTv).
    pub valley: f64,
    /// Root mean square (FLTq).
    pub rms: f64,
}

/// Flatness of a set of points from both reference planes.
#[derive(Debug, Clone, PartialEq)]
pub struct Flatness {
    /// From the least-squares plane (LSPL), distances along its normal.
    pub least_squares: Zone,
    /// From the minimum-zone plane (MZPL): the closest pair of parallel planes that hold all points.
    pub minimum_zone: MinimumZone,
    /// FLTt from the least-squares plane, with the part of its uncertainty that the points' own adds.
    pub total_ls: Measured,
    /// FLTt of the minimum zone, likewise.
    pub total_mz: Measured,
    /// Unit sign of the points.
    pub unit: &'static str,
    /// Number of points.
    pub count: usize,
}

/// Flatness of points `[x, y, z]`, all in one unit of length named by `unit`.
///
/// `u_point` is the standard uncertainty of one point along the normal, in the same unit, 0 if unknown. It is
/// carried to FLTt at first order; besides, noise always makes FLTt larger than the flatness of the face itself.
///
/// # Errors
/// [`MeasureError::TooFewPoints`] below three points, [`MeasureError::Degenerate`] if all lie on one line or a
/// coordinate is not finite, [`MeasureError::BadSetting`] for a negative or non-finite `u_point`.
///
/// # Source
/// ISO 12781-1 (FLTt, FLTp, FLTv, FLTq; LSPL and MZPL), ISO 1101 (the zone); clauses from memory, source not seen.
/// Checked against `tests/published/flatness.json`.
pub fn flatness(points: &[[f64; 3]], u_point: f64, unit: &'static str) -> Result<Flatness, MeasureError> {
    if !(u_point.is_finite() && u_point >= 0.0) {
        return Err(MeasureError::BadSetting {
            name: "standard uncertainty of a point",
            found: u_point,
            needed: "finite and not negative",
        });
    }
    let plane = orthogonal_plane(points)?;
    let least_squares = zone(points, &plane);
    let minimum_zone = minimum_zone(points, &plane)?;
    // Highest and deepest point each carry u_point.
    let total_ls = Measured { value: least_squares.total, u: u_point * std::f64::consts::SQRT_2 };
    let total_mz = Measured { value: minimum_zone.zone.total, u: u_point * minimum_zone.sensitivity };
    Ok(Flatness { least_squares, minimum_zone, total_ls, total_mz, unit, count: points.len() })
}

/// The plane with the least sum of squared distances along its own normal (LSPL).
///
/// # Errors
/// [`MeasureError::TooFewPoints`] below three points, [`MeasureError::Degenerate`] if all lie on one line or a
/// coordinate is not finite.
pub fn orthogonal_plane(points: &[[f64; 3]]) -> Result<Plane, MeasureError> {
    let (centre, scatter) = centre_and_scatter(points)?;
    let eigen = SymmetricEigen::new(scatter);
    let mut order = [0, 1, 2];
    order.sort_by(|&a, &b| eigen.eigenvalues[a].total_cmp(&eigen.eigenvalues[b]));
    // Points on one line leave a second eigenvalue of rounding size.
    if eigen.eigenvalues[order[1]] <= 1e-24 * eigen.eigenvalues[order[2]] {
        return Err(on_one_line());
    }
    let normal = eigen.eigenvectors.column(order[0]).into_owned();
    let normal = if normal.z < 0.0 { -normal } else { normal };
    Plane::through(centre.into(), normal.into()).ok_or_else(on_one_line)
}

/// The plane `z = c + a·x + b·y` with the least sum of squared vertical distances, as heights are levelled.
///
/// # Errors
/// As [`orthogonal_plane`], and for points above each other on one vertical plane.
pub fn vertical_plane(points: &[[f64; 3]]) -> Result<Plane, MeasureError> {
    let (centre, scatter) = centre_and_scatter(points)?;
    let (xx, xy, yy) = (scatter[(0, 0)], scatter[(0, 1)], scatter[(1, 1)]);
    let (xz, yz) = (scatter[(0, 2)], scatter[(1, 2)]);
    let determinant = xx * yy - xy * xy;
    if determinant <= 1e-24 * (xx + yy) * (xx + yy) {
        return Err(on_one_line());
    }
    let slope_x = (xz * yy - yz * xy) / determinant;
    let slope_y = (yz * xx - xz * xy) / determinant;
    Ok(Plane::from_slopes(slope_x, slope_y, centre.z - slope_x * centre.x - slope_y * centre.y))
}

/// Departures of points from a plane.
#[must_use]
pub fn zone(points: &[[f64; 3]], plane: &Plane) -> Zone {
    let (mut peak, mut valley, mut squares) = (f64::NEG_INFINITY, f64::NEG_INFINITY, 0.0);
    for &point in points {
        let distance = plane.distance(point);
        peak = peak.max(distance);
        valley = valley.max(-distance);
        squares += distance * distance;
    }
    Zone { plane: *plane, total: peak + valley, peak, valley, rms: (squares / points.len() as f64).sqrt() }
}

/// Mean and sums of squares and products about it.
fn centre_and_scatter(points: &[[f64; 3]]) -> Result<(Vector3<f64>, Matrix3<f64>), MeasureError> {
    if points.len() < 3 {
        return Err(MeasureError::TooFewPoints { what: "a plane", found: points.len(), needed: 3 });
    }
    let sum: Vector3<f64> = points.iter().map(|&p| Vector3::from(p)).sum();
    let centre = sum / points.len() as f64;
    let mut scatter = Matrix3::zeros();
    for &point in points {
        let from_centre = Vector3::from(point) - centre;
        scatter += from_centre * from_centre.transpose();
    }
    if !scatter.iter().all(|s| s.is_finite()) {
        return Err(MeasureError::Degenerate {
            what: "a plane",
            fault: "a coordinate is not a finite number",
        });
    }
    Ok((centre, scatter))
}

fn on_one_line() -> MeasureError {
    MeasureError::Degenerate {
        what: "a plane",
        fault: "all points lie on one line; choose points that span a face",
    }
}

impl Rows for Flatness {
    fn rows(&self) -> Vec<Row> {
        let ls = &self.least_squares;
        vec![
            Row::new("Flatness FLTt, minimum zone", self.total_mz, self.unit),
            Row::new("Flatness FLTt, least squares", self.total_ls, self.unit),
            Row::plain("Highest point FLTp, least squares", ls.peak, self.unit),
            Row::plain("Deepest point FLTv, least squares", ls.valley, self.unit),
            Row::plain("Root mean square FLTq, least squares", ls.rms, self.unit),
            Row::plain("Points", self.count as f64, ""),
        ]
    }

    fn notes(&self) -> Vec<String> {
        let mut notes =
            vec!["Single points decide FLTt: dust, a chip or a bad point enlarges it.".to_owned()];
        if self.total_mz.u > 0.0 {
            notes.push("Noise of the points makes FLTt larger than the flatness of the face; the uncertainty does not include that.".to_owned());
        }
        notes
    }
}
