//! Clipping and uneven light.

use crate::Grey;

/// Tone of a picture.
pub(super) struct Level {
    pub(super) clipped_share: f64,
    pub(super) unevenness: f64,
    /// Spread of the middle 98 % of the values, on the 0–1 scale.
    pub(super) spread: f64,
}

/// A value within half an 8-bit step of the ends is clipped.
const CLIP: f32 = 0.5 / 255.0;
/// Blocks a side in which the light is sampled (ours).
const BLOCKS: usize = 16;

pub(super) fn measure(grey: &Grey) -> Level {
    let values = grey.values();
    let clipped = values.iter().filter(|&&v| v <= CLIP || v >= 1.0 - CLIP).count();
    let mut sample: Vec<f32> =
        values.iter().step_by(values.len().div_ceil(200_000).max(1)).copied().collect();
    sample.sort_unstable_by(f32::total_cmp);
    let quantile =
        |q: f64| sample.get(((sample.len().saturating_sub(1)) as f64 * q) as usize).copied().unwrap_or(0.0);
    Level {
        clipped_share: clipped as f64 / values.len().max(1) as f64,
        unevenness: unevenness(grey),
        spread: f64::from(quantile(0.99) - quantile(0.01)),
    }
}

/// Range of a second-order surface through the medians of blocks, over its mean.
fn unevenness(grey: &Grey) -> f64 {
    let (width, height) = (grey.width(), grey.height());
    let blocks = BLOCKS.min(width / 4).min(height / 4);
    if blocks < 3 {
        return 0.0;
    }
    let mut points = Vec::with_capacity(blocks * blocks);
    for row in 0..blocks {
        for column in 0..blocks {
            let part = |i: usize, full: usize| (i * full / blocks, (i + 1) * full / blocks);
            let ((x0, x1), (y0, y1)) = (part(column, width), part(row, height));
            let step = ((x1 - x0) * (y1 - y0)).div_ceil(1000).max(1);
            let mut inside: Vec<f32> = (y0..y1)
                .flat_map(|y| grey.row(y).get(x0..x1).unwrap_or(&[]).iter().copied())
                .step_by(step)
                .collect();
            inside.sort_unstable_by(f32::total_cmp);
            let median = f64::from(inside.get(inside.len() / 2).copied().unwrap_or(0.0));
            let place = |i: usize| 2.0 * (i as f64 + 0.5) / blocks as f64 - 1.0;
            points.push((place(column), place(row), median));
        }
    }
    let surface = legendre_surface(&points);
    let fitted: Vec<f64> =
        points.iter().map(|&(x, y, _)| basis(x, y).iter().zip(&surface).map(|(b, c)| b * c).sum()).collect();
    let mean = fitted.iter().sum::<f64>() / fitted.len() as f64;
    let (low, high) =
        fitted.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), &v| (low.min(v), high.max(v)));
    if mean > 0.0 { (high - low) / mean } else { 0.0 }
}

fn basis(x: f64, y: f64) -> [f64; 6] {
    let second = |t: f64| 1.5 * t * t - 0.5;
    [1.0, x, y, second(x), second(y), x * y]
}

/// Coefficients by projection; the basis is close to orthogonal on the even grid, and two passes remove what is left.
fn legendre_surface(points: &[(f64, f64, f64)]) -> [f64; 6] {
    let mut coefficients = [0.0; 6];
    for _ in 0..3 {
        for i in 0..6 {
            let (mut along, mut norm) = (0.0, 0.0);
            for &(x, y, value) in points {
                let b = basis(x, y);
                let fitted: f64 = b.iter().zip(&coefficients).map(|(b, c)| b * c).sum();
                let weight = b.get(i).copied().unwrap_or(0.0);
                along += weight * (value - fitted);
                norm += weight * weight;
            }
            if let Some(coefficient) = coefficients.get_mut(i) {
                *coefficient += along / norm.max(f64::MIN_POSITIVE);
            }
        }
    }
    coefficients
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plane(f: impl Fn(f64, f64) -> f64) -> Grey {
        let values = (0..200)
            .flat_map(|y| (0..300).map(move |x| (x as f64 / 300.0, y as f64 / 200.0)))
            .map(|(x, y)| f(x, y) as f32)
            .collect();
        Grey::new(300, 200, values).unwrap()
    }

    #[test]
    fn light_that_falls_off_is_measured() {
        assert!(measure(&plane(|_, _| 0.4)).unevenness < 1e-6);
        // From 0.3 to 0.7 over the width, sampled at block centres: 15/16 of 0.4 over a mean of 0.5.
        let slope = measure(&plane(|x, _| 0.3 + 0.4 * x)).unevenness;
        assert!((slope - 0.75).abs() < 0.01, "{slope}");
    }

    #[test]
    fn clipped_pixels_are_counted() {
        let level = measure(&plane(|x, y| {
            if x < 0.25 {
                0.0
            } else if y < 0.5 {
                1.0
            } else {
                0.5
            }
        }));
        assert!((level.clipped_share - 0.625).abs() < 1e-6, "{}", level.clipped_share);
    }
}
