//! Permutation tests that hand whole captures round between groups, within strata.

use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64;
use rayon::prelude::*;

use crate::compare::sizes;

/// Arrangements up to this number are all tried.
const TRY_ALL: usize = 5000;

/// Which capture belongs to which group, and among which others it may be exchanged.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Permutation<'a> {
    /// Group of each capture.
    pub(crate) groups: &'a [usize],
    /// Stratum of each capture; captures change groups within their stratum only.
    pub(crate) strata: &'a [usize],
    /// Number of groups.
    pub(crate) number: usize,
}

impl Permutation<'_> {
    /// Share of the arrangements of captures whose statistic is at least that of the true one, and the smallest share there
    /// could be.
    pub(crate) fn test(
        &self,
        statistic: impl Fn(&[usize]) -> f64 + Sync,
        seed: u64,
        resamples: usize,
    ) -> (f64, f64) {
        let seen = statistic(self.groups);
        // Sums in another order differ in the last digits; those must not decide.
        let reached = |groups: &[usize]| usize::from(statistic(groups) >= seen - 1e-9 * seen.abs());
        let members = self.members();
        let sizes = self.sizes(&members);
        let ways: f64 = sizes.iter().map(|sizes| arrangements(sizes)).product();
        let twins = self.twins(&sizes) as f64;
        if ways <= TRY_ALL as f64 {
            let all = self.arrange_all(&members, sizes);
            let as_large: usize = all.par_iter().map(|groups| reached(groups)).sum();
            return (as_large as f64 / all.len() as f64, twins / all.len() as f64);
        }
        let mut rng = Pcg64::seed_from_u64(seed);
        let drawn: Vec<Vec<usize>> = (0..resamples).map(|_| self.shuffled(&members, &mut rng)).collect();
        let as_large: usize = drawn.par_iter().map(|groups| reached(groups)).sum();
        let smallest = (twins / ways).max(1.0 / (resamples as f64 + 1.0));
        ((as_large as f64 + 1.0) / (resamples as f64 + 1.0), smallest)
    }

    /// Captures of each stratum.
    fn members(&self) -> Vec<Vec<usize>> {
        let strata = self.strata.iter().max().map_or(0, |last| last + 1);
        (0..strata)
            .map(|wanted| (0..self.groups.len()).filter(|&i| self.strata.get(i) == Some(&wanted)).collect())
            .collect()
    }

    /// Captures of each group in each stratum.
    fn sizes(&self, members: &[Vec<usize>]) -> Vec<Vec<usize>> {
        let of = |captures: &Vec<usize>| {
            let groups: Vec<usize> = captures.iter().filter_map(|&i| self.groups.get(i).copied()).collect();
            sizes(&groups, self.number).into_iter().map(|size| size as usize).collect()
        };
        members.iter().map(of).collect()
    }

    /// Number of ways to rename groups that have as many captures in every stratum: the statistic stays the same.
    fn twins(&self, sizes: &[Vec<usize>]) -> usize {
        let mut of_group: Vec<Vec<usize>> = (0..self.number)
            .map(|group| sizes.iter().filter_map(|sizes| sizes.get(group).copied()).collect())
            .collect();
        of_group.sort_unstable();
        of_group.chunk_by(|a, b| a == b).map(|same| (1..=same.len()).product::<usize>()).product()
    }

    /// Every arrangement: each of one stratum with each of the others.
    fn arrange_all(&self, members: &[Vec<usize>], sizes: Vec<Vec<usize>>) -> Vec<Vec<usize>> {
        let mut all = vec![self.groups.to_vec()];
        for (captures, mut left) in members.iter().zip(sizes) {
            let mut ways = Vec::new();
            arrange(&mut left, &mut Vec::new(), captures.len(), &mut ways);
            all =
                all.iter().flat_map(|before| ways.iter().map(|way| placed(before, captures, way))).collect();
        }
        all
    }

    fn shuffled(&self, members: &[Vec<usize>], rng: &mut Pcg64) -> Vec<usize> {
        let mut shuffled = self.groups.to_vec();
        for captures in members {
            for last in (1..captures.len()).rev() {
                shuffled.swap(captures[last], captures[rng.random_range(0..=last)]);
            }
        }
        shuffled
    }
}

/// Number of ways to hand captures to groups of these sizes.
fn arrangements(sizes: &[usize]) -> f64 {
    let mut ways = 1.0;
    let mut placed = 0;
    for &size in sizes {
        for i in 1..=size {
            placed += 1;
            ways *= f64::from(placed) / i as f64;
        }
    }
    ways
}

fn arrange(left: &mut [usize], done: &mut Vec<usize>, total: usize, all: &mut Vec<Vec<usize>>) {
    if done.len() == total {
        all.push(done.clone());
        return;
    }
    for group in 0..left.len() {
        if left[group] > 0 {
            left[group] -= 1;
            done.push(group);
            arrange(left, done, total, all);
            done.pop();
            left[group] += 1;
        }
    }
}

/// The arrangement with some captures handed to other groups.
fn placed(before: &[usize], captures: &[usize], groups: &[usize]) -> Vec<usize> {
    let mut after = before.to_vec();
    for (&capture, &group) in captures.iter().zip(groups) {
        if let Some(slot) = after.get_mut(capture) {
            *slot = group;
        }
    }
    after
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn arrangements_are_counted() {
        let mut all = Vec::new();
        arrange(&mut [2, 1, 1], &mut Vec::new(), 4, &mut all);
        assert_eq!(all.len() as f64, arrangements(&[2, 1, 1]));
        assert_eq!(arrangements(&[3, 3, 3, 3]), 369_600.0);
    }

    #[test]
    fn captures_stay_in_their_stratum() {
        let permutation = Permutation { groups: &[0, 0, 1, 1, 0, 1], strata: &[0, 0, 0, 0, 1, 1], number: 2 };
        let members = permutation.members();
        let all = permutation.arrange_all(&members, permutation.sizes(&members));
        assert_eq!(all.len(), 6 * 2);
        assert!(all.iter().all(|groups| groups[4] + groups[5] == 1));
        // Both groups have two captures in one stratum and one in the other: they may change names.
        let (p, smallest) = permutation.test(|groups| f64::from(groups == [0, 0, 1, 1, 0, 1]), 1, 99);
        assert_eq!((p, smallest), (1.0 / 12.0, 2.0 / 12.0));
    }
}
