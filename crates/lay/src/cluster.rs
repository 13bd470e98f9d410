//! Variance of an estimate when what was counted comes in captures and stations.
//!
//! Traces of one capture are not independent witnesses: the same tool, light and camera rotation made them. The
//! estimate's influence values are summed within each cluster first. This is the first-order (linear) form of
//! resampling whole captures; it is used instead of the drawn bootstrap because with the three to six captures of a
//! station the drawn one is too narrow, while this one takes Student's factor.

use crate::coverage_factor_95;

/// Standard uncertainty with its degrees of freedom.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// Standard uncertainty.
    pub u: f64,
    /// Degrees of freedom.
    pub degrees: f64,
}

impl Spread {
    /// Factor of the 95 % interval.
    #[must_use]
    pub fn factor(self) -> f64 {
        coverage_factor_95(self.degrees)
    }

    fn half_width(self) -> f64 {
        self.factor() * self.u
    }
}

/// Which cluster each trace belongs to: its station where there are three or more, else its capture.
///
/// `captures` and `stations` name the capture and the station of every trace, shape `(n,)` both.
#[must_use]
pub fn clusters(captures: &[usize], stations: &[usize]) -> Vec<usize> {
    // Two stations give a single difference, too little to know the scatter between stations by.
    if distinct(stations) >= 3 { stations.to_vec() } else { captures.to_vec() }
}

/// Spread of an estimate from the influence of each trace on it (its share in the estimate's error, summing to about
/// zero), the weight with which each takes part (not negative; only ratios matter) and its cluster, all of shape `(n,)`.
///
/// Where one cluster holds nearly all the weight, every trace stands for itself: what one capture says of a set cannot
/// show how captures differ, and the sum of its influences is zero by construction. Otherwise the clusters stand for
/// themselves, with Student's factor for their effective number, and the interval is never narrower than the one the
/// traces alone would give: few clusters may agree by chance.
#[must_use]
pub fn spread(influences: &[f64], weights: &[f64], clusters: &[usize]) -> Spread {
    let n = influences.len() as f64;
    let by_trace: f64 = influences.iter().map(|value| value * value).sum::<f64>() * n / (n - 1.0).max(1.0);
    let trace = Spread { u: by_trace.sqrt(), degrees: (n - 1.0).max(1.0) };
    let effective = effective_clusters(weights, clusters);
    if effective < LEAST_CLUSTERS {
        return trace;
    }
    let sums = cluster_sums(influences, clusters);
    let by_cluster = sums.iter().map(|sum| sum * sum).sum::<f64>() * effective / (effective - 1.0);
    let cluster = Spread { u: by_cluster.sqrt(), degrees: (effective - 1.0).max(1.0) };
    if effective < FEW_CLUSTERS && trace.u >= cluster.u {
        return trace;
    }
    if cluster.half_width() >= trace.half_width() { cluster } else { trace }
}

/// Below this effective number of clusters nothing can be said of how they differ (1.25: one holds nine tenths).
const LEAST_CLUSTERS: f64 = 1.25;
/// Up to this number (two, allowing for unequal ones) the difference of clusters is a single figure: the larger variance counts.
const FEW_CLUSTERS: f64 = 2.2;

/// Effective number of clusters: what that many of equal weight would be worth.
pub(crate) fn effective_clusters(weights: &[f64], clusters: &[usize]) -> f64 {
    let sums = cluster_sums(weights, clusters);
    let total: f64 = sums.iter().sum();
    let squares: f64 = sums.iter().map(|sum| sum * sum).sum();
    if squares > 0.0 { total * total / squares } else { 0.0 }
}

/// Number of clusters that hold at least a tenth of the weight.
pub(crate) fn holding(weights: &[f64], clusters: &[usize]) -> usize {
    let sums = cluster_sums(weights, clusters);
    let total: f64 = sums.iter().sum();
    sums.iter().filter(|sum| **sum >= 0.1 * total && **sum > 0.0).count()
}

/// Relative standard uncertainty of a total from how its parts differ between clusters of equal standing.
pub(crate) fn relative_scatter(parts: &[f64], clusters: &[usize]) -> Spread {
    let sums = cluster_sums(parts, clusters);
    let g = sums.len() as f64;
    let total: f64 = sums.iter().sum();
    let squares: f64 = sums.iter().map(|sum| (sum - total / g).powi(2)).sum();
    Spread { u: (squares * g / (g - 1.0)).sqrt() / total, degrees: g - 1.0 }
}

/// Sum of `values` per cluster, in the order of their names.
fn cluster_sums(values: &[f64], clusters: &[usize]) -> Vec<f64> {
    let mut names: Vec<usize> = clusters.to_vec();
    names.sort_unstable();
    names.dedup();
    let mut sums = vec![0.0; names.len()];
    for (value, cluster) in values.iter().zip(clusters) {
        if let Some(sum) = names.binary_search(cluster).ok().and_then(|at| sums.get_mut(at)) {
            *sum += value;
        }
    }
    sums
}

pub(crate) fn distinct(names: &[usize]) -> usize {
    let mut names: Vec<usize> = names.to_vec();
    names.sort_unstable();
    names.dedup();
    names.len()
}
