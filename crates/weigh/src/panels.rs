//! Reference panels: stone finished in a known way, captured like an object.

use crate::engine::{Engine, Options};
use crate::evaluation::cllr;
use crate::geometry::Geometry;
use crate::key::{Fingerprint, with_panels};
use crate::mark::Mark;
use crate::observables::{Row, observe};
use crate::simulate::{Simulated, generator};
use crate::strata::WIDE;
use crate::visit::{CannotWeigh, Visit};
use finish::models::{Finish, Values};
use rand::RngExt;
use rayon::prelude::*;
use sha2::{Digest, Sha256};
use std::f64::consts::LN_10;
use thiserror::Error;

/// Two finishes and the log10 likelihood ratio that was given for the first against the second.
pub type GivenPair = (Finish, Finish, f64);

/// The caution that stands wherever the tool tells someone to make a panel.
///
/// # Source
/// OSHA 29 CFR 1926.1153 (limit 0.05 mg/m³ over 8 hours), as in REFERENCES §10.
pub const SILICA_CAUTION: &str = "Making a panel: dust of quartz-bearing stone harms the lungs for good, and dry grinding passes the \
     limits within minutes (in one country's rules 0.05 mg/m³ over a shift). Work wet with extraction and a fitted respirator; keep \
     slurry from drying on floor and clothes. Local occupational rules and licensed practice come first.";

/// One panel: its known finish and what was measured on it.
#[derive(Debug, Clone, PartialEq)]
pub struct Panel {
    /// Its name.
    pub name: String,
    /// How it was finished.
    pub finish: Finish,
    /// Its captures.
    pub visit: Visit,
}

/// What panels do to the forward models.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PanelUse {
    /// Simulated objects that look like the panels of their finish count more.
    Update,
    /// Resampled panels take the place of the simulated objects of their finish.
    Replace,
}

/// Why panels cannot be used.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum PanelError {
    /// A panel or the visit cannot be weighed.
    #[error("panel {panel}: {why}")]
    Panel {
        /// The panel.
        panel: String,
        /// Why.
        why: CannotWeigh,
    },
    /// The visit itself cannot be weighed.
    #[error(transparent)]
    Visit(#[from] CannotWeigh),
    /// Fields of another size.
    #[error(
        "panel {panel} was captured in fields of {panel_mm:.2} mm, the visit in fields of {visit_mm:.2} mm; \
         capture panels like the object (within a fifth)"
    )]
    OtherField {
        /// The panel.
        panel: String,
        /// Width of its fields, mm.
        panel_mm: f64,
        /// Width of the visit's fields, mm.
        visit_mm: f64,
    },
    /// Too few panels to check by leaving one out.
    #[error("{found} panels were given where at least {needed} are needed, of two finishes or more")]
    TooFew {
        /// Given.
        found: usize,
        /// Needed.
        needed: usize,
    },
}

/// Largest factor between the field widths of a panel and of the visit.
const LARGEST_WIDTH_FACTOR: f64 = 1.2;
/// Weight of a simulated object that looks like no panel, next to 1 for the most similar (ours: panels inform, the
/// forward model still reaches where no panel was made).
const LEAST_WEIGHT: f64 = 0.2;

/// A panel ready for use under one geometry.
struct Ready {
    finish: usize,
    marks: Vec<Vec<Mark>>,
    row: Row,
}

impl Engine {
    /// Name under which an engine for this visit with these panels is stored: that of the plain engine and a hash of the
    /// panels.
    #[must_use]
    pub fn key_with_panels(
        visit: &Visit,
        panels: &[Panel],
        panel_use: PanelUse,
        options: &Options,
    ) -> String {
        with_panels(&Engine::key(visit, options), &fingerprint(panels, panel_use))
    }

    /// Trains an engine for a visit with the forward models updated or replaced by panels.
    ///
    /// # Errors
    /// [`PanelError`] in words if a panel or the visit cannot be used.
    pub fn train_with_panels(
        visit: &Visit,
        panels: &[Panel],
        panel_use: PanelUse,
        options: &Options,
        watch: &(dyn Fn(f64) -> bool + Sync),
    ) -> Result<Engine, PanelError> {
        let visit = visit.weighable()?;
        let geometry = Geometry::of(&visit);
        let ready = panels.iter().map(|panel| ready(panel, &geometry)).collect::<Result<Vec<_>, _>>()?;
        let change = |pool: &mut Vec<Simulated>| match panel_use {
            PanelUse::Update => weights(pool, &ready),
            PanelUse::Replace => {
                replace(pool, &ready, &geometry, options.seed);
                vec![1.0; pool.len()]
            }
        };
        let mut engine = Engine::with_change(&geometry, options, &change, watch)?;
        engine.key = with_panels(&engine.key, &fingerprint(panels, panel_use));
        Ok(engine)
    }
}

/// A hash of everything the panels bring in.
fn fingerprint(panels: &[Panel], panel_use: PanelUse) -> String {
    let mut hash = Fingerprint::default();
    hash.text(&format!("{panel_use:?}"));
    // The debug form prints every number to the last digit.
    panels.iter().for_each(|panel| hash.text(&format!("{panel:?}")));
    hash.hex()
}

fn ready(panel: &Panel, geometry: &Geometry) -> Result<Ready, PanelError> {
    let visit =
        panel.visit.weighable().map_err(|why| PanelError::Panel { panel: panel.name.clone(), why })?;
    let own = Geometry::of(&visit);
    let width = |geometry: &Geometry| geometry.fields.first().map_or(0.0, |field| field.width_mm);
    let (panel_mm, visit_mm) = (width(&own), width(geometry));
    if (panel_mm / visit_mm).max(visit_mm / panel_mm) > LARGEST_WIDTH_FACTOR {
        return Err(PanelError::OtherField { panel: panel.name.clone(), panel_mm, visit_mm });
    }
    let marks = own.marks(&visit);
    let row = observe(&marks, &own);
    Ok(Ready { finish: panel.finish.index(), marks, row })
}

/// Weight of each simulated object: near 1 where it looks like a panel of its finish; finishes without panels keep 1.
fn weights(pool: &[Simulated], ready: &[Ready]) -> Vec<f64> {
    let scales = column_scales(pool);
    let mut weights: Vec<f64> = pool
        .par_iter()
        .map(|object| {
            let nearest = ready
                .iter()
                .filter(|panel| panel.finish == object.finish)
                .map(|panel| distance(&object.row, &panel.row, &scales))
                .fold(f64::INFINITY, f64::min);
            if nearest.is_finite() {
                LEAST_WEIGHT + (1.0 - LEAST_WEIGHT) * (-0.5 * nearest).exp()
            } else {
                1.0
            }
        })
        .collect();
    // Every finish keeps the same total, or panels would act as a prior.
    for finish in 0..Finish::count() {
        let mine =
            || pool.iter().enumerate().filter(move |(_, object)| object.finish == finish).map(|(row, _)| row);
        let (n, total) = mine().fold((0.0, 0.0), |(n, total), row| (n + 1.0, total + weights[row]));
        let rows: Vec<usize> = mine().collect();
        rows.into_iter().for_each(|row| weights[row] *= n / f64::max(total, 1e-9));
    }
    weights
}

fn column_scales(pool: &[Simulated]) -> Vec<f64> {
    let n_columns = pool.first().map_or(0, |object| object.row.len());
    (0..n_columns)
        .into_par_iter()
        .map(|column| {
            let mut values: Vec<f32> = pool.iter().map(|o| o.row[column]).filter(|v| v.is_finite()).collect();
            values.sort_by(f32::total_cmp);
            let at = |share: f64| values.get((share * values.len() as f64) as usize).copied().unwrap_or(0.0);
            f64::from(at(0.84) - at(0.16)).max(1e-6)
        })
        .collect()
}

/// Mean squared difference over the observables both have, in units of their spread.
fn distance(a: &[f32], b: &[f32], scales: &[f64]) -> f64 {
    let (mut sum, mut n) = (0.0, 0.0);
    for ((a, b), scale) in a.iter().zip(b).zip(scales) {
        if a.is_finite() && b.is_finite() {
            sum += (4.0 * f64::from(a - b) / scale).powi(2).min(25.0);
            n += 1.0;
        }
    }
    sum / f64::max(n, 1.0)
}

/// Puts resampled panels in the place of simulated objects of their finish.
fn replace(pool: &mut [Simulated], ready: &[Ready], geometry: &Geometry, seed: u64) {
    pool.par_iter_mut().enumerate().for_each(|(index, object)| {
        let mine: Vec<&Ready> = ready.iter().filter(|panel| panel.finish == object.finish).collect();
        if mine.is_empty() {
            return;
        }
        let mut rng = generator(seed, PANEL_STREAM, index as u64);
        let panel = mine[rng.random_range(0..mine.len())];
        let fields: Vec<Vec<Mark>> = geometry
            .fields
            .iter()
            .map(|_| {
                let field = &panel.marks[rng.random_range(0..panel.marks.len())];
                (0..field.len()).map(|_| field[rng.random_range(0..field.len())]).collect()
            })
            .collect();
        object.row = observe(&fields, geometry);
        object.values = Values::default();
        object.stratum = WIDE;
    });
}

/// Stream of random numbers for resampled panels.
const PANEL_STREAM: u64 = 1001;

/// What the engine says of a panel it was not given.
#[derive(Debug, Clone, PartialEq)]
pub struct PanelCheck {
    /// The panel.
    pub name: String,
    /// Its known finish.
    pub finish: Finish,
    /// The rival it is taken for most.
    pub rival: Finish,
    /// Reported log10 ratio of the truth over that rival; negative is misleading.
    pub log10_lr: f64,
    /// None of the finishes was found to fit.
    pub none_fits: bool,
}

/// Leaves each panel out in turn, trains on the others and weighs it.
///
/// # Errors
/// [`PanelError`] in words.
pub fn leave_one_out(
    panels: &[Panel],
    panel_use: PanelUse,
    options: &Options,
    watch: &(dyn Fn(f64) -> bool + Sync),
) -> Result<Vec<PanelCheck>, PanelError> {
    let first = panels.first().map(|panel| panel.finish);
    if panels.len() < 3 || panels.iter().all(|panel| Some(panel.finish) == first) {
        return Err(PanelError::TooFew { found: panels.len(), needed: 3 });
    }
    let quick = Options { sensitivity: false, ..options.clone() };
    panels
        .iter()
        .enumerate()
        .map(|(left_out, panel)| {
            let others: Vec<Panel> = panels
                .iter()
                .enumerate()
                .filter(|(index, _)| *index != left_out)
                .map(|(_, other)| other.clone())
                .collect();
            let part = |share: f64| watch((left_out as f64 + share) / panels.len() as f64);
            let engine = Engine::train_with_panels(&panel.visit, &others, panel_use, &quick, &part)?;
            let weighing = engine.weigh_as_trained(&panel.visit)?;
            let worst = weighing
                .pairs
                .iter()
                .filter(|pair| pair.a == panel.finish || pair.b == panel.finish)
                .map(|pair| (if pair.a == panel.finish { pair.b } else { pair.a }, pair.of(panel.finish)))
                .min_by(|a, b| a.1.total_cmp(&b.1));
            let (rival, log10_lr) = worst.unwrap_or((panel.finish, 0.0));
            let none_fits = weighing.none_fits.flagged;
            Ok(PanelCheck { name: panel.name.clone(), finish: panel.finish, rival, log10_lr, none_fits })
        })
        .collect()
}

/// Answers of a blind test, sealed: the hash can be published before the test, the answers after it.
///
/// The hash covers the salt and every name with its finish in the order given.
#[must_use]
pub fn seal(answers: &[(String, Finish)], salt: &str) -> String {
    let mut hash = Sha256::new();
    hash.update((salt.len() as u64).to_le_bytes());
    hash.update(salt);
    for (name, finish) in answers {
        for text in [name.as_str(), finish.name()] {
            hash.update((text.len() as u64).to_le_bytes());
            hash.update(text);
        }
    }
    hash.finalize().iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Score of a blind test.
#[derive(Debug, Clone, PartialEq)]
pub struct BlindScore {
    /// The answers are the ones that were sealed.
    pub seal_holds: bool,
    /// Comparisons of the truth with a rival.
    pub comparisons: usize,
    /// Of these, ratios of ten or more for the truth.
    pub right_ten: usize,
    /// Ratios of ten or more against the truth.
    pub wrong_ten: usize,
    /// Comparisons in which nothing was said (|log10 ratio| < 0.5).
    pub silent: usize,
    /// Cost of the log-likelihood ratios: 1 is worth nothing.
    pub cllr: f64,
}

/// Scores the ratios given in a blind test: for each item, its name and the reported log10 ratios of every pair.
#[must_use]
pub fn score_blind(
    given: &[(String, Vec<GivenPair>)],
    answers: &[(String, Finish)],
    salt: &str,
    sealed: &str,
) -> BlindScore {
    let mut for_truth = Vec::new();
    for (name, pairs) in given {
        let Some((_, truth)) = answers.iter().find(|(answer, _)| answer == name) else { continue };
        for (a, b, log10_lr) in pairs {
            if a == truth {
                for_truth.push(*log10_lr);
            } else if b == truth {
                for_truth.push(-log10_lr);
            }
        }
    }
    let natural: Vec<f64> = for_truth.iter().map(|ratio| ratio * LN_10).collect();
    // Each comparison is one case of either hypothesis, by symmetry.
    let opposite: Vec<f64> = natural.iter().map(|ratio| -ratio).collect();
    let count = |hit: &dyn Fn(f64) -> bool| for_truth.iter().filter(|ratio| hit(**ratio)).count();
    BlindScore {
        seal_holds: seal(answers, salt) == sealed,
        comparisons: for_truth.len(),
        right_ten: count(&|ratio| ratio >= 1.0),
        wrong_ten: count(&|ratio| ratio <= -1.0),
        silent: count(&|ratio| ratio.abs() < crate::rules::TOLD_APART),
        cllr: cllr(&natural, &opposite),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::simulate::simulate;
    use crate::strata::training_draw;

    #[test]
    fn a_seal_holds_only_for_its_answers() {
        let finishes: Vec<Finish> = Finish::all().collect();
        let answers = vec![("one".to_string(), finishes[0]), ("two".to_string(), finishes[3])];
        let sealed = seal(&answers, "salt");
        let given = vec![
            ("one".to_string(), vec![(finishes[0], finishes[1], 1.5), (finishes[0], finishes[2], 0.1)]),
            ("two".to_string(), vec![(finishes[0], finishes[3], 1.2), (finishes[1], finishes[2], 2.0)]),
        ];
        let score = score_blind(&given, &answers, "salt", &sealed);
        assert!(score.seal_holds);
        assert_eq!((score.comparisons, score.right_ten, score.wrong_ten, score.silent), (3, 1, 1, 1));
        let mut changed = answers;
        changed[0].1 = finishes[5];
        assert!(!score_blind(&given, &changed, "salt", &sealed).seal_holds);
    }

    #[test]
    fn panels_shift_weight_but_no_finish_gains() {
        let geometry = Geometry::equal(1, 1, 6.0, 2592.0);
        let pool = simulate(&geometry, 40, 9, &training_draw, &|| true).unwrap();
        let panel = Ready { finish: 0, marks: Vec::new(), row: pool[0].row.clone() };
        assert_eq!(pool[0].finish, 0);
        let weights = weights(&pool, &[panel]);
        let of = |finish: usize| {
            pool.iter().zip(&weights).filter(move |(o, _)| o.finish == finish).map(|(_, w)| *w)
        };
        assert!((of(0).sum::<f64>() - 40.0).abs() < 1e-6);
        assert!(of(1).all(|w| (w - 1.0).abs() < 1e-12));
        assert!(weights[0] > of(0).fold(f64::INFINITY, f64::min));
    }
}
