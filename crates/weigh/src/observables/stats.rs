//! Small statistics of unsorted or sorted lists; `NaN` where a list is too short to say anything.

use crate::mark::Mark;
use std::f64::consts::PI;

/// Signed turn from one axis to another, radians in `[-π/2, π/2)`; both axes between −π/2 and 3π/2.
pub fn turn_between(from: f64, to: f64) -> f64 {
    // A remainder would do for any angles but costs more than all else here.
    let mut turn = to - from;
    while turn >= 0.5 * PI {
        turn -= PI;
    }
    while turn < -0.5 * PI {
        turn += PI;
    }
    turn
}

/// Length of a vector: never so large that squares overflow, and `hypot` takes three times as long.
pub fn length(x: f64, y: f64) -> f64 {
    (x * x + y * y).sqrt()
}

/// Length of the mean of directions multiplied by `factor`.
pub fn resultant(marks: &[Mark], factor: f64) -> f64 {
    let (s, c) = marks.iter().fold((0.0, 0.0), |(s, c), m| {
        let (sin, cos) = (factor * m.direction_rad).sin_cos();
        (s + sin, c + cos)
    });
    length(s, c) / marks.len() as f64
}

pub fn sorted(values: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut all: Vec<f64> = values.collect();
    all.sort_by(f64::total_cmp);
    all
}

pub fn quantile(sorted: &[f64], share: f64) -> f64 {
    if sorted.is_empty() {
        return f64::NAN;
    }
    let place = share * (sorted.len() - 1) as f64;
    let low = place.floor() as usize;
    let high = (low + 1).min(sorted.len() - 1);
    sorted[low] + (place - low as f64) * (sorted[high] - sorted[low])
}

pub fn median(values: impl Iterator<Item = f64>) -> f64 {
    quantile(&sorted(values), 0.5)
}

pub fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let (sum, n) = values.fold((0.0, 0.0), |(sum, n), v| (sum + v, n + 1.0));
    if n > 0.0 { sum / n } else { f64::NAN }
}

pub fn spread(values: impl Iterator<Item = f64> + Clone) -> f64 {
    let n = values.clone().count() as f64;
    if n < 2.0 {
        return f64::NAN;
    }
    let average = mean(values.clone());
    (values.map(|v| (v - average).powi(2)).sum::<f64>() / (n - 1.0)).sqrt()
}

pub fn slope(pairs: impl Iterator<Item = (f64, f64)> + Clone) -> f64 {
    let (x, y) = (mean(pairs.clone().map(|p| p.0)), mean(pairs.clone().map(|p| p.1)));
    let (xy, xx) = pairs.fold((0.0, 0.0), |(xy, xx), p| (xy + (p.0 - x) * (p.1 - y), xx + (p.0 - x).powi(2)));
    if xx > 0.0 { xy / xx } else { f64::NAN }
}

pub fn correlation(pairs: impl Iterator<Item = (f64, f64)> + Clone) -> f64 {
    let (x, y) = (mean(pairs.clone().map(|p| p.0)), mean(pairs.clone().map(|p| p.1)));
    let (xy, xx, yy) = pairs.fold((0.0, 0.0, 0.0), |(xy, xx, yy), p| {
        (xy + (p.0 - x) * (p.1 - y), xx + (p.0 - x).powi(2), yy + (p.1 - y).powi(2))
    });
    if xx > 0.0 && yy > 0.0 { xy / (xx * yy).sqrt() } else { f64::NAN }
}

/// |curvature| held above half its noise, so that its logarithm is defined.
pub fn bend(mark: &Mark) -> f64 {
    mark.curvature_per_mm.abs().max(0.5 * mark.curvature_sd_per_mm)
}

/// Weight of a mark in means of curvature.
pub fn weight(mark: &Mark) -> f64 {
    // Half the bending itself as a floor: no single long trace rules the mean.
    let floor = 0.3 * mark.curvature_per_mm.abs();
    1.0 / (mark.curvature_sd_per_mm.powi(2) + floor * floor).max(1e-18)
}

pub fn weighted_mean(marks: &[Mark], value: impl Fn(&Mark) -> f64) -> f64 {
    let (sum, total) = marks.iter().fold((0.0, 0.0), |(sum, total), m| {
        let w = weight(m);
        (sum + w * value(m), total + w)
    });
    if total > 0.0 { sum / total } else { f64::NAN }
}

/// Standard deviation beyond the expected noise over the mean, signed square root of the difference of variances.
pub fn excess_spread<'a>(marks: impl Iterator<Item = &'a Mark> + Clone, value: impl Fn(&Mark) -> f64) -> f64 {
    let n = marks.clone().count() as f64;
    if n < 3.0 {
        return f64::NAN;
    }
    let average = marks.clone().map(&value).sum::<f64>() / n;
    let variance = marks.clone().map(|m| (value(m) - average).powi(2)).sum::<f64>() / (n - 1.0);
    let noise = marks.map(|m| m.curvature_sd_per_mm.powi(2)).sum::<f64>() / n;
    let excess = variance - noise;
    (excess.signum() * excess.abs().sqrt() / average.abs().max(1e-7)).clamp(-20.0, 20.0)
}

/// Log of the exponential maximum-likelihood length: total length over the number of strokes that ended here.
pub fn censored_length<'a>(marks: impl Iterator<Item = &'a Mark>) -> f64 {
    let (total, ends) = marks
        .fold((0.0, 0.0), |(total, ends), m| (total + m.length_mm, ends + 0.5 * f64::from(m.ends_inside)));
    (total / (ends + 0.5)).max(1e-6).ln()
}
