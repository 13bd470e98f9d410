//! Hybrid parameters of ISO 25178-2: slopes and developed area.

use rayon::prelude::*;

use super::pieces::{Pieces, ROWS_TOGETHER, total, whole};
use crate::{HeightMap, MeasureError};

/// Hybrid parameters.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hybrid {
    /// Root mean square slope, no unit.
    pub sdq: f64,
    /// Area of the surface beyond that of its ground plan, percent.
    pub sdr_percent: f64,
}

/// Weights of the 7-point derivative at each place of its stencil, in sixtieths: row `k` is for the point `k` places
/// from the stencil's left end. Exact for polynomials of the sixth degree (Lagrange).
pub(super) const STENCIL: [[f64; 7]; 7] = [
    [-147.0, 360.0, -450.0, 400.0, -225.0, 72.0, -10.0],
    [-10.0, -77.0, 150.0, -100.0, 50.0, -15.0, 2.0],
    [2.0, -24.0, -35.0, 80.0, -30.0, 8.0, -1.0],
    [-1.0, 9.0, -45.0, 0.0, 45.0, -9.0, 1.0],
    [1.0, -8.0, 30.0, -80.0, 35.0, 24.0, -2.0],
    [-2.0, 15.0, -50.0, 100.0, -150.0, 77.0, 10.0],
    [10.0, -72.0, 225.0, -400.0, 450.0, -360.0, 147.0],
];

/// Sdq and Sdr from 7-point derivatives (3-point beside holes; places without either are left out).
///
/// # Errors
/// [`MeasureError::TooFewPoints`] below 7 × 7 heights or if no place has a slope.
///
/// # Source
/// ISO 25178-2:2012, 4.3; formulas from memory, source not seen. Checked in `tests/published/texture.json`.
pub fn hybrid_parameters(map: &HeightMap) -> Result<Hybrid, MeasureError> {
    let (width, height) = (map.width(), map.height());
    let least = width.min(height);
    if least < 7 {
        return Err(MeasureError::TooFewPoints { what: "slopes (heights a side)", found: least, needed: 7 });
    }
    hybrid_of(&whole(&slope_sums(map, &Pieces::whole()))).ok_or(MeasureError::TooFewPoints {
        what: "slopes",
        found: 0,
        needed: 1,
    })
}

/// Sums over one piece of a surface: places with a slope, squared slopes, area beyond the plan.
pub(super) type SlopeSums = [f64; 3];

/// The parameters of some sums; `None` without a single slope.
pub(super) fn hybrid_of(&[count, squares, excess]: &SlopeSums) -> Option<Hybrid> {
    (count > 0.5).then(|| Hybrid { sdq: (squares / count).sqrt(), sdr_percent: 100.0 * excess / count })
}

/// Slopes of a map of at least 7 × 7 heights, summed piece by piece.
pub(super) fn slope_sums(map: &HeightMap, pieces: &Pieces) -> Vec<SlopeSums> {
    let starts: Vec<usize> = (0..map.height()).step_by(ROWS_TOGETHER).collect();
    let lists: Vec<Vec<SlopeSums>> = starts
        .into_par_iter()
        .map(|start| {
            let mut sums = vec![[0.0; 3]; pieces.count()];
            for y in start..(start + ROWS_TOGETHER).min(map.height()) {
                add_row(map, y, pieces, &mut sums);
            }
            sums
        })
        .collect();
    total(lists, pieces.count())
}

fn add_row(map: &HeightMap, y: usize, pieces: &Pieces, sums: &mut [SlopeSums]) {
    let (z, width, height) = (map.z_um(), map.width(), map.height());
    let (per_x, per_y) = (1.0 / (60.0 * map.dx_um()), 1.0 / (60.0 * map.dy_um()));
    let first_row = y.saturating_sub(3).min(height - 7);
    let down = &STENCIL[y - first_row];
    for (x, piece) in pieces.of_row(y, width).enumerate() {
        let at = y * width + x;
        if z[at].is_nan() {
            continue;
        }
        let first_column = x.saturating_sub(3).min(width - 7);
        let along = &STENCIL[x - first_column];
        let (start_x, start_y) = (y * width + first_column, first_row * width + x);
        let (mut zx, mut zy) = (0.0, 0.0);
        for (k, (weight_x, weight_y)) in along.iter().zip(down).enumerate() {
            zx += weight_x * z[start_x + k];
            zy += weight_y * z[start_y + k * width];
        }
        if zx.is_nan() {
            zx = beside_hole(z, at, 1, x, width);
        }
        if zy.is_nan() {
            zy = beside_hole(z, at, width, y, height);
        }
        let squared = (zx * per_x).powi(2) + (zy * per_y).powi(2);
        if !squared.is_nan() {
            // (√(1+s) − 1) without losing the digits of small slopes.
            let excess = squared / ((1.0 + squared).sqrt() + 1.0);
            let [count, squares, excesses] = &mut sums[piece];
            *count += 1.0;
            *squares += squared;
            *excesses += excess;
        }
    }
}

/// Central difference, in the stencil's sixtieths; NaN without both neighbours.
fn beside_hole(z: &[f64], at: usize, stride: usize, place: usize, count: usize) -> f64 {
    if place == 0 || place + 1 == count {
        return f64::NAN;
    }
    30.0 * (z[at + stride] - z[at - stride])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_stencil_is_exact_for_the_sixth_degree() {
        for (place, weights) in STENCIL.iter().enumerate() {
            for power in 0..=6 {
                let sum: f64 = weights.iter().enumerate().map(|(k, w)| w * (k as f64).powi(power)).sum();
                let expected =
                    if power == 0 { 0.0 } else { f64::from(power) * (place as f64).powi(power - 1) };
                assert!((sum / 60.0 - expected).abs() < 1e-8, "place {place}, power {power}");
            }
        }
    }

    #[test]
    fn holes_do_not_change_a_plane() {
        let mut z: Vec<f64> =
            (0..20 * 20).map(|i| f64::from(i % 20) * 0.3 + f64::from(i / 20) * 0.4).collect();
        z[210] = f64::NAN;
        let hybrid = hybrid_parameters(&HeightMap::new(20, 20, 1.0, 1.0, z).unwrap()).unwrap();
        assert!((hybrid.sdq - 0.5).abs() < 1e-12);
    }
}
