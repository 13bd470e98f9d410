//! Bow of traces: sagitta and radius, what a fit can know of a curvature, and the curvatures of many traces together.

use crate::student::{chi_squared_quantile, normal_two_sided};
use crate::{Answer, CannotTell, Estimate, coverage_factor_95};

/// Height of an arc of radius `radius` over a chord `chord` (same unit); `None` if the chord is longer than the diameter.
#[must_use]
pub fn sagitta(radius: f64, chord: f64) -> Option<f64> {
    let under = radius * radius - 0.25 * chord * chord;
    // The difference of two near numbers, written so that it does not cancel.
    (under >= 0.0 && radius > 0.0).then(|| 0.25 * chord * chord / (radius + under.sqrt()))
}

/// Radius of the arc with height `sagitta` over a chord `chord`; `None` for no height.
#[must_use]
pub fn radius_from_sagitta(sagitta: f64, chord: f64) -> Option<f64> {
    (sagitta > 0.0).then(|| chord * chord / (8.0 * sagitta) + 0.5 * sagitta)
}

/// Variance of the curvature of a parabola fitted to `points` evenly spaced points over a chord `chord`, each with
/// independent scatter `scatter` across: `720(N−1)³/((N−2)N(N+1)(N+2))·σ²/L⁴`. `None` for fewer than three points.
///
/// # Source
/// Gluckstern 1963 (from memory, source not seen); equals the inverse of the least-squares matrix (reference sheet §3).
#[must_use]
pub fn variance(points: usize, scatter: f64, chord: f64) -> Option<f64> {
    let n = points as f64;
    let factor = 720.0 * (n - 1.0).powi(3) / ((n - 2.0) * n * (n + 1.0) * (n + 2.0));
    (points >= 3).then(|| factor * scatter * scatter / chord.powi(4))
}

/// Variance of the slope of a line fitted to `points` evenly spaced points over `chord`: `12(N−1)/(N(N+1))·σ²/L²`.
/// `None` for fewer than two points.
///
/// # Source
/// Least squares; reference sheet §3.
#[must_use]
pub fn slope_variance(points: usize, scatter: f64, chord: f64) -> Option<f64> {
    let n = points as f64;
    (points >= 2).then(|| 12.0 * (n - 1.0) / (n * (n + 1.0)) * scatter * scatter / (chord * chord))
}

/// Smallest standard uncertainties any method can reach for a straight line in white noise.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bound {
    /// Offset across the line, px.
    pub offset_px: f64,
    /// Direction, radians.
    pub angle_rad: f64,
    /// Curvature, 1/px.
    pub curvature_per_px: f64,
}

/// Cramér–Rao bound for a line of `length_px` whose profile across has `∫f′² = slope_energy` (grey²/px), in white noise of
/// `noise` (grey) per pixel. Correlated noise makes it worse.
///
/// # Source
/// Ours, reference sheet §3 (pixel-grid Fisher information agrees within 0.5 %).
#[must_use]
pub fn bound(slope_energy: f64, length_px: f64, noise: f64) -> Bound {
    Bound {
        offset_px: noise / (length_px * slope_energy).sqrt(),
        angle_rad: noise * (12.0 / (length_px.powi(3) * slope_energy)).sqrt(),
        curvature_per_px: noise * (720.0 / (length_px.powi(5) * slope_energy)).sqrt(),
    }
}

/// `∫f′²` of a step of height `amplitude` blurred by a Gaussian of `blur_px`.
#[must_use]
pub fn edge_slope_energy(amplitude: f64, blur_px: f64) -> f64 {
    amplitude * amplitude / (2.0 * std::f64::consts::PI.sqrt() * blur_px)
}

/// `∫f′²` of a Gaussian ridge of height `amplitude` and standard width `width_px`.
#[must_use]
pub fn ridge_slope_energy(amplitude: f64, width_px: f64) -> f64 {
    amplitude * amplitude * std::f64::consts::PI.sqrt() / (2.0 * width_px)
}

/// A curvature counts as resolved beyond this many standard uncertainties (common practice, no source).
pub const RESOLVED_BEYOND: f64 = 3.0;

/// How straight the traces are, taken together. Curvatures in 1/unit of the lengths, signed.
#[derive(Debug, Clone, PartialEq)]
pub struct Straightness {
    /// Traces with a usable curvature.
    pub count: usize,
    /// Traces whose curvature differs from zero by more than [`RESOLVED_BEYOND`] of its uncertainties.
    pub resolved: usize,
    /// Share of resolved traces.
    pub resolved_share: f64,
    /// Of the resolved: bending to the left (positive) and to the right (negative).
    pub resolved_signs: (usize, usize),
    /// `|left − right|/(left + right)`: 1 all the same way, 0 as many each way. `None` without resolved traces.
    pub sign_consistency: Option<f64>,
    /// Probability of at least this consistency if either way were as likely.
    pub sign_p: Option<f64>,
    /// Mean signed curvature, measuring scatter removed.
    pub mean: Estimate,
    /// Spread of the true curvatures between traces (standard deviation), measuring scatter removed.
    pub spread: Estimate,
    /// Root mean square of the true curvatures: how bowed a trace is whichever way, measuring scatter removed.
    pub root_mean_square: f64,
    /// Largest radius a typical trace could have been told from straight at: 1/(3 u), the median over traces.
    pub typical_radius_limit: f64,
}

/// Curvatures `values` with standard uncertainties `u` (same shape) as draws from one law seen through measuring
/// scatter: mean by the method of Paule & Mandel with the interval of Hartung & Knapp, spread with the interval of
/// the generalised Q.
///
/// # Errors
/// Fewer than three usable values.
///
/// # Source
/// Paule & Mandel 1982; Hartung & Knapp 2001; Viechtbauer 2007 (all from memory); coverage checked by simulation.
pub fn straightness(values: &[f64], u: &[f64]) -> Answer<Straightness> {
    let pairs: Vec<(f64, f64)> = values
        .iter()
        .copied()
        .zip(u.iter().copied())
        .filter(|(v, u)| v.is_finite() && u.is_finite() && *u > 0.0)
        .collect();
    if pairs.len() < 3 {
        return Err(CannotTell::TooFew { what: "traces with a curvature", found: pairs.len(), needed: 3 });
    }
    let n = pairs.len();
    let resolved: Vec<f64> =
        pairs.iter().filter(|(v, u)| v.abs() > RESOLVED_BEYOND * u).map(|pair| pair.0).collect();
    let left = resolved.iter().filter(|v| **v > 0.0).count();
    let right = resolved.len() - left;
    let (mean, spread) = random_effects(&pairs);
    let mut limits: Vec<f64> = pairs.iter().map(|(_, u)| 1.0 / (RESOLVED_BEYOND * u)).collect();
    limits.sort_by(f64::total_cmp);
    let either = (left + right) as f64;
    Ok(Straightness {
        count: n,
        resolved: resolved.len(),
        resolved_share: resolved.len() as f64 / n as f64,
        resolved_signs: (left, right),
        sign_consistency: (either > 0.0).then(|| (left as f64 - right as f64).abs() / either),
        sign_p: (either > 0.0).then(|| sign_tail(left, right)),
        mean,
        spread,
        root_mean_square: mean.value.hypot(spread.value),
        typical_radius_limit: limits.get(n / 2).copied().unwrap_or(0.0),
    })
}

/// Generalised Q of the values about their weighted mean when the true spread is `spread`, with that mean and weight.
fn generalised_q(pairs: &[(f64, f64)], spread: f64) -> (f64, f64, f64) {
    let weight = |u: f64| 1.0 / (spread * spread + u * u);
    let total: f64 = pairs.iter().map(|(_, u)| weight(*u)).sum();
    let mean = pairs.iter().map(|(v, u)| weight(*u) * v).sum::<f64>() / total;
    let q = pairs.iter().map(|(v, u)| weight(*u) * (v - mean) * (v - mean)).sum();
    (q, mean, total)
}

/// The spread at which the generalised Q equals `target`; zero where it is below it everywhere.
fn spread_for_q(pairs: &[(f64, f64)], target: f64) -> f64 {
    if generalised_q(pairs, 0.0).0 <= target {
        return 0.0;
    }
    let (mut low, mut high) = (0.0, pairs.iter().map(|(v, u)| v.abs() + u).fold(0.0, f64::max));
    while generalised_q(pairs, high).0 > target {
        high *= 2.0;
    }
    for _ in 0..100 {
        let middle = 0.5 * (low + high);
        if generalised_q(pairs, middle).0 > target { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

fn random_effects(pairs: &[(f64, f64)]) -> (Estimate, Estimate) {
    let degrees = pairs.len() as f64 - 1.0;
    let spread = spread_for_q(pairs, degrees);
    let (q, mean, total) = generalised_q(pairs, spread);
    // Hartung and Knapp scale by q/df; it is held at 1 where the scatter is below what the uncertainties allow.
    let u_mean = ((q / degrees).max(1.0) / total).sqrt();
    let low = spread_for_q(pairs, chi_squared_quantile(0.975, degrees));
    let high = spread_for_q(pairs, chi_squared_quantile(0.025, degrees));
    let u_spread = (high - low) / (2.0 * crate::student::Z_95);
    (
        Estimate::symmetric(mean, u_mean, coverage_factor_95(degrees)),
        Estimate { value: spread, u: u_spread, low, high },
    )
}

/// Two-sided tail of an even binomial law.
fn sign_tail(left: usize, right: usize) -> f64 {
    let n = left + right;
    if n > 1000 {
        return normal_two_sided(((left as f64 - right as f64).abs() - 1.0).max(0.0) / (n as f64).sqrt());
    }
    let few = left.min(right);
    let mut term = 0.5_f64.powi(n as i32);
    let mut sum = term;
    for k in 0..few {
        term *= (n - k) as f64 / (k + 1) as f64;
        sum += term;
    }
    (2.0 * sum).min(1.0)
}
