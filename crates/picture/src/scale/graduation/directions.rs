//! Directions in which lines may follow each other, from the picture's spectrum.

use std::f64::consts::PI;

use crate::Grey;
use crate::fft::{Complex64, forward};

/// Largest side of the plane that is transformed; finer pitches leave their mark through longer ticks and as alias-free remains (ours).
const WORKING_SIDE_PX: usize = 1536;
/// Directions handed on.
const MOST_CANDIDATES: usize = 4;
/// Spectral peaks looked at.
const MOST_PEAKS: usize = 60;
/// Directions nearer than this are one.
const APART_RAD: f64 = 4.0 * PI / 180.0;

struct Peak {
    /// Cycles per picture along x and y.
    fx: f64,
    fy: f64,
    /// Logarithm of power over the median at this distance from the origin.
    height: f64,
}

/// Angles (radians from +x towards +y of the picture) of the strongest rows of spectral peaks, strongest first.
pub(super) fn candidates(grey: &Grey) -> Vec<f64> {
    let (plane, width, height) = reduced(grey);
    let power = power_spectrum(&plane, width, height);
    let peaks = peaks(&power, width, height);
    let mut found: Vec<f64> = Vec::new();
    let mut scored: Vec<(f64, f64)> = peaks.iter().map(|peak| cluster(peak, &peaks)).collect();
    scored.sort_by(|a, b| b.1.total_cmp(&a.1));
    for (angle, _) in scored {
        let apart = |other: &f64| (angle - other + PI / 2.0).rem_euclid(PI) - PI / 2.0;
        if found.iter().all(|other| apart(other).abs() > APART_RAD) {
            found.push(angle);
        }
        if found.len() == MOST_CANDIDATES {
            break;
        }
    }
    found
}

/// Direction and summed height of the peaks on the ray of one peak; far peaks tell the direction best.
fn cluster(seed: &Peak, peaks: &[Peak]) -> (f64, f64) {
    let angle = seed.fy.atan2(seed.fx);
    let (mut turn, mut weight, mut score) = (0.0, 0.0, 0.0);
    for peak in peaks {
        let along = peak.fx * angle.cos() + peak.fy * angle.sin();
        let aside = -peak.fx * angle.sin() + peak.fy * angle.cos();
        // One cycle aside is what the window blurs; 1.5° allow for a seed near the origin.
        if aside.abs() <= 1.5 + 0.025 * along.abs() {
            score += peak.height;
            turn += peak.height * along.abs() * aside * along.signum();
            weight += peak.height * along * along;
        }
    }
    (angle + turn / weight.max(f64::MIN_POSITIVE), score)
}

/// The picture shrunk by whole factors to the working size, mean taken off and faded out at the edges.
fn reduced(grey: &Grey) -> (Vec<f32>, usize, usize) {
    let factor = grey.width().max(grey.height()).div_ceil(WORKING_SIDE_PX).max(1);
    let (width, height) = (grey.width() / factor, grey.height() / factor);
    let mut plane = Vec::with_capacity(width * height);
    for y in 0..height {
        let mut row = vec![0.0f32; width];
        for source in (y * factor..(y + 1) * factor).map(|y| grey.row(y)) {
            row.iter_mut()
                .zip(source.chunks_exact(factor))
                .for_each(|(sum, part)| *sum += part.iter().sum::<f32>());
        }
        plane.extend(row.iter().map(|sum| sum / (factor * factor) as f32));
    }
    let mean = plane.iter().map(|&v| f64::from(v)).sum::<f64>() / plane.len().max(1) as f64;
    let fade = |i: usize, n: usize| (0.5 - 0.5 * (2.0 * PI * (i as f64 + 0.5) / n as f64).cos()) as f32;
    let columns: Vec<f32> = (0..width).map(|x| fade(x, width)).collect();
    for (y, row) in plane.chunks_exact_mut(width.max(1)).enumerate() {
        let fade_row = fade(y, height);
        row.iter_mut()
            .zip(&columns)
            .for_each(|(v, fade_column)| *v = (*v - mean as f32) * fade_row * fade_column);
    }
    (plane, width, height)
}

/// Power at `[ky × width + kx]`.
fn power_spectrum(plane: &[f32], width: usize, height: usize) -> Vec<f32> {
    let mut rows: Vec<Complex64> = plane.iter().map(|&v| Complex64::new(f64::from(v), 0.0)).collect();
    forward(width).process(&mut rows);
    let mut columns = vec![Complex64::default(); rows.len()];
    transpose(&rows, &mut columns, width);
    forward(height).process(&mut columns);
    transpose(&columns, &mut rows, height);
    rows.iter().map(|v| v.norm_sqr() as f32).collect()
}

/// Rows of `width` become columns.
fn transpose(from: &[Complex64], to: &mut [Complex64], width: usize) {
    let height = from.len() / width.max(1);
    for (x, column) in to.chunks_exact_mut(height.max(1)).enumerate() {
        column.iter_mut().zip(from.iter().skip(x).step_by(width.max(1))).for_each(|(to, from)| *to = *from);
    }
}

fn peaks(power: &[f32], width: usize, height: usize) -> Vec<Peak> {
    let signed = |k: usize, n: usize| if 2 * k < n { k as f64 } else { k as f64 - n as f64 };
    let at = |kx: i64, ky: i64| {
        let (x, y) = (kx.rem_euclid(width as i64) as usize, ky.rem_euclid(height as i64) as usize);
        power.get(y * width + x).copied().unwrap_or(0.0)
    };
    // Distance from the origin in cycles per pixel, in bins of one cycle per longer side.
    let longer = width.max(height) as f64;
    let bin_of = |fx: f64, fy: f64| ((fx / width as f64).hypot(fy / height as f64) * longer) as usize;
    let bins = (longer / 2.0) as usize + 1;
    let mut rings: Vec<Vec<f32>> = vec![Vec::new(); bins];
    for ky in 0..height {
        for kx in 0..=width / 2 {
            if let Some(ring) = rings.get_mut(bin_of(signed(kx, width), signed(ky, height))) {
                ring.push(at(kx as i64, ky as i64));
            }
        }
    }
    let medians: Vec<f32> = rings
        .into_iter()
        .map(|mut ring| {
            ring.sort_unstable_by(f32::total_cmp);
            ring.get(ring.len() / 2).copied().unwrap_or(0.0)
        })
        .collect();
    let mut found = Vec::new();
    for ky in 0..height as i64 {
        for kx in 0..=(width / 2) as i64 {
            let (fx, fy) = (signed(kx as usize, width), signed(ky as usize, height));
            let bin = bin_of(fx, fy);
            let here = at(kx, ky);
            let median = medians.get(bin).copied().unwrap_or(f32::MAX).max(1e-9);
            if bin < 3 || here < 20.0 * median || (fx == 0.0 && fy < 0.0) {
                continue;
            }
            let neighbours =
                (-2..=2).flat_map(|dy| (-2..=2).map(move |dx| (dx, dy))).filter(|&d| d != (0, 0));
            if neighbours.into_iter().all(|(dx, dy)| at(kx + dx, ky + dy) <= here) {
                found.push(Peak { fx, fy, height: f64::from(here / median).ln() });
            }
        }
    }
    found.sort_by(|a, b| b.height.total_cmp(&a.height));
    found.truncate(MOST_PEAKS);
    // From cycles per picture to equal units on both axes.
    for peak in &mut found {
        peak.fx *= longer / width as f64;
        peak.fy *= longer / height as f64;
    }
    found
}
