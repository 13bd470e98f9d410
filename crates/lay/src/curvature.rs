//! Bow of traces: sagitta and radius, what a fit can know of a curvature, and the curvatures of many traces together.

use crate::student::normal_two_sided;
use crate::{Answer, CannotTell, Estimate};

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
/// Half of a normal law lies within this many standard deviations.
const HALF_WITHIN: f64 = 0.674_489_750_196_081_7;
/// Fewest traces whose median has a 95 % interval: all six on one side have a chance of 2·2⁻⁶.
const FEWEST: usize = 6;

/// How straight the traces are, taken together. Curvatures in 1/unit of the lengths, signed.
///
/// Everything rests on weighted medians: up to half of the traces may have been followed wrongly (two scratches taken for
/// one, a flank for the groove) without carrying the answer with them.
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
    /// Middle of the signed curvatures.
    pub middle: Estimate,
    /// Typical bow: half of the traces are bowed less, whichever way; measuring scatter removed. Not negative.
    pub typical: Estimate,
    /// Largest radius a typical trace could have been told from straight at: 1/(3 u), the median over traces.
    pub typical_radius_limit: f64,
}

/// Curvatures `values` with standard uncertainties `u` (same shape) as draws from one law seen through measuring scatter.
///
/// If the true curvatures scatter normally about zero with standard deviation τ, then |k| is below `0.674·√(τ² + u²)` with
/// a chance of one half, whatever u is. So `√(k² − 0.674² u²)` (zero where that is negative) has the median `0.674 τ` in
/// every trace, which is the typical bow, and a weighted sign test gives its interval. Precise traces weigh more.
///
/// # Errors
/// Fewer than six usable values, or so unequal uncertainties that fewer carry the answer.
///
/// # Source
/// Ours (inverted sign test); coverage checked by simulation.
pub fn straightness(values: &[f64], u: &[f64]) -> Answer<Straightness> {
    let pairs: Vec<(f64, f64)> = values
        .iter()
        .copied()
        .zip(u.iter().copied())
        .filter(|(v, u)| v.is_finite() && u.is_finite() && *u > 0.0)
        .collect();
    let n = pairs.len();
    if n < FEWEST {
        return Err(CannotTell::TooFew { what: "traces with a curvature", found: n, needed: FEWEST });
    }
    let bows: Vec<f64> =
        pairs.iter().map(|(k, u)| (k * k - (HALF_WITHIN * u).powi(2)).max(0.0).sqrt()).collect();
    let between = plain_median(&bows) / HALF_WITHIN;
    // As for a law with the scatter of each trace known: in proportion to its density at the median.
    let weights: Vec<f64> = pairs.iter().map(|(_, u)| 1.0 / between.hypot(*u)).collect();
    let signed: Vec<f64> = pairs.iter().map(|pair| pair.0).collect();
    let resolved: Vec<f64> =
        pairs.iter().filter(|(v, u)| v.abs() > RESOLVED_BEYOND * u).map(|pair| pair.0).collect();
    let left = resolved.iter().filter(|v| **v > 0.0).count();
    let right = resolved.len() - left;
    let either = (left + right) as f64;
    let limits: Vec<f64> = pairs.iter().map(|(_, u)| 1.0 / (RESOLVED_BEYOND * u)).collect();
    Ok(Straightness {
        count: n,
        resolved: resolved.len(),
        resolved_share: resolved.len() as f64 / n as f64,
        resolved_signs: (left, right),
        sign_consistency: (either > 0.0).then(|| (left as f64 - right as f64).abs() / either),
        sign_p: (either > 0.0).then(|| sign_tail(left, right)),
        middle: weighted_median(&signed, &weights)?,
        typical: weighted_median(&bows, &weights)?,
        typical_radius_limit: plain_median(&limits),
    })
}

fn plain_median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.get(sorted.len() / 2).copied().unwrap_or(0.0)
}

/// Weighted median and the values a weighted sign test at 5 % does not refuse.
fn weighted_median(values: &[f64], weights: &[f64]) -> Answer<Estimate> {
    let total: f64 = weights.iter().sum();
    let squares: f64 = weights.iter().map(|w| w * w).sum();
    let carrying = (total * total / squares).round() as usize;
    if carrying < FEWEST {
        return Err(CannotTell::TooFew {
            what: "traces that carry the answer (the others are too short beside them)",
            found: carrying,
            needed: FEWEST,
        });
    }
    let mut sorted: Vec<(f64, f64)> = values.iter().copied().zip(weights.iter().copied()).collect();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let at = |share: f64| {
        let mut below = 0.0;
        let reached = sorted.iter().find(|(_, weight)| {
            below += weight / total;
            below >= share
        });
        reached.or(sorted.last()).map_or(0.0, |pair| pair.0)
    };
    // Under the truth each trace is on either side with the same chance.
    let half_width = crate::student::Z_95 * 0.5 * squares.sqrt() / total;
    let (low, high) = (at(0.5 - half_width), at(0.5 + half_width));
    Ok(Estimate { value: at(0.5), u: (high - low) / (2.0 * crate::student::Z_95), low, high })
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
