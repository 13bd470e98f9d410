//! Taking the form out of a height map.

use nalgebra::{SMatrix, SVector};
use rayon::prelude::*;

use crate::{HeightMap, MeasureError};

/// Form to take out by least squares of vertical distances.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// Only the mean height.
    Mean,
    /// The mean plane.
    Plane,
    /// The second-order surface (dome, saddle or cylinder, and tilt).
    Parabola,
}

/// Powers of x and y in the terms of a form, lowest first.
const TERMS: [(usize, i32); 6] = [(0, 0), (1, 0), (0, 1), (2, 0), (1, 1), (0, 2)];

/// Sums over the measured heights of one row: powers of x from 0 to 4, and heights times powers of x from 0 to 2. A row
/// has one y, so that the equations of a form follow from these.
struct RowSums {
    places: [f64; 5],
    heights: [f64; 3],
}

impl RowSums {
    fn of(row: &[f64], columns: &[f64]) -> Self {
        let mut sums = Self { places: [0.0; 5], heights: [0.0; 3] };
        for (&z, &x) in row.iter().zip(columns).filter(|(z, _)| !z.is_nan()) {
            let x2 = x * x;
            for (sum, power) in sums.places.iter_mut().zip([1.0, x, x2, x2 * x, x2 * x2]) {
                *sum += power;
            }
            for (sum, power) in sums.heights.iter_mut().zip([1.0, x, x2]) {
                *sum += z * power;
            }
        }
        sums
    }
}

/// The map without its form. Heights that were not measured stay so.
///
/// # Errors
/// [`MeasureError::TooFewPoints`] with fewer measured heights than the form has coefficients,
/// [`MeasureError::Degenerate`] if they lie along a line.
pub fn level(map: &HeightMap, form: Form) -> Result<HeightMap, MeasureError> {
    let terms = match form {
        Form::Mean => 1,
        Form::Plane => 3,
        Form::Parabola => 6,
    };
    let found = map.measured();
    if found < terms {
        return Err(MeasureError::TooFewPoints { what: "levelling", found, needed: terms });
    }
    // Coordinates from −1 to 1 keep the equations well conditioned.
    let centred = |k: usize, count: usize| {
        if count > 1 { 2.0 * k as f64 / (count - 1) as f64 - 1.0 } else { 0.0 }
    };
    let columns: Vec<f64> = (0..map.width()).map(|x| centred(x, map.width())).collect();
    let rows: Vec<RowSums> =
        (0..map.height()).into_par_iter().map(|y| RowSums::of(map.row(y), &columns)).collect();
    let (mut matrix, mut right) = (SMatrix::<f64, 6, 6>::zeros(), SVector::<f64, 6>::zeros());
    for (y, row) in rows.iter().enumerate() {
        let y = centred(y, map.height());
        for (i, (xi, yi)) in TERMS.into_iter().enumerate().take(terms) {
            right[i] += row.heights[xi] * y.powi(yi);
            for (j, (xj, yj)) in TERMS.into_iter().enumerate().take(terms) {
                matrix[(i, j)] += row.places[xi + xj] * y.powi(yi + yj);
            }
        }
    }
    for unused in terms..6 {
        matrix[(unused, unused)] = 1.0;
    }
    let fault =
        MeasureError::Degenerate { what: "levelling", fault: "the measured heights lie along a line" };
    let inverse =
        matrix.try_inverse().filter(|inverse| inverse.iter().all(|v| v.is_finite())).ok_or(fault)?;
    let coefficients = inverse * right;
    let mut z_um = map.z_um().to_vec();
    z_um.par_chunks_mut(map.width()).enumerate().for_each(|(y, row)| {
        let y = centred(y, map.height());
        let [c0, c1, c2] = [0, 1, 2].map(|power| {
            let of_power = TERMS.iter().zip(coefficients.iter()).filter(|((x, _), _)| *x == power);
            of_power.map(|((_, yi), c)| c * y.powi(*yi)).sum::<f64>()
        });
        for (z, x) in row.iter_mut().zip(&columns) {
            *z -= c0 + x * (c1 + x * c2);
        }
    });
    Ok(map.with_heights(z_um))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_form_takes_out_itself() {
        let surface = |terms: [f64; 6]| {
            let z = (0..30 * 20)
                .map(|i| {
                    let (x, y) = (f64::from(i % 30), f64::from(i / 30));
                    terms[0]
                        + terms[1] * x
                        + terms[2] * y
                        + terms[3] * x * x
                        + terms[4] * x * y
                        + terms[5] * y * y
                })
                .map(|z| if (z as i64) % 7 == 3 { f64::NAN } else { z })
                .collect();
            HeightMap::new(30, 20, 1.0, 1.0, z).unwrap()
        };
        let cases = [
            (Form::Mean, [5.0, 0.0, 0.0, 0.0, 0.0, 0.0]),
            (Form::Plane, [5.0, 0.3, -2.0, 0.0, 0.0, 0.0]),
            (Form::Parabola, [5.0, 0.3, -2.0, 0.1, -0.05, 0.2]),
        ];
        for (form, terms) in cases {
            let levelled = level(&surface(terms), form).unwrap();
            assert!(levelled.z_um().iter().filter(|z| !z.is_nan()).all(|z| z.abs() < 1e-9), "{form:?}");
        }
    }

    #[test]
    fn a_line_of_heights_has_no_plane() {
        let map = HeightMap::new(10, 1, 1.0, 1.0, (0..10).map(f64::from).collect()).unwrap();
        assert!(matches!(level(&map, Form::Plane), Err(MeasureError::Degenerate { .. })));
    }
}
