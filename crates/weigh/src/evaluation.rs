//! How good a set of likelihood ratios is: cost, calibration, misleading evidence.
//!
//! All ratios here are given as natural logarithms unless a name says otherwise.

/// Cost of log-likelihood ratios, bits: 0 is perfect, 1 is worth nothing.
///
/// `ln_h1` holds ratios of cases where the first hypothesis is true, `ln_h2` where the second is. `NaN` if either is empty.
///
/// # Source
/// Brümmer & du Preez 2006, Computer Speech & Language 20:230-275, as in REFERENCES §5.
#[must_use]
pub fn cllr(ln_h1: &[f64], ln_h2: &[f64]) -> f64 {
    // log2(1 + e^x) without overflow.
    let cost = |x: f64| (x.max(0.0) + (-x.abs()).exp().ln_1p()) / std::f64::consts::LN_2;
    0.5 * (average(ln_h1.iter().map(|x| cost(-x))) + average(ln_h2.iter().map(|x| cost(*x))))
}

/// [`cllr`] after the best monotone recalibration of the same ratios: what is lost in discrimination alone.
#[must_use]
pub fn cllr_min(ln_h1: &[f64], ln_h2: &[f64]) -> f64 {
    let (best_h1, best_h2) = pav_ratios(ln_h1, ln_h2);
    cllr(&best_h1, &best_h2)
}

/// Pool-adjacent-violators fit: the non-decreasing sequence nearest to `values` in the least-squares sense.
///
/// # Source
/// Ayer et al. 1955; case `lr.pav_hand` of the reference sheet.
#[must_use]
pub fn pav(values: &[f64]) -> Vec<f64> {
    weighted_pav(&values.iter().map(|value| (*value, 1.0)).collect::<Vec<_>>())
}

fn weighted_pav(values: &[(f64, f64)]) -> Vec<f64> {
    // Blocks as (sum, weight, members).
    let mut blocks: Vec<(f64, f64, usize)> = Vec::new();
    for (value, weight) in values {
        blocks.push((value * weight, *weight, 1));
        while let [.., before, last] = blocks.as_slice() {
            if before.0 / before.1 < last.0 / last.1 {
                break;
            }
            let joined = (before.0 + last.0, before.1 + last.1, before.2 + last.2);
            blocks.truncate(blocks.len() - 2);
            blocks.push(joined);
        }
    }
    blocks.iter().flat_map(|(sum, weight, n)| std::iter::repeat_n(sum / weight, *n)).collect()
}

/// Recalibrated natural-log ratios by PAV; the end blocks give ∓∞, which is a property of the sample, never evidence.
#[must_use]
pub fn pav_ratios(ln_h1: &[f64], ln_h2: &[f64]) -> (Vec<f64>, Vec<f64>) {
    let mut all: Vec<(f64, bool, usize)> = ln_h1.iter().enumerate().map(|(i, x)| (*x, true, i)).collect();
    all.extend(ln_h2.iter().enumerate().map(|(i, x)| (*x, false, i)));
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    // Equal ratios are one case: they must get one value.
    let mut groups: Vec<(f64, f64)> = Vec::new();
    let mut group_of = Vec::with_capacity(all.len());
    let mut last = f64::NAN;
    for (x, first, _) in &all {
        if *x != last {
            groups.push((0.0, 0.0));
            last = *x;
        }
        if let Some(group) = groups.last_mut() {
            group.0 += f64::from(u8::from(*first));
            group.1 += 1.0;
        }
        group_of.push(groups.len() - 1);
    }
    let shares: Vec<(f64, f64)> = groups.iter().map(|(hits, n)| (hits / n, *n)).collect();
    let fitted = weighted_pav(&shares);
    let prior = (ln_h1.len() as f64 / ln_h2.len() as f64).ln();
    let (mut best_h1, mut best_h2) = (vec![0.0; ln_h1.len()], vec![0.0; ln_h2.len()]);
    for ((_, first, index), group) in all.iter().zip(group_of) {
        let p = fitted[group];
        let ratio = (p / (1.0 - p)).ln() - prior;
        if *first {
            best_h1[*index] = ratio;
        } else {
            best_h2[*index] = ratio;
        }
    }
    (best_h1, best_h2)
}

/// Share of ratios at or above a threshold (both as natural logarithms): one point of a Tippett plot.
#[must_use]
pub fn tippett(ln_ratios: &[f64], ln_threshold: f64) -> f64 {
    average(ln_ratios.iter().map(|x| f64::from(u8::from(*x >= ln_threshold))))
}

/// Mean of −ln p(truth) over ln(number of classes): 0 perfect, 1 a uniform guess.
#[must_use]
pub fn normalised_log_loss(posteriors: &[Vec<f64>], truths: &[usize]) -> f64 {
    let classes = posteriors.first().map_or(2, Vec::len) as f64;
    let losses = posteriors
        .iter()
        .zip(truths)
        .map(|(p, truth)| -p.get(*truth).copied().unwrap_or(0.0).max(1e-300).ln() / classes.ln());
    average(losses)
}

/// One bar of a reliability diagram.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReliabilityBar {
    /// Mean stated probability of the bar.
    pub stated: f64,
    /// Share of cases in which the stated class was true.
    pub happened: f64,
    /// Number of cases.
    pub n: usize,
}

/// Reliability of the most probable class in `n_bars` bars of equal width.
#[must_use]
pub fn reliability(posteriors: &[Vec<f64>], truths: &[usize], n_bars: usize) -> Vec<ReliabilityBar> {
    let mut sums = vec![(0.0, 0.0, 0_usize); n_bars];
    for (p, truth) in posteriors.iter().zip(truths) {
        let Some((best, stated)) = p.iter().copied().enumerate().max_by(|a, b| a.1.total_cmp(&b.1)) else {
            continue;
        };
        let bar = ((stated * n_bars as f64) as usize).min(n_bars.saturating_sub(1));
        if let Some(sum) = sums.get_mut(bar) {
            sum.0 += stated;
            sum.1 += f64::from(u8::from(best == *truth));
            sum.2 += 1;
        }
    }
    sums.into_iter()
        .filter(|(_, _, n)| *n > 0)
        .map(|(stated, happened, n)| ReliabilityBar {
            stated: stated / n as f64,
            happened: happened / n as f64,
            n,
        })
        .collect()
}

/// Expected calibration error of the most probable class over ten bars: mean |stated − happened|, weighted by cases.
#[must_use]
pub fn ece(posteriors: &[Vec<f64>], truths: &[usize]) -> f64 {
    let bars = reliability(posteriors, truths, 10);
    let total: usize = bars.iter().map(|bar| bar.n).sum();
    bars.iter().map(|bar| (bar.stated - bar.happened).abs() * bar.n as f64).sum::<f64>() / total.max(1) as f64
}

fn average(values: impl Iterator<Item = f64>) -> f64 {
    let (sum, n) = values.fold((0.0, 0.0), |(sum, n), value| (sum + value, n + 1.0));
    sum / n
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_calibrated_guess_has_no_calibration_error() {
        let posteriors = vec![vec![0.75, 0.25]; 4];
        assert!(ece(&posteriors, &[0, 0, 0, 1]).abs() < 1e-12);
        assert!((ece(&posteriors, &[1, 1, 1, 1]) - 0.75).abs() < 1e-12);
        assert!((normalised_log_loss(&[vec![0.5, 0.5]], &[0]) - 1.0).abs() < 1e-12);
    }
}
