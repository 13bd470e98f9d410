//! The trained engine: simulations of one visit's geometry, and what was learnt from them.

use crate::fits::{Fits, Others};
use crate::foils;
use crate::geometry::Geometry;
use crate::key::key_of;
use crate::member::{Member, jackknife_variance, mean_of};
use crate::progress::Stage;
use crate::rules::{PairRule, TOLD_APART, cap, envelope, span};
use crate::simulate::{Simulated, foil_rows, layered_rows, simulate};
use crate::stations::{StationModel, train_stations};
use crate::strata::training_draw;
use crate::teach::{Pool, stations_left_out};
use crate::visit::{CannotWeigh, Visit};
use finish::models::Finish;
use std::f64::consts::LN_10;
use std::sync::atomic::{AtomicUsize, Ordering};

/// How to weigh.
#[derive(Debug, Clone, PartialEq)]
pub struct Options {
    /// Seed of all simulations.
    pub seed: u64,
    /// Simulated objects of each finish.
    pub objects_per_finish: usize,
    /// Prior probabilities the user typed; empty for none. They need not add up to one.
    pub typed_priors: Vec<(Finish, f64)>,
    /// Also train the variants that show what the answer rests on.
    pub sensitivity: bool,
}

impl Default for Options {
    fn default() -> Self {
        Self { seed: 1, objects_per_finish: 2000, typed_priors: Vec::new(), sensitivity: true }
    }
}

/// What a variant leaves out or changes.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Variant {
    /// In words.
    pub words: String,
    /// The station left out, if that is it.
    pub station: Option<usize>,
    pub member: Member,
}

/// A trained engine for one geometry.
#[derive(Debug, Clone, PartialEq)]
pub struct Engine {
    pub(crate) key: String,
    pub(crate) n_fields: usize,
    pub(crate) seed: u64,
    pub(crate) per_finish: usize,
    /// First the model of the stated prior, then the guards.
    pub(crate) members: Vec<Member>,
    pub(crate) fits: Fits,
    pub(crate) rules: Vec<PairRule>,
    pub(crate) variants: Vec<Variant>,
    pub(crate) stations: Vec<StationModel>,
}

/// One object judged by all models.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Judged {
    /// Calibrated scores, member by member.
    pub members: Vec<Vec<f64>>,
    /// The same from each part of every member; empty for simulated objects that only one part may judge.
    pub parts: Vec<Vec<Vec<f64>>>,
    /// For each finish, how far ratios in its favour count.
    pub gates: Vec<f64>,
}

/// What is said about one pair, log10.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Spoken {
    /// The ratio: tempered, capped, nearest to nothing.
    pub log10_lr: f64,
    /// Ends of its 95 % interval.
    pub low: f64,
    pub high: f64,
}

/// Two-sided 95 % point of the standard normal distribution.
const NORMAL_95: f64 = 1.96;
/// One object with two finishes, and one with marks of another kind, is simulated for so many with one finish.
const SINGLE_FOR_OTHER: usize = 8;
/// Share of the time at which simulating ends and teaching begins, without and with the sensitivity.
const SIMULATED_AT: (f64, f64) = (0.75, 0.5);
/// Share of the time at which teaching ends, the sensitivity still to come.
const TAUGHT_AT: f64 = 0.7;

/// What changes simulated objects before anything is learnt from them; returns how much each counts.
pub(crate) type Change<'a> = &'a dyn Fn(&mut Vec<Simulated>) -> Vec<f64>;

impl Engine {
    /// Name under which a trained engine for this visit is stored: a hash of geometry, priors, seed, numbers and version.
    #[must_use]
    pub fn key(visit: &Visit, options: &Options) -> String {
        key_of(&Geometry::of(visit), options)
    }

    /// Trains an engine for the geometry of a visit. `watch` gets the share done and returns false to stop.
    ///
    /// # Errors
    /// [`CannotWeigh`] if the visit cannot be weighed, or was interrupted.
    pub fn train(
        visit: &Visit,
        options: &Options,
        watch: &(dyn Fn(f64) -> bool + Sync),
    ) -> Result<Engine, CannotWeigh> {
        let visit = visit.weighable()?;
        Engine::for_geometry(&Geometry::of(&visit), options, watch)
    }

    /// Trains an engine for a geometry that need not come from a visit.
    ///
    /// # Errors
    /// [`CannotWeigh::Interrupted`] if `watch` says so.
    pub fn for_geometry(
        geometry: &Geometry,
        options: &Options,
        watch: &(dyn Fn(f64) -> bool + Sync),
    ) -> Result<Engine, CannotWeigh> {
        let unchanged: Change<'_> = &|pool| vec![1.0; pool.len()];
        Engine::with_change(geometry, options, unchanged, watch)
    }

    /// The same after `change` had its way with the simulated objects.
    pub(crate) fn with_change(
        geometry: &Geometry,
        options: &Options,
        change: Change<'_>,
        watch: &(dyn Fn(f64) -> bool + Sync),
    ) -> Result<Engine, CannotWeigh> {
        let whole = Stage::whole(watch);
        let simulated_at = if options.sensitivity { SIMULATED_AT.1 } else { SIMULATED_AT.0 };
        let taught_at = if options.sensitivity { TAUGHT_AT } else { 1.0 };
        let per_finish = options.objects_per_finish.max(60);
        let total = per_finish * Finish::count();
        let simulating = whole.part(0.0, simulated_at);
        let done = AtomicUsize::new(0);
        let tick = || simulating.goes_on(done.fetch_add(1, Ordering::Relaxed) as f64 / total as f64);
        let mut pool = simulate(geometry, per_finish, options.seed, &training_draw, &tick)
            .ok_or(CannotWeigh::Interrupted)?;
        let n = total / SINGLE_FOR_OTHER;
        let others = Others {
            layered: layered_rows(geometry, n, options.seed),
            foils: foil_rows(geometry, &foils::KINDS, n, options.seed),
        };
        let weights = change(&mut pool);
        let pool = Pool::new(&pool, weights);
        let mut engine = pool.teach(geometry, options, &others, whole.part(simulated_at, taught_at))?;
        if options.sensitivity {
            let rest = whole.part(taught_at, 1.0);
            engine.variants = pool.variants(rest.part(0.0, 0.3))?;
            engine.variants.extend(stations_left_out(geometry, options, rest.part(0.3, 0.8))?);
            engine.stations = train_stations(geometry, options, rest.part(0.8, 1.0))?;
        }
        whole.check(1.0)?;
        Ok(engine)
    }

    /// The name this engine is stored under.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.key
    }

    /// Power, tempering and wrong ratios of every pair, as learnt from objects no model had seen.
    #[must_use]
    pub fn rules(&self) -> &[PairRule] {
        &self.rules
    }

    /// Posterior of the stated prior's model alone, for even priors: what the log loss is measured on.
    #[must_use]
    pub fn plain_posterior(&self, row: &[f32]) -> Vec<f64> {
        self.members.first().map_or_else(Vec::new, |member| crate::calibrate::softmax(&member.scores(row)))
    }

    /// Reported log10 ratios of all pairs, in the order of [`Engine::rules`]; 0 for pairs that are not told apart.
    #[must_use]
    pub fn reported(&self, row: &[f32]) -> Vec<f64> {
        let judged = self.judge(row);
        self.rules
            .iter()
            .map(|rule| self.speak(&judged, rule))
            .map(|spoken| if spoken.tells_apart() { spoken.log10_lr } else { 0.0 })
            .collect()
    }

    /// What is said about a pair.
    pub(crate) fn speak(&self, judged: &Judged, rule: &PairRule) -> Spoken {
        let cap = self.cap();
        let log10_lr = rule.report(judged.envelope(rule.a, rule.b), cap);
        let ratio = |scores: &Vec<f64>| (scores[rule.a] - scores[rule.b]) / LN_10;
        let (low, high) = span(judged.members.iter().map(ratio));
        let margin = NORMAL_95 * judged.standard_error(rule.a, rule.b) / LN_10;
        let (low, high) = ((low - margin).clamp(-cap, cap), (high + margin).clamp(-cap, cap));
        Spoken { log10_lr, low: low.min(log10_lr), high: high.max(log10_lr) }
    }

    /// Chance that some modelled finish looks like this: `(p, because)`; small means none fits.
    #[must_use]
    pub fn fits(&self, row: &[f32]) -> (f64, String) {
        let scores = self.members.first().map_or_else(Vec::new, |member| member.scores(row));
        self.fits.judge(row, highest(&scores))
    }

    pub(crate) fn judge(&self, row: &[f32]) -> Judged {
        let parts: Vec<Vec<Vec<f64>>> =
            self.members.iter().map(|member| member.scores_of_parts(row)).collect();
        let members = parts.iter().map(|of_member| mean_of(of_member)).collect();
        Judged { members, parts, gates: self.fits.gates(row) }
    }

    pub(crate) fn cap(&self) -> f64 {
        cap(6 * self.per_finish / 10, self.n_fields)
    }
}

/// Place of the highest score, the first of equals.
pub(crate) fn highest(scores: &[f64]) -> usize {
    (0..scores.len()).fold(0, |best, index| if scores[index] > scores[best] { index } else { best })
}

impl Judged {
    /// The cautious ratio of a pair before tempering, log10.
    pub fn envelope(&self, a: usize, b: usize) -> f64 {
        let members: Vec<&[f64]> = self.members.iter().map(Vec::as_slice).collect();
        let ratio = envelope(&members, a, b);
        ratio * self.gates.get(if ratio > 0.0 { a } else { b }).copied().unwrap_or(0.0)
    }

    /// Standard error of a natural-log ratio from the limited number of simulations: mean variance over the members.
    fn standard_error(&self, a: usize, b: usize) -> f64 {
        let n = self.parts.len().max(1) as f64;
        (self.parts.iter().map(|parts| jackknife_variance(parts, a, b)).sum::<f64>() / n).sqrt()
    }
}

impl Spoken {
    /// The end of the interval nearest to nothing; 0 where it reaches over it.
    pub fn near_end(&self) -> f64 {
        if self.low > 0.0 {
            self.low
        } else if self.high < 0.0 {
            self.high
        } else {
            0.0
        }
    }

    /// Whether anything is said between the two finishes.
    pub fn tells_apart(&self) -> bool {
        self.near_end().abs() >= TOLD_APART
    }
}

/// All pairs of finishes, each once.
pub(crate) fn pairs() -> impl Iterator<Item = (usize, usize)> {
    let n = Finish::count();
    (0..n).flat_map(move |a| (a + 1..n).map(move |b| (a, b)))
}
