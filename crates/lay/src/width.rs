//! Widths of traces: middle, range and multiplicative spread.

use quantity::Measured;

use crate::{Answer, CannotTell, Estimate, coverage_factor_95};

/// Widths of a group of traces, in the unit of the lengths.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Widths {
    /// Traces with a usable width.
    pub count: usize,
    /// Median with its distribution-free 95 % interval (for fewer than six widths their range), widened by the uncertainty of
    /// a typical width: what blur and the shape of the groove do to one width they do to all, so it does not average out.
    pub median: Estimate,
    /// Smallest.
    pub smallest: f64,
    /// Widest.
    pub widest: f64,
    /// 5 % and 95 % points of the sample.
    pub range_90: (f64, f64),
    /// Geometric mean with its 95 % interval.
    pub geometric_mean: Estimate,
    /// Multiplicative standard deviation between traces, measuring scatter removed; 1 for equal widths.
    pub factor: f64,
}

impl Widths {
    /// Widened by the relative standard uncertainty of the scale.
    #[must_use]
    pub fn with_scale(self, relative_u: f64) -> Self {
        let (median, geometric_mean) =
            (self.median.with_scale(relative_u), self.geometric_mean.with_scale(relative_u));
        Self { median, geometric_mean, ..self }
    }
}

/// Summary of `widths`, all in one unit. Not for deciding a grit: a trace's width depends on load and stone as well.
///
/// # Errors
/// No usable (positive) width.
///
/// # Source
/// Order-statistic interval of the median (binomial); multiplicative summary as for a log-normal law (Limpert, Stahel &
/// Abbt 2001, from memory).
pub fn widths(widths: &[Measured]) -> Answer<Widths> {
    let mut usable: Vec<Measured> =
        widths.iter().copied().filter(|w| w.value.is_finite() && w.value > 0.0).collect();
    usable.sort_by(|a, b| a.value.total_cmp(&b.value));
    let sorted: Vec<f64> = usable.iter().map(|w| w.value).collect();
    let (Some(&smallest), Some(&widest)) = (sorted.first(), sorted.last()) else {
        return Err(CannotTell::TooFew { what: "traces with a width", found: 0, needed: 1 });
    };
    let mut shared_u: Vec<f64> = usable.iter().map(|w| w.u).filter(|u| u.is_finite()).collect();
    shared_u.sort_by(f64::total_cmp);
    let n = sorted.len() as f64;
    let logs: Vec<f64> = sorted.iter().map(|w| w.ln()).collect();
    let mean = logs.iter().sum::<f64>() / n;
    let variance = logs.iter().map(|log| (log - mean).powi(2)).sum::<f64>() / (n - 1.0).max(1.0);
    let scatter = usable.iter().map(|w| (w.u / w.value).powi(2)).filter(|u| u.is_finite()).sum::<f64>() / n;
    // One width alone says nothing of the spread between widths; its own uncertainty is what remains.
    let (u_log, degrees) =
        if sorted.len() > 1 { ((variance / n).sqrt(), n - 1.0) } else { (scatter.sqrt(), f64::INFINITY) };
    let half = coverage_factor_95(degrees) * u_log;
    let middle = mean.exp();
    let middle_width = median(&sorted).with_common(quantile(&shared_u, 0.5));
    Ok(Widths {
        count: sorted.len(),
        median: Estimate { low: middle_width.low.max(0.0), ..middle_width },
        smallest,
        widest,
        range_90: (quantile(&sorted, 0.05), quantile(&sorted, 0.95)),
        geometric_mean: Estimate {
            value: middle,
            u: middle * u_log,
            low: (mean - half).exp(),
            high: (mean + half).exp(),
        },
        factor: (variance - scatter).max(0.0).sqrt().exp(),
    })
}

/// Median of rising values with the interval between the order statistics that hold it with at least 95 %.
fn median(sorted: &[f64]) -> Estimate {
    let n = sorted.len();
    // Ranks from the binomial law: the largest k with P(Bin(n, ½) < k) ≤ 2.5 %.
    let (mut below, mut term, mut rank) = (0.0, 0.5_f64.powi(n.min(1000) as i32), 0);
    if n <= 1000 {
        while below + term <= 0.025 {
            below += term;
            term *= (n - rank) as f64 / (rank + 1) as f64;
            rank += 1;
        }
    } else {
        rank = (0.5 * n as f64 - 0.98 * (n as f64).sqrt()) as usize;
    }
    let low_at = rank.saturating_sub(1);
    let low = sorted.get(low_at).copied().unwrap_or(0.0);
    let high = sorted.get(n - 1 - low_at.min(n - 1)).copied().unwrap_or(0.0);
    Estimate { value: quantile(sorted, 0.5), u: (high - low) / (2.0 * crate::student::Z_95), low, high }
}

/// Quantile of rising values by linear interpolation between order statistics; 0 for none.
#[must_use]
pub fn quantile(sorted: &[f64], probability: f64) -> f64 {
    let Some(last) = sorted.len().checked_sub(1) else { return 0.0 };
    let at = probability * last as f64;
    let below = at.floor() as usize;
    let (Some(a), Some(b)) = (sorted.get(below), sorted.get((below + 1).min(last))) else { return 0.0 };
    a + (at - below as f64) * (b - a)
}
