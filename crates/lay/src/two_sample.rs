//! Watson's comparison of two or more samples of angles, ties included.

use crate::circular;
use crate::compare::sizes;
use crate::uniform::watson_tail;

/// A two-sample statistic with its asymptotic tail probability.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoSample {
    /// Watson's U².
    pub statistic: f64,
    /// Tail probability for independent angles, good beyond 17 of them.
    pub p: f64,
}

/// Watson's two-sample U² of angles on the full circle (axes: doubled), with ties. `None` if either sample is empty.
///
/// # Source
/// R `circular` `watson.two.test` without ties (seen); tie form checked against Zar 2010, example 27.10.
#[must_use]
pub fn watson_two_sample(first_rad: &[f64], second_rad: &[f64]) -> Option<TwoSample> {
    if first_rad.is_empty() || second_rad.is_empty() {
        return None;
    }
    let angles: Vec<f64> = first_rad.iter().chain(second_rad).copied().collect();
    let groups: Vec<usize> = (0..angles.len()).map(|index| usize::from(index >= first_rad.len())).collect();
    let ranked = Ranked::new(&angles);
    let statistic = ranked.watson(&groups, 2);
    Some(TwoSample { statistic, p: watson_tail(statistic) })
}

/// Angles sorted once; equal ones stand together.
pub(crate) struct Ranked {
    /// Indices of the angles in rising order.
    order: Vec<usize>,
    /// Lengths of the runs of equal angles.
    runs: Vec<usize>,
}

impl Ranked {
    pub(crate) fn new(angles_rad: &[f64]) -> Self {
        let folded: Vec<f64> = angles_rad.iter().map(|&angle| circular::fold(angle)).collect();
        let mut order: Vec<usize> = (0..folded.len()).collect();
        let at = |index: usize| folded.get(index).copied().unwrap_or(0.0);
        order.sort_by(|&a, &b| at(a).total_cmp(&at(b)).then(a.cmp(&b)));
        let runs = order.chunk_by(|&a, &b| at(a) == at(b)).map(<[usize]>::len).collect();
        Self { order, runs }
    }

    /// Sum over all pairs of groups of Watson's U², each weighted by the share of the pair in the whole.
    pub(crate) fn watson(&self, groups: &[usize], number: usize) -> f64 {
        let sizes = sizes(groups, number);
        let total = groups.len() as f64;
        let mut sum = 0.0;
        for a in 0..number {
            for b in a + 1..number {
                if let (Some(&n_a), Some(&n_b)) = (sizes.get(a), sizes.get(b)) {
                    sum += (n_a + n_b) / total * self.watson_pair(groups, (a, n_a), (b, n_b));
                }
            }
        }
        sum
    }

    fn watson_pair(&self, groups: &[usize], (a, n_a): (usize, f64), (b, n_b): (usize, f64)) -> f64 {
        if n_a == 0.0 || n_b == 0.0 {
            return 0.0;
        }
        let (mut met_a, mut met_b, mut sum, mut squares) = (0.0, 0.0, 0.0, 0.0);
        let mut rest = self.order.as_slice();
        for &run in &self.runs {
            let (tied, after) = rest.split_at(run);
            rest = after;
            let mut here = 0.0;
            for group in tied.iter().filter_map(|&index| groups.get(index)) {
                let (is_a, is_b) = (f64::from(*group == a), f64::from(*group == b));
                met_a += is_a;
                met_b += is_b;
                here += is_a + is_b;
            }
            let difference = met_a / n_a - met_b / n_b;
            sum += here * difference;
            squares += here * difference * difference;
        }
        let n = n_a + n_b;
        n_a * n_b / (n * n) * (squares - sum * sum / n)
    }
}
