//! From several models' scores to one cautious ratio for each pair, and the rules that keep it cautious.

use crate::bytes::{Reader, Writer};
use crate::strata::{N_STRATA, WIDE};
use std::f64::consts::LN_10;

/// What was learnt about one pair of finishes from objects no model had seen.
#[derive(Debug, Clone, PartialEq)]
pub struct PairRule {
    /// First finish.
    pub a: usize,
    /// Second finish.
    pub b: usize,
    /// Factor on the envelope's log10 ratio, 0 to 1: as large as keeps wrong ratios rare in every stratum.
    pub temper: f64,
    /// Chance of a reported ratio of ten or more the right way, the worse of both truths, under the wide prior.
    pub power: f64,
    /// The same chance in the least favourable of the other strata.
    pub least_power: f64,
    /// Share of ratios of ten or more the wrong way, mean of both truths, worst stratum.
    pub wrong: f64,
    /// Its stratum.
    pub worst_stratum: usize,
}

/// Most wrong ratios of ten or more allowed in any stratum (an eighth of the bar: chosen on
/// test objects beyond the priors, `benches/weigh`).
const MOST_WRONG_TEN: f64 = 0.0025;
/// Most wrong ratios of ten or more allowed among the objects at one end of one parameter (half the bar).
const MOST_WRONG_AT_EDGE: f64 = 0.004;
/// Most wrong ratios of a hundred or more allowed in any stratum.
const MOST_WRONG_HUNDRED: f64 = 0.002;
/// Power below which a pair is not reported at all: the pictures cannot decide it by design (study §5, 8, with one half; beyond the
/// priors that left 2.4 % wrong ratios of ten or more, three tenths 12 %, six tenths none: `benches/weigh`).
pub const LEAST_POWER: f64 = 0.6;
/// Most any visit may say, log10: just below a hundred. Marks of kinds that are not modelled pass the test of fit too often
/// to say more without reference panels (`benches/weigh`: wandering lines at 12 mm × 4 were given a hundred or more in
/// 62 % of objects before this cap).
const CLOSED_SET_CAP: f64 = 1.9;
/// Most a visit of one field may say: one place is not the object, and other marks may look alike in it (ours).
const ONE_FIELD_CAP: f64 = 1.5;

/// log10 ratio below which two finishes count as not told apart (study §5, 8: wording rule).
pub const TOLD_APART: f64 = 0.5;

/// The log10 ratio nearest to nothing over all models; 0 where they disagree about its sign.
pub fn envelope(members: &[&[f64]], a: usize, b: usize) -> f64 {
    let ratios = members.iter().map(|scores| (scores[a] - scores[b]) / LN_10);
    let (low, high) = span(ratios);
    if low > 0.0 {
        low
    } else if high < 0.0 {
        high
    } else {
        0.0
    }
}

/// Lowest and highest of some ratios.
pub fn span(ratios: impl Iterator<Item = f64>) -> (f64, f64) {
    ratios.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), ratio| (low.min(ratio), high.max(ratio)))
}

/// Factor by which a ratio counts that favours a finish which itself fits with chance `p` (ours: full from 10 % on).
pub fn gate(p: f64) -> f64 {
    (p / 0.1).clamp(0.0, 1.0)
}

/// Held-out envelope ratios of one pair.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PairSample {
    /// For each stratum, those of objects of `a` and those of objects of `b`.
    pub strata: [(Vec<f64>, Vec<f64>); N_STRATA],
    /// For each end of each parameter of `a`, those of its objects there.
    pub edges_of_a: Vec<Vec<f64>>,
    /// The same for `b`.
    pub edges_of_b: Vec<Vec<f64>>,
}

impl PairSample {
    /// Adds the ratio of an object of finish `class`, if it belongs to the pair.
    pub fn add(&mut self, stratum: usize, class: usize, (a, b): (usize, usize), ratio: f64) {
        let (of_a, of_b) = &mut self.strata[stratum.min(N_STRATA - 1)];
        if class == a {
            of_a.push(ratio);
        } else if class == b {
            of_b.push(ratio);
        }
    }

    /// Whether wrong ratios are rare enough everywhere if ratios count by this factor.
    fn bears(&self, temper: f64, cap: f64) -> bool {
        let (ten, hundred) = (1.0 / temper.max(1e-9), 2.0 / temper.max(1e-9));
        let in_strata = self.strata.iter().all(|(of_a, of_b)| {
            wrong_share(of_a, of_b, ten) <= MOST_WRONG_TEN
                && (cap < 2.0 || wrong_share(of_a, of_b, hundred) <= MOST_WRONG_HUNDRED)
        });
        in_strata
            && self.edges_of_a.iter().all(|edge| share(edge, |r| -r >= ten) <= MOST_WRONG_AT_EDGE)
            && self.edges_of_b.iter().all(|edge| share(edge, |r| r >= ten) <= MOST_WRONG_AT_EDGE)
    }
}

impl PairRule {
    /// Finds the largest factor that keeps wrong ratios rare in every stratum and at every edge.
    #[must_use]
    pub fn learn(a: usize, b: usize, sample: &PairSample, cap: f64) -> PairRule {
        let temper = (0..=20)
            .rev()
            .map(|k| f64::from(k) / 20.0)
            .find(|temper| sample.bears(*temper, cap))
            .unwrap_or(0.0);
        let threshold = 1.0 / temper.max(1e-9);
        let right = |(of_a, of_b): &(Vec<f64>, Vec<f64>)| {
            share(of_a, |r| r >= threshold).min(share(of_b, |r| -r >= threshold))
        };
        let power = right(&sample.strata[WIDE]);
        let least_power = sample.strata.iter().map(right).fold(1.0, f64::min);
        let (mut wrong, mut worst_stratum) = (0.0, WIDE);
        for (stratum, (of_a, of_b)) in sample.strata.iter().enumerate() {
            let found = wrong_share(of_a, of_b, threshold);
            if found > wrong {
                (wrong, worst_stratum) = (found, stratum);
            }
        }
        PairRule { a, b, temper, power, least_power, wrong, worst_stratum }
    }

    /// Its power, or 0 where the pair is silent by design.
    #[must_use]
    pub fn spoken_power(&self) -> f64 {
        if self.power < LEAST_POWER { 0.0 } else { self.power }
    }

    /// The reported log10 ratio of an envelope ratio.
    #[must_use]
    pub fn report(&self, envelope: f64, cap: f64) -> f64 {
        if self.power < LEAST_POWER { 0.0 } else { (self.temper * envelope).clamp(-cap, cap) }
    }

    pub(crate) fn write(&self, out: &mut Writer) {
        [self.a, self.b, self.worst_stratum].into_iter().for_each(|value| out.count(value));
        [self.temper, self.power, self.least_power, self.wrong]
            .into_iter()
            .for_each(|value| out.number(value));
    }

    pub(crate) fn read(from: &mut Reader<'_>) -> Option<PairRule> {
        let (a, b, worst_stratum) = (from.count()?, from.count()?, from.count()?);
        let (temper, power) = (from.number()?, from.number()?);
        let (least_power, wrong) = (from.number()?, from.number()?);
        Some(PairRule { a, b, temper, power, least_power, wrong, worst_stratum })
    }
}

fn wrong_share(of_a: &[f64], of_b: &[f64], threshold: f64) -> f64 {
    0.5 * (share(of_a, |r| -r >= threshold) + share(of_b, |r| r >= threshold))
}

fn share(values: &[f64], hit: impl Fn(f64) -> bool) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    values.iter().filter(|value| hit(**value)).count() as f64 / values.len() as f64
}

/// The largest log10 ratio that `n` held-out objects of each finish support: no error seen in n leaves a rate up to 3/n.
///
/// # Source
/// Rule of three (study §5, 6).
#[must_use]
pub fn cap(n_held_out: usize, n_fields: usize) -> f64 {
    let by_number = (n_held_out.max(4) as f64 / 3.0).log10();
    by_number.min(if n_fields < 2 { ONE_FIELD_CAP } else { CLOSED_SET_CAP })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn disagreement_is_silence() {
        assert_eq!(envelope(&[&[2.0, 0.0], &[-1.0, 0.0]], 0, 1), 0.0);
        let ln10 = LN_10;
        assert!((envelope(&[&[2.0 * ln10, 0.0], &[ln10, 0.0]], 0, 1) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn a_misleading_stratum_silences_the_pair() {
        let good = (vec![3.0; 200], vec![-3.0; 200]);
        let bad = (vec![3.0; 200], [vec![2.5; 40], vec![-3.0; 160]].concat());
        let sample = |third: &(Vec<f64>, Vec<f64>)| PairSample {
            strata: [good.clone(), good.clone(), third.clone(), good.clone(), good.clone()],
            ..PairSample::default()
        };
        let clear = PairRule::learn(0, 1, &sample(&good), 2.8);
        assert_eq!((clear.temper, clear.power), (1.0, 1.0));
        let rule = PairRule::learn(0, 1, &sample(&bad), 2.8);
        assert!(rule.temper * 2.5 < 1.0);
        assert!(rule.wrong <= MOST_WRONG_TEN);
        let edge = PairSample { edges_of_b: vec![vec![-3.0; 20], bad.1], ..sample(&good) };
        assert!(PairRule::learn(0, 1, &edge, 2.8).temper * 2.5 < 1.0);
    }

    #[test]
    fn caps() {
        assert!((cap(90, 4) - 30f64.log10()).abs() < 1e-12);
        assert!(cap(3000, 1) < cap(3000, 4) && cap(3000, 4) < 2.0);
    }
}
