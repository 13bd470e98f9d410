//! Spacings of parallel lines along their normal, against lines strewn at random.
//!
//! The tests are free of scale and conditional on the first and the last line of each transect: given those, the gaps
//! between lines strewn at random share the span out evenly (Dirichlet), so the edges of the field do no harm.

use rand::SeedableRng;
use rand_distr::{Distribution, Exp1};
use rand_pcg::Pcg64;

use crate::student::{chi_squared_two_sided, gamma_quantile_unit_mean};
use crate::{Answer, CannotTell};

/// Statistics of a list of spacings, all free of scale except the mean.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gaps {
    /// Number of spacings.
    pub count: usize,
    /// Mean spacing.
    pub mean: f64,
    /// Coefficient of variation, divisor n − 1.
    pub variation: f64,
    /// Largest distance to the exponential law of the same mean (Lilliefors).
    pub lilliefors: f64,
    /// Anderson–Darling statistic to the same law.
    pub anderson_darling: f64,
    /// Moran's statistic with Bartlett's factor.
    pub moran: f64,
    /// Greenwood's statistic: sum of the squared shares.
    pub greenwood: f64,
}

/// Statistics of `gaps`; `None` for fewer than two, or none positive. Zero gaps make Moran's statistic infinite; they
/// are held at a billionth of the mean.
///
/// # Source
/// Cox & Lewis 1966 ch. 6 (from memory); values against scipy 1.17 and statsmodels 0.15 (reference sheet §6).
#[must_use]
pub fn gap_statistics(gaps: &[f64]) -> Option<Gaps> {
    let n = gaps.len() as f64;
    let total: f64 = gaps.iter().sum();
    if gaps.len() < 2 || !(total > 0.0 && total.is_finite()) {
        return None;
    }
    let mean = total / n;
    let mut shares: Vec<f64> = gaps.iter().map(|gap| (gap / mean).max(1e-9)).collect();
    shares.sort_by(f64::total_cmp);
    let variance = shares.iter().map(|share| (share - 1.0).powi(2)).sum::<f64>() / (n - 1.0);
    let (mut largest, mut anderson) = (0.0_f64, 0.0);
    let mirrored = shares.iter().rev();
    for (index, (share, opposite)) in shares.iter().zip(mirrored).enumerate() {
        let law = 1.0 - (-share).exp();
        let i = index as f64;
        largest = largest.max((i + 1.0) / n - law).max(law - i / n);
        anderson += (2.0 * i + 1.0) * (law.ln() - opposite);
    }
    let logs: f64 = shares.iter().map(|share| share.ln()).sum();
    Some(Gaps {
        count: gaps.len(),
        mean,
        variation: variance.sqrt(),
        lilliefors: largest,
        anderson_darling: -n - anderson / n,
        moran: -2.0 * logs / (1.0 + (n + 1.0) / (6.0 * n)),
        greenwood: gaps.iter().map(|gap| (gap / total).powi(2)).sum(),
    })
}

impl Gaps {
    /// Two-sided tail of Moran's statistic under random strewing.
    #[must_use]
    pub fn moran_p(&self) -> f64 {
        chi_squared_two_sided(self.moran, self.count as f64 - 1.0)
    }

    /// Greenwood's statistic expected of `count` exponential spacings.
    #[must_use]
    pub fn greenwood_expected(&self) -> f64 {
        2.0 / (self.count as f64 + 1.0)
    }
}

/// Largest distance of `positions` on `[0, length]` to an even spread (Kolmogorov), with its exact tail probability.
/// `None` for none.
///
/// # Source
/// Exact tail: Marsaglia, Tsang & Wang 2003 (method from memory); value against scipy 1.17 `kstest`.
#[must_use]
pub fn position_test(positions: &[f64], length: f64) -> Option<(f64, f64)> {
    let mut shares: Vec<f64> = positions.iter().map(|position| position / length).collect();
    shares.sort_by(f64::total_cmp);
    let n = shares.len() as f64;
    let distance = shares
        .iter()
        .enumerate()
        .map(|(index, share)| ((index as f64 + 1.0) / n - share).max(share - index as f64 / n))
        .fold(f64::NEG_INFINITY, f64::max);
    (!shares.is_empty() && length > 0.0).then(|| (distance, kolmogorov_tail(shares.len(), distance)))
}

/// Lines met by one transect along the normal: positions, rising.
pub type Transect = Vec<f64>;

/// What the spacings look like.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pattern {
    /// More even than strewn lines.
    Regular,
    /// Cannot be told apart from strewn lines.
    Random,
    /// More bunched than strewn lines.
    Clustered,
}

impl Pattern {
    /// The verdict in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Regular => "more regular than lines strewn at random",
            Self::Random => "cannot be told apart from lines strewn at random",
            Self::Clustered => "more bunched than lines strewn at random",
        }
    }
}

/// The spacings of one set against lines strewn at random.
#[derive(Debug, Clone, PartialEq)]
pub struct Regularity {
    /// Statistics of the gaps beyond the resolution limit, the limit subtracted.
    pub gaps: Gaps,
    /// The gaps that `gaps` describes, rising.
    pub beyond_limit: Vec<f64>,
    /// The resolution limit: lines closer than this cannot be seen apart.
    pub limit: f64,
    /// Median gap as seen.
    pub median_gap: f64,
    /// Coefficient of variation expected of strewn lines under the same circumstances (mean of the simulated ones).
    pub variation_if_random: f64,
    /// The coefficients of variation that 95 % of the simulated strewn lines lie between.
    pub variation_if_random_95: (f64, f64),
    /// Two-sided probability of so unusual a coefficient of variation from strewn lines.
    pub p: f64,
    /// Probability of at least this Anderson–Darling statistic from strewn lines.
    pub p_shape: f64,
    /// Probability of so unusual a Moran statistic from strewn lines, two-sided.
    pub p_moran: f64,
    /// The verdict at 5 %.
    pub pattern: Pattern,
}

/// Gaps needed for a verdict: with fewer, strewn lines show variations from 0.4 to 1.6.
const GAPS_NEEDED: usize = 8;

/// Tests the gaps of `transects` against lines strewn at random, by `resamples` simulations from `seed`.
///
/// Gaps below `limit` cannot be seen; they are left out and the others counted from the limit (an exponential law cut
/// off below is the same law shifted).
///
/// # Errors
/// Fewer than eight gaps beyond the limit.
///
/// # Source
/// Ours, from the conditional evenness of Poisson points (Cox & Lewis 1966 ch. 6, from memory).
pub fn regularity(transects: &[Transect], limit: f64, resamples: usize, seed: u64) -> Answer<Regularity> {
    let gaps: Vec<Vec<f64>> =
        transects.iter().map(|positions| gaps_of(positions)).filter(|gaps| !gaps.is_empty()).collect();
    let all: Vec<f64> = gaps.iter().flatten().copied().collect();
    let shifted = beyond(&all, limit);
    if shifted.len() < GAPS_NEEDED {
        return Err(CannotTell::TooFew {
            what: "gaps between lines",
            found: shifted.len(),
            needed: GAPS_NEEDED,
        });
    }
    let seen = gap_statistics(&shifted).ok_or(CannotTell::Open { why: "all gaps are zero" })?;
    let shapes: Vec<(usize, f64)> = gaps.iter().map(|gaps| (gaps.len(), gaps.iter().sum())).collect();
    let strewn = strewn_statistics(&shapes, limit, resamples, seed);
    if strewn.is_empty() {
        return Err(CannotTell::Open { why: "the resolution limit is as large as the spacing" });
    }
    let mut sorted = all;
    sorted.sort_by(f64::total_cmp);
    let p = two_sided(&strewn, seen.variation, |gaps| gaps.variation);
    let expected = strewn.iter().map(|gaps| gaps.variation).sum::<f64>() / strewn.len() as f64;
    let mut variations: Vec<f64> = strewn.iter().map(|gaps| gaps.variation).collect();
    variations.sort_by(f64::total_cmp);
    let mut beyond_limit = shifted;
    beyond_limit.sort_by(f64::total_cmp);
    let pattern = match (p < 0.05, seen.variation < expected) {
        (false, _) => Pattern::Random,
        (true, true) => Pattern::Regular,
        (true, false) => Pattern::Clustered,
    };
    Ok(Regularity {
        gaps: seen,
        beyond_limit,
        limit,
        median_gap: crate::width::quantile(&sorted, 0.5),
        variation_if_random: expected,
        variation_if_random_95: (
            crate::width::quantile(&variations, 0.025),
            crate::width::quantile(&variations, 0.975),
        ),
        p,
        p_shape: upper(&strewn, seen.anderson_darling, |gaps| gaps.anderson_darling),
        p_moran: two_sided(&strewn, seen.moran, |gaps| gaps.moran),
        pattern,
    })
}

fn gaps_of(positions: &[f64]) -> Vec<f64> {
    let mut sorted = positions.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.windows(2).filter_map(|pair| Some(pair.get(1)? - pair.first()?)).collect()
}

fn beyond(gaps: &[f64], limit: f64) -> Vec<f64> {
    gaps.iter().filter(|gap| **gap >= limit).map(|gap| gap - limit).collect()
}

/// Statistics of simulated transects with these numbers of gaps and spans.
fn strewn_statistics(shapes: &[(usize, f64)], limit: f64, resamples: usize, seed: u64) -> Vec<Gaps> {
    let mut rng = Pcg64::seed_from_u64(seed);
    let mut all = Vec::with_capacity(resamples);
    for _ in 0..resamples {
        let mut gaps = Vec::new();
        for &(count, span) in shapes {
            let draws: Vec<f64> = (0..count).map(|_| Exp1.sample(&mut rng)).collect();
            let total: f64 = draws.iter().sum();
            gaps.extend(draws.iter().map(|draw| draw / total * span));
        }
        all.extend(gap_statistics(&beyond(&gaps, limit)));
    }
    all
}

/// Coefficients of variation of `count` spacings of lines strewn at random, rising, by `resamples` simulations: what to
/// hold a seen one against. Well below 1 in the mean for few spacings.
#[must_use]
pub fn strewn_variations(count: usize, resamples: usize, seed: u64) -> Vec<f64> {
    let statistics = strewn_statistics(&[(count, 1.0)], 0.0, resamples, seed);
    let mut variations: Vec<f64> = statistics.iter().map(|gaps| gaps.variation).collect();
    variations.sort_by(f64::total_cmp);
    variations
}

/// Share of the simulated values at least as large as `seen`, the seen one counted in.
fn upper(strewn: &[Gaps], seen: f64, of: impl Fn(&Gaps) -> f64) -> f64 {
    let as_large = strewn.iter().filter(|gaps| of(gaps) >= seen).count();
    (as_large as f64 + 1.0) / (strewn.len() as f64 + 1.0)
}

fn two_sided(strewn: &[Gaps], seen: f64, of: impl Fn(&Gaps) -> f64) -> f64 {
    let above = upper(strewn, seen, &of);
    let below =
        (strewn.iter().filter(|gaps| of(gaps) <= seen).count() as f64 + 1.0) / (strewn.len() as f64 + 1.0);
    (2.0 * above.min(below)).min(1.0)
}

/// 95 % interval of a mean spacing, relative to it, when as many lines were met as `count` strewn ones are worth.
///
/// # Source
/// Exact limits of a Poisson count (Garwood 1936, from memory) carried over to effective counts.
pub(crate) fn relative_interval(count: f64) -> (f64, f64) {
    // Half a chi-square of 2n degrees is a gamma law of shape n; the limits of a count use n below and n + 1 above.
    let few = gamma_quantile_unit_mean(count, 0.025);
    let many = gamma_quantile_unit_mean(count + 1.0, 0.975) * (1.0 + 1.0 / count);
    (1.0 / many, 1.0 / few)
}

/// Exact tail of Kolmogorov's distance by the matrix power of Durbin's recursion.
fn kolmogorov_tail(n: usize, distance: f64) -> f64 {
    let scaled = n as f64 * distance;
    // Beyond this the asymptotic law is right to more digits than anyone reads, and the matrix grows.
    if n > 200 || scaled > 60.0 {
        let x = (n as f64).sqrt() + 0.12 + 0.11 / (n as f64).sqrt();
        let lambda = x * distance;
        let sum: f64 = (1..=100)
            .map(|j| {
                (if j % 2 == 1 { 2.0 } else { -2.0 }) * (-2.0 * f64::from(j * j) * lambda * lambda).exp()
            })
            .sum();
        return if lambda < 0.2 { 1.0 } else { sum.clamp(0.0, 1.0) };
    }
    let k = scaled.floor() as usize + 1;
    let size = 2 * k - 1;
    let h = k as f64 - scaled;
    let factorial = |m: usize| (1..=m).map(|i| i as f64).product::<f64>();
    let entry = |row: usize, column: usize| {
        if row + 1 < column {
            return 0.0;
        }
        let mut top = 1.0;
        if column == 0 {
            top -= h.powi(row as i32 + 1);
        }
        if row + 1 == size {
            top -= h.powi((size - column) as i32);
        }
        if column == 0 && row + 1 == size && h > 0.5 {
            top += (2.0 * h - 1.0).powi(size as i32);
        }
        top / factorial(row + 1 - column)
    };
    let step: Vec<Vec<f64>> =
        (0..size).map(|row| (0..size).map(|column| entry(row, column)).collect()).collect();
    let mut row: Vec<f64> = (0..size).map(|column| if column + 1 == k { 1.0 } else { 0.0 }).collect();
    for i in 1..=n {
        let next: Vec<f64> = (0..size)
            .map(|column| {
                row.iter().zip(&step).map(|(a, line)| a * line.get(column).copied().unwrap_or(0.0)).sum()
            })
            .collect();
        row = next.into_iter().map(|value: f64| value * i as f64 / n as f64).collect();
    }
    (1.0 - row.get(k - 1).copied().unwrap_or(0.0)).clamp(0.0, 1.0)
}
