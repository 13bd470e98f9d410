//! Gaussian smoothing of planes.

use rayon::prelude::*;

/// A plane smoothed by a Gaussian of standard deviation `sigma_px`; edges repeat the outermost value.
pub(crate) fn gaussian(values: &[f32], width: usize, height: usize, sigma_px: f64) -> Vec<f32> {
    if width == 0 || height == 0 {
        return Vec::new();
    }
    let kernel = kernel(sigma_px);
    let radius = kernel.len() / 2;
    let mut across = vec![0.0f32; values.len()];
    across.par_chunks_mut(width).zip(values.par_chunks(width)).for_each(|(out, row)| {
        let padded = padded(row, radius);
        for (value, window) in out.iter_mut().zip(padded.windows(kernel.len())) {
            *value = window.iter().zip(&kernel).map(|(v, k)| v * k).sum();
        }
    });
    let mut down = vec![0.0f32; values.len()];
    down.par_chunks_mut(width).enumerate().for_each(|(y, out)| {
        for (i, weight) in kernel.iter().enumerate() {
            let source = (y + i).saturating_sub(radius).min(height - 1);
            let row = across.get(source * width..(source + 1) * width).unwrap_or(&[]);
            out.iter_mut().zip(row).for_each(|(value, v)| *value += weight * v);
        }
    });
    down
}

/// One row smoothed.
pub(crate) fn gaussian_row(row: &[f64], sigma_px: f64) -> Vec<f64> {
    let kernel = kernel(sigma_px);
    let radius = kernel.len() / 2;
    let first = row.first().copied().unwrap_or(0.0);
    let last = row.last().copied().unwrap_or(0.0);
    let padded: Vec<f64> = std::iter::repeat_n(first, radius)
        .chain(row.iter().copied())
        .chain(std::iter::repeat_n(last, radius))
        .collect();
    padded
        .windows(kernel.len())
        .map(|window| window.iter().zip(&kernel).map(|(v, k)| v * f64::from(*k)).sum())
        .collect()
}

fn padded(row: &[f32], radius: usize) -> Vec<f32> {
    let first = row.first().copied().unwrap_or(0.0);
    let last = row.last().copied().unwrap_or(0.0);
    std::iter::repeat_n(first, radius)
        .chain(row.iter().copied())
        .chain(std::iter::repeat_n(last, radius))
        .collect()
}

fn kernel(sigma_px: f64) -> Vec<f32> {
    // Four standard deviations leave out 6e-5 of the weight.
    let radius = (4.0 * sigma_px).ceil().max(1.0) as i32;
    let weights: Vec<f64> =
        (-radius..=radius).map(|i| (-0.5 * (f64::from(i) / sigma_px.max(1e-6)).powi(2)).exp()).collect();
    let sum: f64 = weights.iter().sum();
    weights.iter().map(|weight| (weight / sum) as f32).collect()
}
