//! Sets of parallel traces: how many there are, their directions with intervals, and the angle at which they cross.

use quantity::AxialDeg;

use crate::axial;
use crate::cluster::{self, Spread};
use crate::influence;
use crate::mixture::{self, Component, Mixture, Sample, Shape};
use crate::{Answer, CannotTell, Estimate};

/// How sets are sought.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SetsOptions {
    /// Most sets looked for.
    pub most_sets: usize,
}

impl Default for SetsOptions {
    fn default() -> Self {
        // Finishing in more than five directions is told by no one from finishing in all.
        Self { most_sets: 5 }
    }
}

/// One group of parallel traces.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Set {
    /// Mean axis.
    pub direction: AxialDeg,
    /// Its standard uncertainty, degrees.
    pub direction_u_deg: f64,
    /// Its 95 % interval, degrees, unfolded about the direction (may leave `[0, 180)`).
    pub interval_deg: (f64, f64),
    /// Concentration of the doubled angles (von Mises).
    pub concentration: f64,
    /// Standard deviation of the axes about the mean, degrees.
    pub spread_deg: f64,
    /// Share of the traces.
    pub share: f64,
}

/// The sets of a sample, strongest first.
#[derive(Debug, Clone, PartialEq)]
pub struct Sets {
    /// The sets; empty where there is no lay.
    pub sets: Vec<Set>,
    /// Share of traces that run in no particular direction.
    pub background_share: f64,
    /// Traces looked at.
    pub count: usize,
    /// Why there are none.
    pub none_because: Option<CannotTell>,
    /// Crossing angle of the two strongest sets, degrees.
    pub crossing: Answer<Estimate>,
    /// What each number of sets was worth: number of sets, information criterion (less is better).
    pub criterion: Vec<(usize, f64)>,
    mixture: Mixture,
}

/// Traces below which no set is named: three parallel lines out of three are common by chance.
const TRACES_NEEDED: usize = 4;
/// Concentrations a set may have, doubled angles: an axial spread from 0.4° (finer is below what a trace is measured to)
/// to 23° (broader is a preference, not a set).
const KAPPA_RANGE: (f64, f64) = (2.0, 5000.0);

/// Sorts `axes` (shape `(n,)`) into sets. `weights` is empty (every trace counts once) or `(n,)` positive weights, of which
/// only the ratios matter; `clusters` is empty or names the capture or station of each trace.
///
/// The number of sets is the one with the smallest information criterion among mixtures of von Mises laws of one common
/// concentration, with and without an even background.
///
/// # Source
/// Ours; likelihoods checked on the published mixtures of Fisher's data (reference sheet §1).
#[must_use]
pub fn fit(axes: &[AxialDeg], weights: &[f64], clusters: &[usize], options: SetsOptions) -> Sets {
    let count = axes.len();
    let doubled = axial::doubled_rad(axes);
    let weights = effective_weights(weights, count);
    let sample = Sample::new(&doubled, &weights);
    if count < TRACES_NEEDED {
        return none(
            CannotTell::TooFew { what: "traces", found: count, needed: TRACES_NEEDED },
            mixture::even(&sample),
            count,
        );
    }
    let (mixture, common_kappa, criterion) = choose(&sample, options);
    if mixture.components.is_empty() {
        return Sets { criterion, ..none(CannotTell::NoPreferredDirection { count }, mixture, count) };
    }
    let one = vec![0; count];
    let clusters = if clusters.len() == count { clusters } else { &one };
    let influences = influence::of_means(&doubled, &weights, &mixture, common_kappa);
    let spreads: Vec<Spread> = mixture
        .components
        .iter()
        .zip(&influences)
        .map(|(law, values)| held(cluster::spread(values, clusters), law.share * count as f64))
        .collect();
    let sets =
        mixture.components.iter().zip(&spreads).filter_map(|(law, spread)| set(law, *spread)).collect();
    let crossing = crossing(&mixture, &influences, clusters);
    Sets {
        sets,
        background_share: mixture.background,
        count,
        none_because: None,
        crossing,
        criterion,
        mixture,
    }
}

impl Sets {
    /// The set (index into `sets`) an axis most likely belongs to; `None` for the background.
    #[must_use]
    pub fn member_of(&self, axis: AxialDeg) -> Option<usize> {
        let shares = self.mixture.membership(2.0 * axis.degrees().to_radians());
        let background = 1.0 - shares.iter().sum::<f64>();
        let (index, best) =
            shares.iter().copied().enumerate().max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)))?;
        (best > background).then_some(index)
    }

    /// Density of the fitted directions per degree of axis, for drawing over a rose.
    #[must_use]
    pub fn density_per_deg(&self, axis: AxialDeg) -> f64 {
        self.mixture.density(2.0 * axis.degrees().to_radians()) * 2.0_f64.to_radians()
    }
}

fn none(reason: CannotTell, mixture: Mixture, count: usize) -> Sets {
    Sets {
        sets: Vec::new(),
        background_share: 1.0,
        count,
        crossing: Err(reason.clone()),
        none_because: Some(reason),
        criterion: Vec::new(),
        mixture,
    }
}

/// Weights that sum to the effective number of traces, so that a criterion in them means what it says.
fn effective_weights(weights: &[f64], count: usize) -> Vec<f64> {
    let total: f64 = weights.iter().sum();
    let squares: f64 = weights.iter().map(|w| w * w).sum();
    if weights.len() != count || !(total > 0.0 && squares.is_finite()) {
        return vec![1.0; count];
    }
    weights.iter().map(|w| w * total / squares).collect()
}

/// The mixture with the smallest criterion, whether its laws share one concentration, and the criterion by number of sets.
fn choose(sample: &Sample, options: SetsOptions) -> (Mixture, bool, Vec<(usize, f64)>) {
    let ln_n = sample.total().ln();
    let even = mixture::even(sample);
    let mut best = (even.clone(), -2.0 * even.ln_likelihood);
    let mut criterion = vec![(0, best.1)];
    let mut without: Option<Mixture> = None;
    let mut with: Option<Mixture> = None;
    for components in 1..=options.most_sets {
        let shape = Shape { components, background: false, common_kappa: true, kappa_range: KAPPA_RANGE };
        let bare = mixture::fit(sample, shape, without.as_ref());
        let ground = mixture::fit(sample, Shape { background: true, ..shape }, with.as_ref());
        let parameters = 2.0 * components as f64;
        let worth = [
            (-2.0 * bare.ln_likelihood + parameters * ln_n, &bare),
            (-2.0 * ground.ln_likelihood + (parameters + 1.0) * ln_n, &ground),
        ];
        let (value, winner) = if worth[0].0 <= worth[1].0 { worth[0] } else { worth[1] };
        criterion.push((components, value));
        if value < best.1 {
            best = (winner.clone(), value);
        }
        (without, with) = (Some(bare), Some(ground));
    }
    let mut mixture = best.0;
    // Strongest first; equal shares by direction, so that the order does not depend on the search.
    mixture.components.sort_by(|a, b| b.share.total_cmp(&a.share).then(a.mean_rad.total_cmp(&b.mean_rad)));
    (mixture, true, criterion)
}

/// A set of few traces knows its spread from few.
fn held(spread: Spread, members: f64) -> Spread {
    Spread { degrees: spread.degrees.min((members - 1.0).max(1.0)), ..spread }
}

fn set(law: &Component, spread: Spread) -> Option<Set> {
    let direction = axial::halved(law.mean_rad)?;
    let u_deg = 0.5 * spread.u.to_degrees();
    // Beyond 90° either way an axis is anything.
    let half = (spread.factor() * u_deg).min(90.0);
    let resultant = crate::bessel::mean_resultant(law.kappa);
    Some(Set {
        direction,
        direction_u_deg: u_deg,
        interval_deg: (direction.degrees() - half, direction.degrees() + half),
        concentration: law.kappa,
        spread_deg: 0.5 * (-2.0 * resultant.ln()).sqrt().to_degrees(),
        share: law.share,
    })
}

/// Acute angle between the two strongest sets.
fn crossing(mixture: &Mixture, influences: &[Vec<f64>], clusters: &[usize]) -> Answer<Estimate> {
    let ([first, second, ..], [of_first, of_second, ..]) = (mixture.components.as_slice(), influences) else {
        return Err(CannotTell::OneSet { sets: mixture.components.len() });
    };
    let (Some(a), Some(b)) = (axial::halved(first.mean_rad), axial::halved(second.mean_rad)) else {
        return Err(CannotTell::OneSet { sets: mixture.components.len() });
    };
    let difference: Vec<f64> = of_first.iter().zip(of_second).map(|(x, y)| x - y).collect();
    let members = first.share.min(second.share) * clusters.len() as f64;
    let spread = held(cluster::spread(&difference, clusters), 2.0 * members - 1.0);
    let u_deg = 0.5 * spread.u.to_degrees();
    let estimate = Estimate::symmetric(a.angle_to(b), u_deg, spread.factor());
    Ok(Estimate { low: estimate.low.max(0.0), high: estimate.high.min(90.0), ..estimate })
}
