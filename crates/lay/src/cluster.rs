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
/// zero) and the cluster of each trace, both of shape `(n,)`.
///
/// With one cluster every trace stands for itself. With two, the larger of the two variances counts. With three or
/// more the clusters stand for themselves, with Student's factor for their effective number.
#[must_use]
pub fn spread(influences: &[f64], clusters: &[usize]) -> Spread {
    let n = influences.len() as f64;
    let by_trace: f64 = influences.iter().map(|value| value * value).sum::<f64>() * n / (n - 1.0).max(1.0);
    let trace = Spread { u: by_trace.sqrt(), degrees: (n - 1.0).max(1.0) };
    let sums = cluster_sums(influences, clusters);
    let groups = sums.len();
    if groups < 2 {
        return trace;
    }
    let g = groups as f64;
    let by_cluster = sums.iter().map(|sum| sum.0 * sum.0).sum::<f64>() * g / (g - 1.0);
    let largest: f64 = sums.iter().map(|sum| (sum.1 * sum.1) as f64).sum();
    let effective = n * n / largest;
    let cluster = Spread { u: by_cluster.sqrt(), degrees: (effective - 1.0).max(1.0) };
    if groups == 2 && trace.u >= cluster.u { trace } else { cluster }
}

/// Relative standard uncertainty of a total from how its parts differ between clusters of equal standing.
pub(crate) fn relative_scatter(parts: &[f64], clusters: &[usize]) -> Spread {
    let sums: Vec<f64> = cluster_sums(parts, clusters).into_iter().map(|sum| sum.0).collect();
    let g = sums.len() as f64;
    let total: f64 = sums.iter().sum();
    let squares: f64 = sums.iter().map(|sum| (sum - total / g).powi(2)).sum();
    Spread { u: (squares * g / (g - 1.0)).sqrt() / total, degrees: g - 1.0 }
}

/// Sum of the influences and number of members per cluster, in order of first appearance.
fn cluster_sums(influences: &[f64], clusters: &[usize]) -> Vec<(f64, usize)> {
    let mut names: Vec<usize> = clusters.to_vec();
    names.sort_unstable();
    names.dedup();
    let mut sums = vec![(0.0, 0); names.len()];
    for (value, cluster) in influences.iter().zip(clusters) {
        if let Some(sum) = names.binary_search(cluster).ok().and_then(|at| sums.get_mut(at)) {
            sum.0 += value;
            sum.1 += 1;
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
