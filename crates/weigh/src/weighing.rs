//! A visit weighed: what the marks present support, and what they cannot tell apart.

use crate::engine::{Engine, Options, Spoken, Variant, pairs};
use crate::geometry::Geometry;
use crate::key::{belongs, key_of};
use crate::mark::Mark;
use crate::observables::observe;
use crate::rules::{LEAST_POWER, PairRule, TOLD_APART};
use crate::stations::{StationsAnswer, compare_stations};
use crate::visit::{CannotWeigh, Visit};
use finish::models::Finish;
use quantity::counted;
use std::f64::consts::LN_10;

/// The answer to a weighing, in the order in which it is to be told.
#[derive(Debug, Clone, PartialEq)]
pub struct Weighing {
    /// Groups of finishes that these pictures cannot tell apart, first things first.
    pub cannot_tell_apart: Vec<Vec<Finish>>,
    /// Every pair once.
    pub pairs: Vec<PairRatio>,
    /// Whether none of the modelled finishes fits.
    pub none_fits: NoneFits,
    /// Finishes with their support relative to the best supported one.
    pub finishes: Vec<Weighed>,
    /// What the ratios become when something is left out or changed.
    pub sensitivity: Vec<Sensitivity>,
    /// Whether one finish explains all stations.
    pub stations: StationsAnswer,
    /// Posterior probabilities, only for priors that were typed.
    pub posterior: Vec<(Finish, f64)>,
    /// Remarks that belong to the answer.
    pub notes: Vec<String>,
    /// Where the verbal scale comes from.
    pub scale_citation: &'static str,
    /// Seed of the simulations.
    pub seed: u64,
    /// Number of simulated objects.
    pub simulations: usize,
}

/// The ratio of one pair.
#[derive(Debug, Clone, PartialEq)]
pub struct PairRatio {
    /// First finish.
    pub a: Finish,
    /// Second finish.
    pub b: Finish,
    /// Reported log10 likelihood ratio of `a` over `b`: the end of the range nearest to nothing, tempered and capped.
    pub log10_lr: f64,
    /// Lower end of the 95 % interval: the lowest ratio over the models (stated prior and guards), less 1.96 standard errors
    /// of the limited number of simulations.
    pub low: f64,
    /// Upper end, likewise.
    pub high: f64,
    /// The ratio in words.
    pub words: &'static str,
    /// Why it says nothing, where it says nothing.
    pub because: Option<String>,
    /// Chance of a ratio of ten or more the right way with pictures like these, the worse of both truths.
    pub power: f64,
    /// Share of ratios of ten or more the wrong way in the least favourable stratum.
    pub wrong: f64,
}

/// Whether none of the modelled finishes fits.
#[derive(Debug, Clone, PartialEq)]
pub struct NoneFits {
    /// Fewer than one in twenty-five fitting objects look this strange.
    pub flagged: bool,
    /// Chance that an object of a modelled finish looks at least this strange.
    pub p: f64,
    /// Why none fits; where some finish does, what is furthest from what it shows.
    pub because: String,
}

/// One finish relative to the best supported one.
#[derive(Debug, Clone, PartialEq)]
pub struct Weighed {
    /// The finish.
    pub finish: Finish,
    /// log10 of its likelihood relative to the best supported finish: 0 or less.
    pub log10_relative: f64,
    /// Chance that an object of this finish looks at least this strange.
    pub fits_p: f64,
}

/// What the pairs' log10 ratios become under one change.
#[derive(Debug, Clone, PartialEq)]
pub struct Sensitivity {
    /// The change in words.
    pub left_out: String,
    /// Tempered and capped ratios of every pair, in the order of the weighing's pairs.
    pub log10_lr: Vec<f64>,
}

/// Chance below which no modelled finish fits: a little below one in twenty, so that fewer than that are flagged wrongly
/// among new objects (`benches/weigh`).
pub const NONE_FITS: f64 = 0.04;
/// Where the verbal scale comes from.
pub const SCALE_CITATION: &str = "Verbal scale after the ENFSI guideline for evaluative reporting in forensic science, 2015 \
     (from memory, source not seen; bands 10-100 and 100-1000 seen on a secondary page); below a ratio of about 3 nothing is said.";

/// Trains an engine for the visit and weighs it. `watch` gets the share done and returns false to stop.
///
/// # Errors
/// [`CannotWeigh`] in words.
pub fn weigh(
    visit: &Visit,
    options: &Options,
    watch: &(dyn Fn(f64) -> bool + Sync),
) -> Result<Weighing, CannotWeigh> {
    Engine::train(visit, options, watch)?.weigh(visit, options)
}

/// The words of a log10 ratio.
#[must_use]
pub fn words(log10_lr: f64) -> &'static str {
    match log10_lr.abs() {
        size if size < TOLD_APART => "cannot be told apart",
        size if size < 1.0 => "weak support",
        size if size < 2.0 => "moderate support",
        size if size < 3.0 => "moderately strong support",
        size if size < 4.0 => "strong support",
        size if size < 6.0 => "very strong support",
        _ => "extremely strong support",
    }
}

impl Engine {
    /// Weighs a visit with an engine trained for its geometry.
    ///
    /// # Errors
    /// [`CannotWeigh`] in words; [`CannotWeigh::OtherEngine`] if this engine was trained for another geometry.
    pub fn weigh(&self, visit: &Visit, options: &Options) -> Result<Weighing, CannotWeigh> {
        let visit = visit.weighable()?;
        let geometry = Geometry::of(&visit);
        if !belongs(self.name(), &key_of(&geometry, options)) {
            return Err(CannotWeigh::OtherEngine);
        }
        Ok(self.weigh_checked(&visit, &geometry, &options.typed_priors))
    }

    /// Weighs a visit that is known to have the geometry the engine was trained for.
    pub(crate) fn weigh_as_trained(&self, visit: &Visit) -> Result<Weighing, CannotWeigh> {
        let visit = visit.weighable()?;
        Ok(self.weigh_checked(&visit, &Geometry::of(&visit), &[]))
    }

    fn weigh_checked(&self, visit: &Visit, geometry: &Geometry, typed_priors: &[(Finish, f64)]) -> Weighing {
        let marks = geometry.marks(visit);
        let row = observe(&marks, geometry);
        let (p, because) = self.fits(&row);
        let none_fits = NoneFits { flagged: p < NONE_FITS, p, because };
        let sensitivity = self.sensitivity(&marks, geometry);
        let pairs = self.pair_ratios(&row, &none_fits);
        let finishes = self.relative(&row, &pairs);
        Weighing {
            cannot_tell_apart: groups(&finishes, &pairs),
            none_fits,
            sensitivity,
            stations: compare_stations(&marks, geometry, &self.stations),
            posterior: posterior(&finishes, typed_priors),
            notes: notes(visit, geometry, &marks),
            scale_citation: SCALE_CITATION,
            seed: self.seed,
            simulations: self.per_finish * Finish::count(),
            finishes,
            pairs,
        }
    }

    fn pair_ratios(&self, row: &[f32], none_fits: &NoneFits) -> Vec<PairRatio> {
        let judged = self.judge(row);
        let all: Vec<Finish> = Finish::all().collect();
        self.rules
            .iter()
            .map(|rule| {
                let mut spoken = self.speak(&judged, rule);
                if none_fits.flagged {
                    spoken.log10_lr = 0.0;
                    (spoken.low, spoken.high) = (spoken.low.min(0.0), spoken.high.max(0.0));
                }
                let told = spoken.tells_apart();
                PairRatio {
                    a: all[rule.a],
                    b: all[rule.b],
                    log10_lr: spoken.log10_lr,
                    low: spoken.low,
                    high: spoken.high,
                    words: if told { words(spoken.log10_lr) } else { words(0.0) },
                    because: (!told).then(|| silence(rule, none_fits, &spoken)),
                    power: rule.power,
                    wrong: rule.wrong,
                }
            })
            .collect()
    }

    fn relative(&self, row: &[f32], pairs: &[PairRatio]) -> Vec<Weighed> {
        let sum_for = |finish: Finish| pairs.iter().map(|pair| pair.of(finish)).sum::<f64>();
        let best = Finish::all().fold(None, |best: Option<(Finish, f64)>, finish| match best {
            Some((_, most)) if most >= sum_for(finish) => best,
            _ => Some((finish, sum_for(finish))),
        });
        Finish::all()
            .map(|finish| {
                let against = best.and_then(|(best, _)| ratio_between(pairs, finish, best)).unwrap_or(0.0);
                let fits_p = self.fits.of(row, finish.index());
                Weighed { finish, log10_relative: against.min(0.0), fits_p }
            })
            .collect()
    }

    fn sensitivity(&self, marks: &[Vec<Mark>], geometry: &Geometry) -> Vec<Sensitivity> {
        self.variants.iter().filter_map(|variant| self.changed(variant, marks, geometry)).collect()
    }

    fn changed(&self, variant: &Variant, marks: &[Vec<Mark>], geometry: &Geometry) -> Option<Sensitivity> {
        let row = match variant.station {
            None => observe(marks, geometry),
            Some(station) => {
                let rest = geometry.without_station(station)?;
                let left: Vec<Vec<Mark>> = marks
                    .iter()
                    .zip(&geometry.fields)
                    .filter(|(_, field)| field.station != station)
                    .map(|(marks, _)| marks.clone())
                    .collect();
                observe(&left, &rest)
            }
        };
        let scores = variant.member.scores(&row);
        let cap = self.cap();
        // A pair that is silent by design stays silent: what it becomes would be compared with nothing.
        let ratio = |rule: &PairRule| rule.report((scores[rule.a] - scores[rule.b]) / LN_10, cap);
        let log10_lr = self.rules.iter().map(ratio).collect();
        Some(Sensitivity { left_out: variant.words.clone(), log10_lr })
    }
}

impl PairRatio {
    /// Whether this is the pair of these two finishes, in whatever order.
    fn joins(&self, first: Finish, second: Finish) -> bool {
        (self.a == first && self.b == second) || (self.a == second && self.b == first)
    }

    /// The ratio seen from one of its finishes; 0 for a finish that is not in it.
    #[must_use]
    pub fn of(&self, finish: Finish) -> f64 {
        if finish == self.a {
            self.log10_lr
        } else if finish == self.b {
            -self.log10_lr
        } else {
            0.0
        }
    }
}

fn ratio_between(pairs: &[PairRatio], first: Finish, second: Finish) -> Option<f64> {
    let found = pairs.iter().find(|pair| pair.joins(first, second));
    found.map(|pair| pair.of(first))
}

/// Why nothing is said about a pair.
fn silence(rule: &PairRule, none_fits: &NoneFits, spoken: &Spoken) -> String {
    if none_fits.flagged {
        "none of the modelled finishes fits, so no ratio between them is given".to_string()
    } else if rule.power < LEAST_POWER {
        format!(
            "by design: pictures like these tell them apart by a ratio of ten in only {:.0} % of simulated objects",
            100.0 * rule.power
        )
    } else if spoken.low < 0.0 && spoken.high > 0.0 {
        "the models, or simulations within one of them, disagree about which of the two the marks favour"
            .to_string()
    } else {
        "these marks lie where both finishes occur".to_string()
    }
}

/// Groups of finishes of which no pair is told apart, best supported first; finishes that are clearly behind the best
/// supported one form no group of their own.
fn groups(finishes: &[Weighed], pairs: &[PairRatio]) -> Vec<Vec<Finish>> {
    let mut order: Vec<&Weighed> = finishes.iter().collect();
    order.sort_by(|a, b| b.log10_relative.total_cmp(&a.log10_relative));
    let apart = |a: Finish, b: Finish| {
        pairs.iter().find(|pair| pair.joins(a, b)).is_none_or(|pair| pair.because.is_none())
    };
    let mut left: Vec<Finish> = order.iter().map(|weighed| weighed.finish).collect();
    let mut found = Vec::new();
    while let Some(first) = left.first().copied() {
        let mut group = vec![first];
        for finish in left.iter().skip(1) {
            if group.iter().all(|member| !apart(*member, *finish)) {
                group.push(*finish);
            }
        }
        left.retain(|finish| !group.contains(finish));
        if group.len() > 1 {
            found.push(group);
        }
    }
    found
}

fn posterior(finishes: &[Weighed], typed: &[(Finish, f64)]) -> Vec<(Finish, f64)> {
    let weight = |weighed: &Weighed| {
        let prior = typed
            .iter()
            .find(|(finish, _)| *finish == weighed.finish)
            .map_or(0.0, |(_, prior)| prior.max(0.0));
        prior * 10f64.powf(weighed.log10_relative)
    };
    let total: f64 = finishes.iter().map(weight).sum();
    if typed.is_empty() || !(total.is_finite() && total > 0.0) {
        return Vec::new();
    }
    finishes.iter().map(|weighed| (weighed.finish, weight(weighed) / total)).collect()
}

fn notes(visit: &Visit, geometry: &Geometry, marks: &[Vec<Mark>]) -> Vec<String> {
    let mut notes = vec![
        "All ratios compare the modelled finishes only, under the published priors; they speak of the marks present, \
         not of who made them or when."
            .to_string(),
        "No ratio of a hundred or more is given: marks of a kind that is not modelled can look like a modelled finish. \
         Reference panels on the same stone are the way to say more."
            .to_string(),
        "How the tool finds, loses and bends traces was measured on rendered micrographs and is simulated; of several hundred \
         of them no ratio of ten or more spoke for a wrong finish (docs/weighing.md). On real stone this was not checked: look at \
         the traces before relying on a ratio."
            .to_string(),
    ];
    let empty = marks.iter().filter(|field| field.len() < 3).count();
    if empty > 0 {
        let show = if empty == 1 { "shows" } else { "show" };
        notes.push(format!("{empty} of {} {show} fewer than three traces.", counted(marks.len(), "capture")));
    }
    if geometry.fields.len() == 1 {
        notes.push("One capture is one place: no ratio above 32 is given from it.".to_string());
    }
    if geometry.fields.iter().any(|field| field.lens_residual.is_none()) {
        notes.push(
            "A lens was not checked: a residual distortion of 0.2 % of the width is assumed for it."
                .to_string(),
        );
    }
    if visit.captures.iter().any(|capture| matches!(capture.light, picture::Light::Unknown)) {
        notes.push(
            "The light of a capture is not recorded: one-sided light from an unknown side is assumed."
                .to_string(),
        );
    }
    notes
}

/// Pairs in the order of every result.
#[must_use]
pub fn pair_order() -> Vec<(Finish, Finish)> {
    let all: Vec<Finish> = Finish::all().collect();
    pairs().map(|(a, b)| (all[a], all[b])).collect()
}
