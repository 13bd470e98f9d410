//! What the stone itself draws is taken off: a running median keeps grain boundaries sharp, a local spread makes
//! bright, dark, calm and restless grains comparable.

use rayon::prelude::*;

use crate::plane::{Plane, quantile};

/// Half side of the median's window at half resolution: 11 × 11 of 2 × 2 px, that is radius 10 px. A feasibility study on
/// rendered stone found radius 8–10 px best; wider windows pass grains, narrower ones swallow grooves.
const MEDIAN_HALF: isize = 5;
/// Grey steps of the running median; a step is far below sensor noise.
const LEVELS: usize = 1024;
/// Side of the squares over which the spread is estimated, px.
const SPREAD_BLOCK: usize = 32;
/// The share of |residual| read off as spread, and what a normal distribution has there.
const SPREAD_QUANTILE: (f64, f32) = (0.8, 1.281_55);
/// Least spread, grey units: a quarter of a step of eight bits, below which there is nothing to see.
const LEAST_SPREAD: f32 = 0.001;
/// Residuals are cut at this many spreads, so that dust and pits do not outvote a long faint line.
const CUT: f32 = 8.0;

/// The picture without its background, in units of the local spread.
pub(crate) struct Cleared {
    /// (grey − background) / spread.
    pub residual: Plane,
    /// Slowly varying background, at half resolution.
    pub background: Plane,
    /// Median of the spread over the picture, grey units.
    pub noise_sigma: f32,
}

/// Takes background and local spread off a plane.
pub(crate) fn clear(width: usize, height: usize, values: &[f32]) -> Cleared {
    let half = halved(width, height, values);
    let background = running_median(&half);
    let residual = Plane::from_rows(width, height, |y, row| {
        let source = values.get(y * width..(y + 1) * width).unwrap_or(&[]);
        // Centre of full pixel y lies at (y − 0.5)/2 of the half plane.
        let below = |t: usize| (t as f32 - 0.5) * 0.5;
        let v = below(y).floor();
        let fy = below(y) - v;
        for ((x, out), grey) in row.iter_mut().enumerate().zip(source) {
            let u = below(x).floor();
            let fx = below(x) - u;
            let (u, v) = (u as isize, v as isize);
            let upper = background.clamped(u, v) * (1.0 - fx) + background.clamped(u + 1, v) * fx;
            let lower = background.clamped(u, v + 1) * (1.0 - fx) + background.clamped(u + 1, v + 1) * fx;
            *out = if grey.is_finite() { grey - (upper * (1.0 - fy) + lower * fy) } else { 0.0 };
        }
    });
    let mut residual = residual;
    // The median comes in steps of grey; what they leave everywhere is no residual.
    let offset = quantile(&mut residual.values.iter().copied().step_by(7).collect::<Vec<f32>>(), 0.5);
    residual.values.par_iter_mut().for_each(|v| *v -= offset);
    let spread = local_spread(&residual);
    let noise_sigma = quantile(&mut spread.values.clone(), 0.5);
    residual.values.par_chunks_mut(width.max(1)).enumerate().for_each(|(y, row)| {
        for (x, value) in row.iter_mut().enumerate() {
            *value = (*value / spread_at(&spread, x as f32, y as f32)).clamp(-CUT, CUT);
        }
    });
    Cleared { residual, background, noise_sigma }
}

/// Bilinear spread at a pixel.
fn spread_at(spread: &Plane, x_px: f32, y_px: f32) -> f32 {
    let along = |t: f32| (t + 0.5) / SPREAD_BLOCK as f32 - 0.5;
    let (u, v) = (along(x_px).floor(), along(y_px).floor());
    let (fx, fy) = (along(x_px) - u, along(y_px) - v);
    let (u, v) = (u as isize, v as isize);
    let upper = spread.clamped(u, v) * (1.0 - fx) + spread.clamped(u + 1, v) * fx;
    let lower = spread.clamped(u, v + 1) * (1.0 - fx) + spread.clamped(u + 1, v + 1) * fx;
    upper * (1.0 - fy) + lower * fy
}

/// Means of 2 × 2 px (the last row or column alone where the size is odd).
pub(crate) fn halved(width: usize, height: usize, values: &[f32]) -> Plane {
    Plane::from_rows(width.div_ceil(2), height.div_ceil(2), |y, row| {
        let upper = values.get(2 * y * width..(2 * y + 1) * width).unwrap_or(&[]);
        let lower = values.get((2 * y + 1) * width..(2 * y + 2) * width).unwrap_or(upper);
        for ((out, a), b) in row.iter_mut().zip(upper.chunks(2)).zip(lower.chunks(2)) {
            let sum: f32 = a.iter().chain(b).sum();
            let mean = sum / (a.len() + b.len()) as f32;
            *out = if mean.is_finite() { mean } else { 0.0 };
        }
    })
}

/// Median over a square window, by a histogram that slides along the row (Huang, Yang and Tang 1979).
fn running_median(plane: &Plane) -> Plane {
    let levels: Vec<u16> =
        plane.values.par_iter().map(|v| (v.clamp(0.0, 1.0) * (LEVELS - 1) as f32).round() as u16).collect();
    let level = |x: isize, y: isize| -> usize {
        let x = usize::try_from(x).unwrap_or(0).min(plane.width - 1);
        let y = usize::try_from(y).unwrap_or(0).min(plane.height - 1);
        levels.get(y * plane.width + x).map_or(0, |&l| usize::from(l))
    };
    let side = (2 * MEDIAN_HALF + 1) as usize;
    let half_count = (side * side / 2) as i32;
    Plane::from_rows(plane.width, plane.height, |y, row| {
        let mut histogram = [0_i32; LEVELS];
        let mut median = 0_usize;
        // How many values lie below `median`.
        let mut below = 0_i32;
        let y = y as isize;
        for dy in -MEDIAN_HALF..=MEDIAN_HALF {
            for dx in -MEDIAN_HALF..=MEDIAN_HALF {
                bump(&mut histogram, level(dx, y + dy), 1);
            }
        }
        for (x, out) in row.iter_mut().enumerate() {
            let x = x as isize;
            if x > 0 {
                for dy in -MEDIAN_HALF..=MEDIAN_HALF {
                    let old = level(x - 1 - MEDIAN_HALF, y + dy);
                    let new = level(x + MEDIAN_HALF, y + dy);
                    bump(&mut histogram, old, -1);
                    bump(&mut histogram, new, 1);
                    below += i32::from(new < median) - i32::from(old < median);
                }
            }
            while below > half_count && median > 0 {
                median -= 1;
                below -= histogram.get(median).copied().unwrap_or(0);
            }
            while median + 1 < LEVELS && below + histogram.get(median).copied().unwrap_or(0) <= half_count {
                below += histogram.get(median).copied().unwrap_or(0);
                median += 1;
            }
            *out = median as f32 / (LEVELS - 1) as f32;
        }
    })
}

fn bump(histogram: &mut [i32], level: usize, by: i32) {
    if let Some(count) = histogram.get_mut(level) {
        *count += by;
    }
}

/// Robust spread of the residual per square, never below a tenth of the picture's median spread.
fn local_spread(residual: &Plane) -> Plane {
    let (columns, rows) = (residual.width.div_ceil(SPREAD_BLOCK), residual.height.div_ceil(SPREAD_BLOCK));
    let mut spread = Plane::from_rows(columns, rows, |v, row| {
        let mut sample = Vec::with_capacity(SPREAD_BLOCK * SPREAD_BLOCK / 2);
        for (u, out) in row.iter_mut().enumerate() {
            sample.clear();
            for y in (v * SPREAD_BLOCK..((v + 1) * SPREAD_BLOCK).min(residual.height)).step_by(2) {
                let line = residual.row(y);
                let end = ((u + 1) * SPREAD_BLOCK).min(line.len());
                sample.extend(line.get(u * SPREAD_BLOCK..end).unwrap_or(&[]).iter().map(|v| v.abs()));
            }
            *out = quantile(&mut sample, SPREAD_QUANTILE.0) / SPREAD_QUANTILE.1;
        }
    });
    let floor = (0.1 * quantile(&mut spread.values.clone(), 0.5)).max(LEAST_SPREAD);
    spread.values.iter_mut().for_each(|s| *s = s.max(floor));
    spread
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_running_median_is_the_median() {
        let plane = Plane::from_rows(23, 19, |y, row| {
            row.iter_mut().enumerate().for_each(|(x, v)| *v = ((x * 37 + y * 101) % 89) as f32 / 89.0)
        });
        let median = running_median(&plane);
        for (x, y) in [(0_isize, 0_isize), (22, 18), (11, 9), (3, 17)] {
            let mut window: Vec<f32> = (-5..=5)
                .flat_map(|dy| (-5..=5).map(move |dx| (dx, dy)))
                .map(|(dx, dy)| plane.clamped(x + dx, y + dy))
                .collect();
            let expected = quantile(&mut window, 0.5);
            let got = median.clamped(x, y);
            assert!((got - expected).abs() <= 1.0 / 1023.0, "at {x},{y}: {got} instead of {expected}");
        }
    }

    #[test]
    fn a_step_between_grains_leaves_no_residual_away_from_it() {
        // A restless texture of ± 0.01, so that there is a spread to measure by.
        let texture = |i: usize| ((i * 7919) % 101) as f32 / 5050.0 - 0.01;
        let values: Vec<f32> =
            (0..64 * 64).map(|i| if i % 64 < 32 { 0.3 } else { 0.6 } + texture(i)).collect();
        let cleared = clear(64, 64, &values);
        for x in [20, 45] {
            let mean = (10..54).map(|y| cleared.residual.row(y)[x]).sum::<f32>() / 44.0;
            assert!(mean.abs() < 0.3, "column {x}: {mean}");
        }
    }
}
