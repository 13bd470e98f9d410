//! Whether angles are spread evenly over the circle: Rayleigh, Kuiper and Watson, and the test of a known direction.
//!
//! Rayleigh's test sees only one broad preference; a tight minor set on an even ground, or two sets at right angles,
//! escape it. Kuiper's and Watson's see both, so the describing functions use Watson's.

use std::f64::consts::{PI, TAU};

use crate::circular;

/// Rayleigh's statistic `z = nR̄²`.
#[must_use]
pub fn rayleigh_z(count: usize, resultant: f64) -> f64 {
    count as f64 * resultant * resultant
}

/// Large-sample tail of Rayleigh's test, `e^(−z)`.
#[must_use]
pub fn rayleigh_p_large(count: usize, resultant: f64) -> f64 {
    (-rayleigh_z(count, resultant)).exp()
}

/// Tail of Rayleigh's test by the four-term expansion; where the expansion leaves `[0, 1]` (strong concentration, small
/// samples: it goes negative at n = 10, R̄ = 0.952) the closed form of [`rayleigh_p_closed`] stands in.
///
/// # Source
/// Wilkie 1983, as carried by astropy 8.0 `rayleightest` (seen), whose negative values are the trap avoided here.
#[must_use]
pub fn rayleigh_p(count: usize, resultant: f64) -> f64 {
    let n = count as f64;
    let z = rayleigh_z(count, resultant);
    let first = (2.0 * z - z * z) / (4.0 * n);
    let second = (24.0 * z - 132.0 * z * z + 76.0 * z.powi(3) - 9.0 * z.powi(4)) / (288.0 * n * n);
    let p = (-z).exp() * (1.0 + first - second);
    if p > 0.0 && p <= 1.0 { p } else { rayleigh_p_closed(count, resultant) }
}

/// Tail of Rayleigh's test in closed form, always in `(0, 1]`.
///
/// # Source
/// Zar 2010, *Biostatistical Analysis*, eq. 27.4 (from memory, source not seen).
#[must_use]
pub fn rayleigh_p_closed(count: usize, resultant: f64) -> f64 {
    let n = count as f64;
    let length = n * resultant;
    ((1.0 + 4.0 * n + 4.0 * (n * n - length * length)).sqrt() - (1.0 + 2.0 * n)).exp().min(1.0)
}

/// A statistic of a test of evenness with its small-sample form and tail probability.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Evenness {
    /// The statistic itself.
    pub statistic: f64,
    /// Its form whose law hardly depends on the sample size.
    pub modified: f64,
    /// Probability of at least this under an even spread, from the asymptotic law of the modified form.
    pub p: f64,
}

/// Kuiper's test; `None` for no angles. Does not depend on where zero is.
///
/// # Source
/// Kuiper's V and V* as in R `circular` `kuiper.test` (seen).
#[must_use]
pub fn kuiper(angles_rad: &[f64]) -> Option<Evenness> {
    let turns = sorted_turns(angles_rad);
    if turns.is_empty() {
        return None;
    }
    let n = turns.len() as f64;
    let (mut above, mut below) = (f64::NEG_INFINITY, f64::NEG_INFINITY);
    for (index, turn) in turns.iter().enumerate() {
        above = above.max((index as f64 + 1.0) / n - turn);
        below = below.max(turn - index as f64 / n);
    }
    let statistic = above + below;
    let modified = statistic * (n.sqrt() + 0.155 + 0.24 / n.sqrt());
    Some(Evenness { statistic, modified, p: kuiper_tail(modified) })
}

/// Asymptotic tail of Kuiper's modified statistic.
#[must_use]
pub fn kuiper_tail(modified: f64) -> f64 {
    // Below this the series of alternating large terms no longer tells the tail from 1.
    if modified < 0.4 {
        return 1.0;
    }
    let terms = (1..=200).map(|j| {
        let a = 2.0 * f64::from(j * j) * modified * modified;
        2.0 * (2.0 * a - 1.0) * (-a).exp()
    });
    terms.sum::<f64>().clamp(0.0, 1.0)
}

/// Watson's test of evenness; `None` for no angles. Does not depend on where zero is.
///
/// # Source
/// Watson's U² and U*² as in R `circular` `watson.test` (seen).
#[must_use]
pub fn watson(angles_rad: &[f64]) -> Option<Evenness> {
    let turns = sorted_turns(angles_rad);
    if turns.is_empty() {
        return None;
    }
    let n = turns.len() as f64;
    let mean = turns.iter().sum::<f64>() / n;
    let squares: f64 = turns
        .iter()
        .enumerate()
        .map(|(index, turn)| (turn - mean - (2.0 * index as f64 + 1.0) / (2.0 * n) + 0.5).powi(2))
        .sum();
    let statistic = squares + 1.0 / (12.0 * n);
    let modified = (statistic - 0.1 / n + 0.1 / (n * n)) * (1.0 + 0.8 / n);
    Some(Evenness { statistic, modified, p: watson_tail(modified) })
}

/// Asymptotic tail of Watson's U², one-sample (modified form) and two-sample alike.
#[must_use]
pub fn watson_tail(modified: f64) -> f64 {
    // Below this the tail is 1 to more digits than the alternating series keeps.
    if modified < 0.015 {
        return 1.0;
    }
    let term = |m: i32| (-2.0 * f64::from(m * m) * PI * PI * modified).exp();
    (1..=60).map(|m| if m % 2 == 1 { 2.0 * term(m) } else { -2.0 * term(m) }).sum::<f64>().clamp(0.0, 1.0)
}

/// Test against a direction named beforehand (V test): `V = R·cos(mean − μ₀)` and `u = V·√(2/n)`, to be read as a
/// standard normal value. `None` for no angles.
///
/// # Source
/// Zar 2010, example 27.2 (value seen in a public test file).
#[must_use]
pub fn known_direction(angles_rad: &[f64], expected_rad: f64) -> Option<(f64, f64)> {
    let m = circular::moments(angles_rad, &[])?;
    let n = m.count as f64;
    let v = n * m.resultant * (m.mean_rad - expected_rad).cos();
    Some((v, v * (2.0 / n).sqrt()))
}

fn sorted_turns(angles_rad: &[f64]) -> Vec<f64> {
    let mut turns: Vec<f64> = angles_rad.iter().map(|&angle| circular::fold(angle) / TAU).collect();
    turns.sort_by(f64::total_cmp);
    turns
}
