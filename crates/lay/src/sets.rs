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
    /// Captures (or stations, see [`crate::cluster::clusters`]) that hold a tenth of its traces or more. With one, the
    /// interval says nothing of how captures differ.
    pub clusters: usize,
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
/// Traces a set needs at the least, in effect: two parallel lines are no group.
const MEMBERS_NEEDED: f64 = 3.0;
/// Share of the traces a set holds at the least. Fewer are counted with those that run in no particular direction: on
/// rendered stone, groups below it were strays and lines of the rock (ours).
const LEAST_SHARE: f64 = 0.1;
/// Standard uncertainty no direction falls below, degrees: a camera tilted by 5° turns directions by up to 0.11°, even
/// distribution (reference sheet §11).
const LEAST_U_DEG: f64 = 0.064;
/// Concentrations a set may have, doubled angles: an axial spread from 0.4° (finer is below what a trace is measured to)
/// to 23° (broader is a preference, not a set).
const KAPPA_RANGE: (f64, f64) = (2.0, 5000.0);

/// A parameter costs this much more than the ln n of Schwarz's criterion. Ours, by simulation (tests/coverage.rs): with it
/// single sets of 30 to 90 traces stay single in 96 % and more (at Schwarz's price in 86 %), and two or three sets 20°
/// apart at concentration 20 are told in 95 % and more.
const PRICE_OVER_LN_N: f64 = 1.5;
/// A group of parallel traces spreads by less than about this (standard deviation, degrees)…
const BROAD_DEG: f64 = 6.0;
/// …and a spread this many times larger costs one unit, the logarithm squared. Both ours, set by the same simulation;
/// guided, pivoting and swung strokes of the forward models spread by 0.5° to 8°. Groups broader than about 11° are
/// therefore split rather than believed.
const BROAD_FACTOR: f64 = 1.2;

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
    let one = vec![0; count];
    let clusters = if clusters.len() == count { clusters } else { &one };
    let (mut candidates, criterion) = choose(&sample, options);
    let told = std::iter::from_fn(|| candidates.pop()).find_map(|candidate| {
        let laid = Laid::new(&sample, &doubled, &weights, candidate);
        laid.all_told_apart(clusters).then_some(laid)
    });
    let Some(laid) = told else {
        let even = mixture::even(&sample);
        return Sets { criterion, ..none(CannotTell::NoPreferredDirection { count }, even, count) };
    };
    let crossing = laid.crossing(clusters);
    let Laid { mixture, influences, parts } = laid;
    let spreads: Vec<Spread> = mixture
        .components
        .iter()
        .zip(&influences)
        .zip(&parts)
        .map(|((law, values), parts)| {
            held(cluster::spread(values, parts, clusters), law.share * count as f64)
        })
        .collect();
    let sets = (mixture.components.iter().zip(&spreads).zip(&parts))
        .filter_map(|((law, spread), parts)| set(law, *spread, cluster::holding(parts, clusters)))
        .collect();
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

/// A mixture with what its intervals are made of.
struct Laid {
    mixture: Mixture,
    /// Influence of every angle on every mean, radians.
    influences: Vec<Vec<f64>>,
    parts: Vec<Vec<f64>>,
}

impl Laid {
    fn new(sample: &Sample, doubled: &[f64], weights: &[f64], candidate: Candidate) -> Self {
        let common_kappa = candidate.shape.common_kappa;
        let mut mixture = mixture::settle(sample, candidate.shape, candidate.mixture);
        // Strongest first; equal shares by direction, so that the order does not depend on the search.
        mixture
            .components
            .sort_by(|a, b| b.share.total_cmp(&a.share).then(a.mean_rad.total_cmp(&b.mean_rad)));
        let influences = influence::of_means(doubled, weights, &mixture, common_kappa);
        let parts = parts(doubled, weights, &mixture);
        Self { mixture, influences, parts }
    }

    /// Whether every two sets differ by more than the 95 % interval of their difference. Several captures may each split one
    /// broad lay somewhere else: then there is no more than one set that all of them show.
    fn all_told_apart(&self, clusters: &[usize]) -> bool {
        let number = self.mixture.components.len();
        (0..number).all(|a| {
            (a + 1..number).all(|b| {
                self.difference(a, b, clusters)
                    .is_none_or(|(apart, spread)| apart > spread.factor() * spread.u)
            })
        })
    }

    /// Distance of two means on the doubled circle, radians, with its spread.
    fn difference(&self, a: usize, b: usize, clusters: &[usize]) -> Option<(f64, Spread)> {
        let components = &self.mixture.components;
        let (first, second) = (components.get(a)?, components.get(b)?);
        let pair = |all: &[Vec<f64>], join: fn(f64, f64) -> f64| -> Option<Vec<f64>> {
            Some(all.get(a)?.iter().zip(all.get(b)?).map(|(x, y)| join(*x, *y)).collect())
        };
        let influences = pair(&self.influences, |x, y| x - y)?;
        let weights = pair(&self.parts, |x, y| x + y)?;
        let members = first.share.min(second.share) * clusters.len() as f64;
        let spread = held(cluster::spread(&influences, &weights, clusters), 2.0 * members - 1.0);
        let apart = (first.mean_rad - second.mean_rad).cos().clamp(-1.0, 1.0).acos();
        Some((apart, spread))
    }

    /// Acute angle between the two strongest sets.
    fn crossing(&self, clusters: &[usize]) -> Answer<Estimate> {
        let Some((apart, spread)) = self.difference(0, 1, clusters) else {
            return Err(CannotTell::OneSet { sets: self.mixture.components.len() });
        };
        let u_deg = (0.5 * spread.u.to_degrees()).hypot(LEAST_U_DEG);
        let estimate = Estimate::symmetric(0.5 * apart.to_degrees(), u_deg, spread.factor());
        Ok(Estimate { low: estimate.low.max(0.0), high: estimate.high.min(90.0), ..estimate })
    }
}

/// Weight with which every angle takes part in every law: shape `(laws, n)`.
fn parts(doubled: &[f64], weights: &[f64], mixture: &Mixture) -> Vec<Vec<f64>> {
    let members: Vec<Vec<f64>> = doubled.iter().map(|&angle| mixture.membership(angle)).collect();
    let of = |law: usize| {
        let each = members.iter().zip(weights);
        each.map(|(shares, weight)| weight * shares.get(law).copied().unwrap_or(0.0)).collect()
    };
    (0..mixture.components.len()).map(of).collect()
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

/// A mixture that was tried, and what it is worth (less is better).
struct Candidate {
    mixture: Mixture,
    shape: Shape,
    worth: f64,
}

/// The best mixtures of one, two, … sets up to the best of all, and the criterion by number of sets.
fn choose(sample: &Sample, options: SetsOptions) -> (Vec<Candidate>, Vec<(usize, f64)>) {
    let even = mixture::even(sample);
    let mut criterion = vec![(0, -2.0 * even.ln_likelihood)];
    let (mut tried, mut kept): (Vec<Candidate>, usize) = (Vec::new(), 0);
    let mut least = -2.0 * even.ln_likelihood;
    let mut before: [Option<Mixture>; 2] = [None, None];
    let mut worse_in_a_row = 0;
    let most = options.most_sets.min((sample.total() / MEMBERS_NEEDED) as usize);
    for components in 1..=most {
        let found = candidates(sample, components, &mut before);
        let Some(winner) = found.into_iter().reduce(|a, b| if b.worth < a.worth { b } else { a }) else {
            worse_in_a_row += 1;
            continue;
        };
        criterion.push((components, winner.worth));
        let worth = winner.worth;
        tried.push(winner);
        if worth < least {
            least = worth;
            kept = tried.len();
            worse_in_a_row = 0;
        } else {
            worse_in_a_row += 1;
        }
        // Two sets at right angles may need both before either pays; once a set is found, the next one pays or none does.
        if worse_in_a_row >= if kept > 0 { 1 } else { 2 } {
            break;
        }
    }
    tried.truncate(kept);
    (tried, criterion)
}

/// The mixtures of `components` sets: with and without a background; with free and equal shares; with a common spread and
/// spreads of their own.
fn candidates(sample: &Sample, components: usize, before: &mut [Option<Mixture>; 2]) -> Vec<Candidate> {
    let mut found = Vec::new();
    for (slot, background) in before.iter_mut().zip([false, true]) {
        let shape = Shape {
            components,
            background,
            common_kappa: true,
            equal_shares: false,
            kappa_range: KAPPA_RANGE,
        };
        let free = mixture::fit(sample, shape, slot.as_ref());
        if components > 1 {
            for shape in [Shape { equal_shares: true, ..shape }, Shape { common_kappa: false, ..shape }] {
                let mixture = mixture::refit(sample, shape, free.clone());
                found.extend(Candidate::new(sample, mixture, shape));
            }
        }
        found.extend(Candidate::new(sample, free.clone(), shape));
        *slot = Some(free);
    }
    found
}

impl Candidate {
    /// `None` where a set would have too few traces, or there are too few for the number of parameters.
    fn new(sample: &Sample, mixture: Mixture, shape: Shape) -> Option<Self> {
        let count = sample.total();
        let shares = if shape.equal_shares { 0 } else { shape.components - 1 };
        let kappas = if shape.common_kappa { 1 } else { shape.components };
        let parameters = (shape.components + kappas + shares + usize::from(shape.background)) as f64;
        let spare = count - parameters - 1.0;
        let smallest = mixture.components.iter().map(|law| law.share * count).fold(f64::INFINITY, f64::min);
        if spare <= 0.0 || smallest < MEMBERS_NEEDED.max(LEAST_SHARE * count) {
            return None;
        }
        // The small-sample factor is that of Hurvich & Tsai 1989 (from memory, source not seen).
        let price = (count.ln() + PRICE_OVER_LN_N) * count / spare;
        let breadth: f64 = mixture.components.iter().take(kappas).map(|law| too_broad(law.kappa)).sum();
        Some(Self { worth: -2.0 * mixture.ln_likelihood + parameters * price + breadth, mixture, shape })
    }
}

/// Price of a concentration too small for a group of parallel traces.
fn too_broad(kappa: f64) -> f64 {
    let spread_deg = (0.5 / kappa.sqrt()).to_degrees();
    ((spread_deg / BROAD_DEG).ln() / BROAD_FACTOR.ln()).max(0.0).powi(2)
}

/// A set of few traces knows its spread from few.
fn held(spread: Spread, members: f64) -> Spread {
    Spread { degrees: spread.degrees.min((members - 1.0).max(1.0)), ..spread }
}

fn set(law: &Component, spread: Spread, clusters: usize) -> Option<Set> {
    let direction = axial::halved(law.mean_rad)?;
    let u_deg = (0.5 * spread.u.to_degrees()).hypot(LEAST_U_DEG);
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
        clusters,
    })
}
