//! The areal Gaussian filter of ISO 16610-61.

use std::f64::consts::PI;

use rayon::prelude::*;
use realfft::RealFftPlanner;
use realfft::num_complex::Complex;

use crate::{HeightMap, MeasureError};

/// α = √(ln 2 / π): the cutoff wave passes at one half.
///
/// # Source
/// ISO 16610-21:2011, 4.1; value seen as 0.4697, computed here from its definition.
pub const ALPHA: f64 = 0.469_718_639_349_825_66;

/// Kernels up to this half width are summed directly, longer ones by Fourier transform (measured: about equal at 24).
const DIRECT: usize = 24;

/// Gaussian weight at a distance `x`, both in one unit of length: `exp(−π(x/(αλc))²)/(αλc)`.
///
/// # Source
/// ISO 16610-21:2011, 4.1.
#[must_use]
pub fn gaussian_weight(x: f64, cutoff: f64) -> f64 {
    let width = ALPHA * cutoff;
    (-PI * (x / width).powi(2)).exp() / width
}

/// Share of a wave of length `wavelength` that the long-wave filter passes: `2^−(λc/λ)²`.
///
/// # Source
/// ISO 16610-21:2011, 4.2.
#[must_use]
pub fn gaussian_transmission(wavelength: f64, cutoff: f64) -> f64 {
    (-(cutoff / wavelength).powi(2)).exp2()
}

/// The filter's weights for steps of one sample, `cutoff` in samples, out to one cutoff on either side, summing to 1:
/// index 0 is the middle, each further one counts on both sides.
#[must_use]
pub fn gaussian_kernel(cutoff: f64) -> Vec<f64> {
    let reach = cutoff.floor().max(0.0) as usize;
    let mut half: Vec<f64> = (0..=reach).map(|k| gaussian_weight(k as f64, cutoff)).collect();
    let sum = half[0] + 2.0 * half.iter().skip(1).sum::<f64>();
    half.iter_mut().for_each(|weight| *weight /= sum);
    half
}

/// Splits a surface into its waves longer than the cutoff and the rest (long, short); heights not measured stay so.
///
/// Near edges and holes the weights are taken over what is measured, and made to sum to one again.
///
/// # Errors
/// [`MeasureError::BadSetting`] for a cutoff below two steps of the map or not finite.
pub fn gaussian_split(map: &HeightMap, cutoff_um: f64) -> Result<(HeightMap, HeightMap), MeasureError> {
    let least = 2.0 * map.dx_um().max(map.dy_um());
    if !(cutoff_um.is_finite() && cutoff_um >= least) {
        return Err(MeasureError::BadSetting {
            name: "cutoff of the filter, µm",
            found: cutoff_um,
            needed: "at least two steps of the height map",
        });
    }
    let (width, height) = (map.width(), map.height());
    // Beyond the map there is nothing to weigh.
    let kernel = |step: f64, count: usize| {
        let mut kernel = gaussian_kernel(cutoff_um / step);
        kernel.truncate(count);
        kernel
    };
    let (along, down) = (kernel(map.dx_um(), width), kernel(map.dy_um(), height));
    let smooth = |plane: &[f64]| {
        let rows = smooth_rows(plane, width, &along);
        smooth_columns(&rows, width, height, &down)
    };
    let (sums, weights) = if map.is_complete() {
        let (across, upright) = (edge_weights(width, &along), edge_weights(height, &down));
        let weights: Vec<f64> = upright.iter().flat_map(|v| across.iter().map(move |h| v * h)).collect();
        (smooth(map.z_um()), weights)
    } else {
        let filled: Vec<f64> = map.z_um().iter().map(|z| if z.is_nan() { 0.0 } else { *z }).collect();
        let mask: Vec<f64> = map.z_um().iter().map(|z| f64::from(u8::from(!z.is_nan()))).collect();
        (smooth(&filled), smooth(&mask))
    };
    let long: Vec<f64> = sums
        .into_par_iter()
        .zip(&weights)
        .zip(map.z_um())
        .map(|((sum, weight), z)| if z.is_nan() { f64::NAN } else { sum / weight })
        .collect();
    let short = long.par_iter().zip(map.z_um()).map(|(long, z)| z - long).collect();
    Ok((map.with_heights(long), map.with_heights(short)))
}

/// Sum of the weights that fall on the map at each place of a line.
fn edge_weights(count: usize, kernel: &[f64]) -> Vec<f64> {
    let mut running = vec![0.0];
    for weight in &kernel[1..] {
        running.push(running[running.len() - 1] + weight);
    }
    let side = |room: usize| running[room.min(kernel.len() - 1)];
    (0..count).map(|k| kernel[0] + side(k) + side(count - 1 - k)).collect()
}

fn smooth_rows(plane: &[f64], width: usize, kernel: &[f64]) -> Vec<f64> {
    let mut out = vec![0.0; plane.len()];
    if kernel.len() <= DIRECT {
        out.par_chunks_mut(width)
            .zip(plane.par_chunks(width))
            .for_each(|(out, row)| direct(row, kernel, out));
        return out;
    }
    let length = fast_length(width + kernel.len());
    let mut planner = RealFftPlanner::<f64>::new();
    let (forward, inverse) = (planner.plan_fft_forward(length), planner.plan_fft_inverse(length));
    let transfer = transfer(kernel, length, forward.as_ref());
    out.par_chunks_mut(width).zip(plane.par_chunks(width)).for_each_init(
        || {
            (
                forward.make_input_vec(),
                forward.make_output_vec(),
                forward.make_scratch_vec(),
                inverse.make_scratch_vec(),
            )
        },
        |(line, spectrum, scratch, scratch_back), (out, row)| {
            line[..width].copy_from_slice(row);
            line[width..].fill(0.0);
            // Lengths are those the plan made its buffers for, so neither step can fail.
            let _ = forward.process_with_scratch(line, spectrum, scratch);
            spectrum.iter_mut().zip(&transfer).for_each(|(value, factor)| *value *= factor);
            zero_ends(spectrum, length);
            let _ = inverse.process_with_scratch(spectrum, line, scratch_back);
            out.copy_from_slice(&line[..width]);
        },
    );
    out
}

/// The inverse transform insists on exactly real ends.
fn zero_ends(spectrum: &mut [Complex<f64>], length: usize) {
    if let Some(first) = spectrum.first_mut() {
        first.im = 0.0;
    }
    if length.is_multiple_of(2)
        && let Some(last) = spectrum.last_mut()
    {
        last.im = 0.0;
    }
}

fn direct(row: &[f64], kernel: &[f64], out: &mut [f64]) {
    let width = row.len();
    for (value, z) in out.iter_mut().zip(row) {
        *value = kernel[0] * z;
    }
    for (shift, &weight) in kernel.iter().enumerate().skip(1).take(width.saturating_sub(1)) {
        out[shift..].iter_mut().zip(row).for_each(|(value, z)| *value += weight * z);
        out.iter_mut().zip(&row[shift..]).for_each(|(value, z)| *value += weight * z);
    }
}

fn smooth_columns(plane: &[f64], width: usize, height: usize, kernel: &[f64]) -> Vec<f64> {
    if kernel.len() <= DIRECT {
        let mut out = vec![0.0; plane.len()];
        out.par_chunks_mut(width).enumerate().for_each(|(y, out)| {
            let first = y.saturating_sub(kernel.len() - 1);
            for other in first..(y + kernel.len()).min(height) {
                let weight = kernel[other.abs_diff(y)];
                let row = &plane[other * width..(other + 1) * width];
                out.iter_mut().zip(row).for_each(|(value, z)| *value += weight * z);
            }
        });
        return out;
    }
    let turned = transposed(plane, width, height);
    transposed(&smooth_rows(&turned, height, kernel), height, width)
}

/// Rows become columns, in blocks that fit the processor's cache.
fn transposed(plane: &[f64], width: usize, height: usize) -> Vec<f64> {
    const BLOCK: usize = 32;
    let mut out = vec![0.0; plane.len()];
    out.par_chunks_mut(height * BLOCK).enumerate().for_each(|(block, out)| {
        let x0 = block * BLOCK;
        let columns = out.len() / height;
        for y0 in (0..height).step_by(BLOCK) {
            for x in 0..columns {
                for y in y0..(y0 + BLOCK).min(height) {
                    out[x * height + y] = plane[y * width + x0 + x];
                }
            }
        }
    });
    out
}

/// Real transfer factors of a symmetric kernel, with the scale of the inverse transform.
fn transfer(kernel: &[f64], length: usize, forward: &dyn realfft::RealToComplex<f64>) -> Vec<f64> {
    let mut line = forward.make_input_vec();
    line.fill(0.0);
    for (k, &weight) in kernel.iter().enumerate() {
        line[k] += weight;
        if k > 0 {
            line[length - k] += weight;
        }
    }
    let mut spectrum = forward.make_output_vec();
    let _ = forward.process(&mut line, &mut spectrum);
    spectrum.iter().map(|value| value.re / length as f64).collect()
}

/// The next length with no prime factor above 5: fast to transform.
pub(super) fn fast_length(least: usize) -> usize {
    let smooth = |n: usize| {
        let mut rest = n;
        for prime in [2, 3, 5] {
            while rest.is_multiple_of(prime) {
                rest /= prime;
            }
        }
        rest == 1
    };
    (least.max(1)..).find(|&n| n % 2 == 0 && smooth(n)).unwrap_or(least)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wavy(width: usize, height: usize) -> HeightMap {
        let z = (0..width * height).map(|i| ((i * i) % 97) as f64 + (i % width) as f64 * 0.1).collect();
        HeightMap::new(width, height, 1.0, 1.5, z).unwrap()
    }

    /// Straight double sum over all weights, as the definition says.
    fn by_definition(map: &HeightMap, cutoff: f64, x: usize, y: usize) -> f64 {
        let (mut sum, mut weights) = (0.0, 0.0);
        for row in 0..map.height() {
            for column in 0..map.width() {
                let (dx, dy) =
                    (column.abs_diff(x) as f64 * map.dx_um(), row.abs_diff(y) as f64 * map.dy_um());
                let z = map.row(row)[column];
                if dx > cutoff || dy > cutoff || z.is_nan() {
                    continue;
                }
                let weight = gaussian_weight(dx, cutoff) * gaussian_weight(dy, cutoff);
                sum += weight * z;
                weights += weight;
            }
        }
        sum / weights
    }

    #[test]
    fn short_and_long_kernels_follow_the_definition() {
        let mut holes = wavy(70, 50).z_um().to_vec();
        holes.iter_mut().step_by(13).for_each(|z| *z = f64::NAN);
        let with_holes = HeightMap::new(70, 50, 1.0, 1.5, holes).unwrap();
        for map in [wavy(70, 50), with_holes] {
            for cutoff in [6.0, 40.0, 200.0] {
                let (long, short) = gaussian_split(&map, cutoff).unwrap();
                for (x, y) in [(1, 1), (35, 20), (69, 49), (68, 3)] {
                    let z = map.row(y)[x];
                    if z.is_nan() {
                        continue;
                    }
                    let expected = by_definition(&map, cutoff, x, y);
                    assert!((long.row(y)[x] - expected).abs() < 1e-9, "{cutoff} at {x},{y}");
                    assert!((short.row(y)[x] - (z - expected)).abs() < 1e-9);
                }
            }
        }
    }

    #[test]
    fn fast_lengths_are_even_and_smooth() {
        assert_eq!([7, 31, 4097, 5000].map(fast_length), [8, 32, 4320, 5000]);
    }
}
