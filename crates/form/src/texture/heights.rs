//! Height parameters of ISO 25178-2.

use rayon::prelude::*;

use crate::{HeightMap, MeasureError};

/// Heights of a surface about its mean, population moments.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeightParameters {
    /// Mean absolute height, µm.
    pub sa_um: f64,
    /// Root mean square height, µm.
    pub sq_um: f64,
    /// Skewness; NaN for a surface without height differences.
    pub ssk: f64,
    /// Kurtosis; NaN likewise.
    pub sku: f64,
    /// Highest above the mean, µm.
    pub sp_um: f64,
    /// Deepest below the mean, µm.
    pub sv_um: f64,
    /// Sp + Sv, µm.
    pub sz_um: f64,
}

/// Sa, Sq, Ssk, Sku, Sp, Sv, Sz of the measured heights, from their mean.
///
/// # Errors
/// [`MeasureError::TooFewPoints`] below two measured heights.
///
/// # Source
/// ISO 25178-2:2012, 4.1; formulas from memory, source not seen. Checked in `tests/published/texture.json`.
pub fn height_parameters(map: &HeightMap) -> Result<HeightParameters, MeasureError> {
    // Sums row by row, then over the rows in order: the same digits at any number of threads.
    let by_row = |value: &(dyn Fn(f64) -> [f64; 4] + Sync)| {
        let rows: Vec<[f64; 4]> = map
            .z_um()
            .par_chunks(map.width())
            .map(|row| row.iter().filter(|z| !z.is_nan()).fold([0.0; 4], |sum, &z| add(sum, value(z))))
            .collect();
        rows.into_iter().fold([0.0; 4], add)
    };
    let [count, sum, ..] = by_row(&|z| [1.0, z, 0.0, 0.0]);
    if count < 2.0 {
        return Err(MeasureError::TooFewPoints {
            what: "height parameters",
            found: count as usize,
            needed: 2,
        });
    }
    let mean = sum / count;
    let [absolute, squares, cubes, fourths] = by_row(&|z| {
        let d = z - mean;
        [d.abs(), d * d, d * d * d, d * d * d * d]
    });
    let (low, high) = map
        .z_um()
        .iter()
        .filter(|z| !z.is_nan())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), &z| (low.min(z), high.max(z)));
    let sq = (squares / count).sqrt();
    let (sp, sv) = (high - mean, mean - low);
    Ok(HeightParameters {
        sa_um: absolute / count,
        sq_um: sq,
        ssk: cubes / count / sq.powi(3),
        sku: fourths / count / sq.powi(4),
        sp_um: sp,
        sv_um: sv,
        sz_um: sp + sv,
    })
}

fn add(a: [f64; 4], b: [f64; 4]) -> [f64; 4] {
    std::array::from_fn(|k| a[k] + b[k])
}
