//! Mixtures of von Mises laws over an even background, fitted by expectation and maximisation.
//!
//! Deterministic: the starts are laid out from the data, not drawn.

use std::f64::consts::TAU;

use crate::bessel;
use crate::circular::fold;

/// One von Mises law of a mixture, on the full circle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Component {
    /// Share of the sample, in `[0, 1]`.
    pub share: f64,
    /// Mean direction, `[0, 2π)`.
    pub mean_rad: f64,
    /// Concentration.
    pub kappa: f64,
}

/// A fitted mixture.
#[derive(Debug, Clone, PartialEq)]
pub struct Mixture {
    /// The laws, in the order the fit found them.
    pub components: Vec<Component>,
    /// Share of the even background.
    pub background: f64,
    /// Log-likelihood of the sample, angles in radians.
    pub ln_likelihood: f64,
}

/// Which mixture to fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shape {
    /// Number of von Mises laws.
    pub components: usize,
    /// Whether an even background takes part.
    pub background: bool,
    /// Whether all laws share one concentration.
    pub common_kappa: bool,
    /// Whether all laws have equal shares.
    pub equal_shares: bool,
    /// Smallest and largest concentration allowed: an unbounded one runs to infinity on two equal angles.
    pub kappa_range: (f64, f64),
}

/// Angles with weights, equal ones merged. Large samples are pooled in narrow bins so that a fit costs the same.
#[derive(Debug, Clone)]
pub struct Sample {
    cosines: Vec<f64>,
    sines: Vec<f64>,
    weights: Vec<f64>,
}

/// Angles beyond this number are pooled; at 2,880 bins of 1/16° (axial) the pooling is a fiftieth of any spread met.
const POOL_BEYOND: usize = 3000;
/// Bins of the full (doubled) circle for pooled samples.
const POOL_BINS: f64 = 2880.0;
/// Steps and tolerance of the short runs that choose among starts.
const TRIAL: Patience = Patience { steps: 15, settled: 1e-6 };
/// Steps and tolerance of a run whose likelihood is compared; two fits are told apart by whole units of likelihood.
const COMPARE: Patience = Patience { steps: 300, settled: 1e-8 };
/// Steps and tolerance of the run whose parameters are reported.
const REPORT: Patience = Patience { steps: 5000, settled: 1e-15 };

/// When a run stops: after so many steps, or when the likelihood changes by less than this share.
#[derive(Debug, Clone, Copy)]
struct Patience {
    steps: usize,
    settled: f64,
}

/// Candidate directions for an added law: every 10° of axis.
const SEARCH_DIRECTIONS: usize = 18;

impl Sample {
    /// Sorts and merges `angles_rad`; `weights` is empty or one per angle.
    #[must_use]
    pub fn new(angles_rad: &[f64], weights: &[f64]) -> Self {
        let pooled = angles_rad.len() > POOL_BEYOND;
        let mut pairs: Vec<(f64, f64)> = angles_rad
            .iter()
            .enumerate()
            .map(|(index, &angle)| {
                let angle = fold(angle);
                let angle = if pooled { (angle / TAU * POOL_BINS).round() * TAU / POOL_BINS } else { angle };
                (angle, weights.get(index).copied().unwrap_or(1.0))
            })
            .collect();
        pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut merged: Vec<(f64, f64)> = Vec::with_capacity(pairs.len());
        for (angle, weight) in pairs {
            match merged.last_mut() {
                Some(last) if last.0 == angle => last.1 += weight,
                _ => merged.push((angle, weight)),
            }
        }
        Self {
            cosines: merged.iter().map(|pair| pair.0.cos()).collect(),
            sines: merged.iter().map(|pair| pair.0.sin()).collect(),
            weights: merged.iter().map(|pair| pair.1).collect(),
        }
    }

    /// Sum of the weights.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.weights.iter().sum()
    }

    fn points(&self) -> impl Iterator<Item = (f64, f64, f64)> + '_ {
        self.cosines.iter().zip(&self.sines).zip(&self.weights).map(|((&c, &s), &w)| (c, s, w))
    }
}

impl Mixture {
    /// Density at an angle.
    #[must_use]
    pub fn density(&self, angle_rad: f64) -> f64 {
        let laws: f64 = self
            .components
            .iter()
            .map(|law| law.share * bessel::ln_von_mises((angle_rad - law.mean_rad).cos(), law.kappa).exp())
            .sum();
        laws + self.background / TAU
    }

    /// Log-likelihood of a sample under these parameters.
    #[must_use]
    pub fn ln_likelihood_of(&self, sample: &Sample) -> f64 {
        let densities = Densities::new(self);
        sample.points().map(|(c, s, w)| w * densities.total(c, s).ln()).sum()
    }

    /// Probability that an angle belongs to each law; the rest is background.
    #[must_use]
    pub fn membership(&self, angle_rad: f64) -> Vec<f64> {
        let total = self.density(angle_rad);
        self.components
            .iter()
            .map(|law| {
                let density =
                    law.share * bessel::ln_von_mises((angle_rad - law.mean_rad).cos(), law.kappa).exp();
                if total > 0.0 { density / total } else { 0.0 }
            })
            .collect()
    }
}

/// Fits one more law than `from` has, best of several laid-out starts, near enough to compare likelihoods; [`settle`] the
/// one that is kept.
///
/// `from` is the best mixture with one law fewer; with none, the search starts from the even density.
#[must_use]
pub fn fit(sample: &Sample, shape: Shape, from: Option<&Mixture>) -> Mixture {
    let trials = starts(sample, shape, from).into_iter().map(|start| run(sample, shape, start, TRIAL));
    let mut trials: Vec<Mixture> = trials.filter(|trial| trial.ln_likelihood.is_finite()).collect();
    // A stable sort keeps the laid-out order among equals.
    trials.sort_by(|a, b| b.ln_likelihood.total_cmp(&a.ln_likelihood));
    let settled = trials.into_iter().take(2).map(|trial| run(sample, shape, trial, COMPARE));
    settled
        .reduce(|best, next| if next.ln_likelihood > best.ln_likelihood { next } else { best })
        .unwrap_or_else(|| even(sample))
}

/// Fits every number of laws from one to `shape.components` in turn and returns the last, settled.
#[must_use]
pub fn fit_stepwise(sample: &Sample, shape: Shape) -> Mixture {
    let mut best: Option<Mixture> = None;
    for components in 1..=shape.components {
        best = Some(fit(sample, Shape { components, ..shape }, best.as_ref()));
    }
    best.map_or_else(|| even(sample), |best| settle(sample, shape, best))
}

/// Goes on from `start` until the likelihood settles.
#[must_use]
pub fn settle(sample: &Sample, shape: Shape, start: Mixture) -> Mixture {
    run(sample, shape, start, REPORT)
}

/// Goes on from a fit of another shape with as many laws, near enough to compare likelihoods.
#[must_use]
pub fn refit(sample: &Sample, shape: Shape, start: Mixture) -> Mixture {
    run(sample, shape, start, COMPARE)
}

/// The even density.
#[must_use]
pub fn even(sample: &Sample) -> Mixture {
    Mixture { components: Vec::new(), background: 1.0, ln_likelihood: -sample.total() * TAU.ln() }
}

fn starts(sample: &Sample, shape: Shape, from: Option<&Mixture>) -> Vec<Mixture> {
    let (low, high) = shape.kappa_range;
    let background = if shape.background { 0.1 } else { 0.0 };
    let assemble = |means: Vec<(f64, f64)>| {
        let share = (1.0 - background) / means.len().max(1) as f64;
        let components = means
            .into_iter()
            .map(|(mean, kappa)| Component { share, mean_rad: fold(mean), kappa: kappa.clamp(low, high) })
            .collect();
        Mixture { components, background, ln_likelihood: f64::NEG_INFINITY }
    };
    if shape.components == 0 {
        return vec![even(sample)];
    }
    let known: Vec<(f64, f64)> =
        from.map(|m| m.components.iter().map(|law| (law.mean_rad, law.kappa)).collect()).unwrap_or_default();
    let mut all = Vec::new();
    if known.len() + 1 == shape.components {
        for step in 0..SEARCH_DIRECTIONS {
            let direction = TAU * step as f64 / SEARCH_DIRECTIONS as f64;
            let mut means = known.clone();
            means.push((direction, 15.0));
            all.push(assemble(means));
        }
        for index in 0..known.len() {
            let mut means = known.clone();
            let (mean, kappa) = means.swap_remove(index);
            let apart = 1.0 / kappa.max(1.0).sqrt();
            means.push((mean - apart, 3.0 * kappa));
            means.push((mean + apart, 3.0 * kappa));
            all.push(assemble(means));
        }
    } else {
        for turn in 0..SEARCH_DIRECTIONS {
            let first = TAU * turn as f64 / (SEARCH_DIRECTIONS * shape.components) as f64;
            let means = (0..shape.components)
                .map(|k| (first + TAU * k as f64 / shape.components as f64, 4.0))
                .collect();
            all.push(assemble(means));
        }
    }
    all
}

/// The laws with what does not depend on the angle worked out beforehand.
struct Densities {
    laws: Vec<[f64; 4]>,
    background: f64,
}

impl Densities {
    fn new(mixture: &Mixture) -> Self {
        let laws = mixture
            .components
            .iter()
            .map(|law| {
                let peak = law.share / (TAU * bessel::i0_scaled(law.kappa));
                [law.mean_rad.cos(), law.mean_rad.sin(), law.kappa, peak]
            })
            .collect();
        Self { laws, background: mixture.background / TAU }
    }

    fn one(law: &[f64; 4], cos: f64, sin: f64) -> f64 {
        let [mean_cos, mean_sin, kappa, peak] = *law;
        peak * (kappa * (cos * mean_cos + sin * mean_sin - 1.0)).exp()
    }

    fn total(&self, cos: f64, sin: f64) -> f64 {
        // The floor keeps a point no law reaches from turning the likelihood into minus infinity.
        (self.laws.iter().map(|law| Self::one(law, cos, sin)).sum::<f64>() + self.background)
            .max(f64::MIN_POSITIVE)
    }
}

fn run(sample: &Sample, shape: Shape, start: Mixture, patience: Patience) -> Mixture {
    let mut mixture = start;
    let mut before = f64::NEG_INFINITY;
    for _ in 0..patience.steps {
        let (next, ln_likelihood) = step(sample, shape, &mixture);
        mixture.ln_likelihood = ln_likelihood;
        if ln_likelihood - before <= patience.settled * ln_likelihood.abs() {
            return mixture;
        }
        before = ln_likelihood;
        mixture = next;
    }
    mixture.ln_likelihood = mixture.ln_likelihood_of(sample);
    mixture
}

/// One expectation and maximisation; returns the new mixture and the likelihood of the old one.
fn step(sample: &Sample, shape: Shape, mixture: &Mixture) -> (Mixture, f64) {
    let densities = Densities::new(mixture);
    let mut sums = vec![[0.0; 3]; mixture.components.len()];
    let mut each = vec![0.0; mixture.components.len()];
    let (mut background, mut ln_likelihood, mut total) = (0.0, 0.0, 0.0);
    for (cos, sin, weight) in sample.points() {
        let mut density = densities.background;
        for (value, law) in each.iter_mut().zip(&densities.laws) {
            *value = Densities::one(law, cos, sin);
            density += *value;
        }
        let density = density.max(f64::MIN_POSITIVE);
        ln_likelihood += weight * density.ln();
        total += weight;
        let scale = weight / density;
        background += scale * densities.background;
        for (sum, value) in sums.iter_mut().zip(&each) {
            let part = scale * value;
            sum[0] += part;
            sum[1] += part * cos;
            sum[2] += part * sin;
        }
    }
    (maximise(shape, mixture, &sums, background, total), ln_likelihood)
}

fn maximise(shape: Shape, old: &Mixture, sums: &[[f64; 3]], background: f64, total: f64) -> Mixture {
    let (low, high) = shape.kappa_range;
    let along: f64 = sums.iter().map(|sum| f64::hypot(sum[1], sum[2])).sum();
    let mass: f64 = sums.iter().map(|sum| sum[0]).sum();
    let common = bessel::kappa_for(along / mass.max(f64::MIN_POSITIVE)).clamp(low, high);
    let components = sums
        .iter()
        .zip(&old.components)
        .map(|(sum, law)| {
            // A law that has lost all its points stays where it is with no share.
            if sum[0] <= 1e-12 * total {
                return Component { share: 0.0, ..*law };
            }
            let length = f64::hypot(sum[1], sum[2]);
            let own =
                if shape.common_kappa { common } else { bessel::kappa_for(length / sum[0]).clamp(low, high) };
            Component {
                share: if shape.equal_shares { mass / (total * sums.len() as f64) } else { sum[0] / total },
                mean_rad: fold(f64::atan2(sum[2], sum[1])),
                kappa: own,
            }
        })
        .collect();
    Mixture { components, background: background / total, ln_likelihood: f64::NEG_INFINITY }
}
