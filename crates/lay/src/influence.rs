//! How much each angle moves the fitted means of a mixture: the linear term of their error.

use std::f64::consts::TAU;

use nalgebra::{DMatrix, DVector};

use crate::bessel;
use crate::mixture::Mixture;

/// Step of the numerical derivative: parameters are logits, radians and log concentrations, all of order one.
const STEP: f64 = 1e-5;

/// Influence of every angle on the mean direction (radians) of every law: shape `(laws, n)`.
///
/// # Source
/// Sandwich form for maximum likelihood: inverse curvature of the log-likelihood times each angle's score (Huber 1967;
/// White 1982, from memory). Membership uncertainty is included, for the shares and concentrations are parameters too.
pub(crate) fn of_means(
    angles_rad: &[f64],
    weights: &[f64],
    mixture: &Mixture,
    common_kappa: bool,
) -> Vec<Vec<f64>> {
    let point = Point::of(mixture, common_kappa);
    let scores: Vec<DVector<f64>> =
        angles_rad.iter().zip(weights).map(|(&angle, &weight)| point.score(angle) * weight).collect();
    let size = point.values.len();
    let mut curvature = DMatrix::zeros(size, size);
    for column in 0..size {
        let slope = (point.moved(column, STEP).gradient(angles_rad, weights)
            - point.moved(column, -STEP).gradient(angles_rad, weights))
            / (-2.0 * STEP);
        curvature.set_column(column, &slope);
    }
    let curvature = 0.5 * (&curvature + curvature.transpose());
    let laws = mixture.components.len();
    let Some(inverse) = curvature.try_inverse().filter(|inverse| positive_means(inverse, laws)) else {
        return alone(angles_rad, weights, mixture);
    };
    (0..laws).map(|law| scores.iter().map(|score| (inverse.row(law) * score)[0]).collect()).collect()
}

/// At a maximum the variances are positive; a fit held at the edge of the allowed concentrations may not be at one.
fn positive_means(inverse: &DMatrix<f64>, laws: usize) -> bool {
    inverse.iter().all(|value| value.is_finite()) && (0..laws).all(|law| inverse[(law, law)] > 0.0)
}

/// Influence on each mean with the memberships held fixed.
fn alone(angles_rad: &[f64], weights: &[f64], mixture: &Mixture) -> Vec<Vec<f64>> {
    let members: Vec<Vec<f64>> = angles_rad.iter().map(|&angle| mixture.membership(angle)).collect();
    let pulls = |law: usize, mean: f64, part: fn(f64) -> f64| -> Vec<f64> {
        let each = angles_rad.iter().zip(weights).zip(&members);
        each.map(|((&angle, &weight), shares)| {
            weight * shares.get(law).copied().unwrap_or(0.0) * part(angle - mean)
        })
        .collect()
    };
    let one = |(law, component): (usize, &crate::mixture::Component)| {
        let total: f64 = pulls(law, component.mean_rad, f64::cos).iter().sum();
        let total = if total > 0.0 { total } else { f64::MIN_POSITIVE };
        pulls(law, component.mean_rad, f64::sin).into_iter().map(|pull| pull / total).collect()
    };
    mixture.components.iter().enumerate().map(one).collect()
}

/// A mixture as a point of its parameters: means, then log concentrations, then logits of the shares against the last.
#[derive(Clone)]
struct Point {
    values: DVector<f64>,
    laws: usize,
    common_kappa: bool,
    background: bool,
}

impl Point {
    fn of(mixture: &Mixture, common_kappa: bool) -> Self {
        let laws = mixture.components.len();
        let background = mixture.background > 0.0;
        let mut values: Vec<f64> = mixture.components.iter().map(|law| law.mean_rad).collect();
        let kappas = if common_kappa { 1 } else { laws };
        values.extend(mixture.components.iter().take(kappas).map(|law| law.kappa.ln()));
        let mut shares: Vec<f64> = mixture.components.iter().map(|law| law.share.max(1e-9)).collect();
        if background {
            shares.push(mixture.background.max(1e-9));
        }
        let last = shares.pop().unwrap_or(1.0);
        values.extend(shares.iter().map(|share| (share / last).ln()));
        Self { values: DVector::from_vec(values), laws, common_kappa, background }
    }

    fn moved(&self, index: usize, step: f64) -> Self {
        let mut moved = self.clone();
        moved.values[index] += step;
        moved
    }

    fn kappa_index(&self, law: usize) -> usize {
        self.laws + if self.common_kappa { 0 } else { law }
    }

    fn logit_start(&self) -> usize {
        self.laws + if self.common_kappa { 1 } else { self.laws }
    }

    /// Shares of the laws and, last, of the background.
    fn shares(&self) -> Vec<f64> {
        let mut parts: Vec<f64> =
            self.values.iter().skip(self.logit_start()).map(|logit| logit.exp()).collect();
        parts.push(1.0);
        let total: f64 = parts.iter().sum();
        parts.iter_mut().for_each(|part| *part /= total);
        if !self.background {
            parts.push(0.0);
        }
        parts
    }

    fn score(&self, angle: f64) -> DVector<f64> {
        let mut sum = DVector::zeros(self.values.len());
        self.terms().add_score(self, angle, 1.0, &mut sum);
        sum
    }

    fn gradient(&self, angles_rad: &[f64], weights: &[f64]) -> DVector<f64> {
        let terms = self.terms();
        let mut sum = DVector::zeros(self.values.len());
        for (&angle, &weight) in angles_rad.iter().zip(weights) {
            terms.add_score(self, angle, weight, &mut sum);
        }
        sum
    }

    fn terms(&self) -> Terms {
        let shares = self.shares();
        let laws = (0..self.laws)
            .map(|law| {
                let kappa = self.values[self.kappa_index(law)].exp();
                let peak = shares[law] / (TAU * bessel::i0_scaled(kappa));
                Law { mean: self.values[law], kappa, peak, resultant: bessel::mean_resultant(kappa) }
            })
            .collect();
        Terms { laws, background: shares[self.laws] / TAU, shares }
    }
}

struct Law {
    mean: f64,
    kappa: f64,
    peak: f64,
    resultant: f64,
}

/// What does not depend on the angle.
struct Terms {
    laws: Vec<Law>,
    background: f64,
    shares: Vec<f64>,
}

impl Terms {
    fn add_score(&self, point: &Point, angle: f64, weight: f64, sum: &mut DVector<f64>) {
        let density = |law: &Law| law.peak * (law.kappa * ((angle - law.mean).cos() - 1.0)).exp();
        let total = (self.laws.iter().map(density).sum::<f64>() + self.background).max(f64::MIN_POSITIVE);
        let logits = sum.len() - point.logit_start();
        for (index, law) in self.laws.iter().enumerate() {
            let member = density(law) / total;
            let (sin, cos) = (angle - law.mean).sin_cos();
            sum[index] += weight * member * law.kappa * sin;
            sum[point.kappa_index(index)] += weight * member * law.kappa * (cos - law.resultant);
            if index < logits {
                sum[point.logit_start() + index] += weight * (member - self.shares[index]);
            }
        }
    }
}
