//! Test objects of known truth, and what an engine says about them.

use crate::chance::chance_ece;
use crate::strangers::{Strange, Stranger};
use finish::models::{Draw, Finish, Matched, Region, span};
use rayon::prelude::*;
use weigh::Engine;
use weigh::evaluation::{cllr, ece, normalised_log_loss};
use weigh::geometry::Geometry;
use weigh::mark::Fitter;
use weigh::nuisance::Nuisance;
use weigh::observables::{Row, observe};
use weigh::see::see;
use weigh::simulate::{can_be_weighed, generator, layered_rows, simulate};
use weigh::strata::STUDY_MATCHED;

/// Seed of all test objects: never one an engine is trained with.
const TEST_SEED: u64 = 0x7e57;
/// A seed of test objects by which nothing was chosen.
const OTHER_SEED: u64 = 0x1234;

/// The second matched stratum, which no engine is given: guided, free-hand and turned marks of radii 200-600 mm.
pub const SECOND_MATCHED: Matched =
    Matched { radius_mm: span(200.0, 600.0), stroke_mm: span(30.0, 100.0), spread_deg: span(1.0, 3.0) };

/// A set of test objects.
pub struct TestSet {
    /// Observables.
    pub rows: Vec<Row>,
    /// True finishes.
    pub truths: Vec<usize>,
}

/// Objects of every finish under a draw.
pub fn drawn(geometry: &Geometry, draw: Draw, per_finish: usize) -> TestSet {
    seeded(geometry, draw, per_finish, TEST_SEED)
}

/// The same of another seed, to confirm what was chosen on the first.
pub fn other_drawn(geometry: &Geometry, draw: Draw, per_finish: usize) -> TestSet {
    seeded(geometry, draw, per_finish, OTHER_SEED)
}

fn seeded(geometry: &Geometry, draw: Draw, per_finish: usize, seed: u64) -> TestSet {
    let all = simulate(geometry, per_finish, seed, &|_, _, _| (0, draw), &|| true);
    // Only what can be weighed: the rest is refused in words.
    let all: Vec<_> = all.unwrap_or_default().into_iter().filter(|object| object.weighable).collect();
    TestSet {
        truths: all.iter().map(|object| object.finish).collect(),
        rows: all.into_iter().map(|object| object.row).collect(),
    }
}

/// Objects of some region of the prior.
pub fn region(geometry: &Geometry, region: Region, per_finish: usize) -> TestSet {
    drawn(geometry, Draw::from_region(region), per_finish)
}

/// Objects of a matched stratum, only of the finishes named; nuisances narrow, as in the study.
pub fn matched(geometry: &Geometry, matched: Matched, names: &[&str], per_finish: usize) -> TestSet {
    let set =
        drawn(geometry, Draw { region: Region::Narrow, stretch: 1.0, matched: Some(matched) }, per_finish);
    let wanted: Vec<usize> = names.iter().filter_map(|name| Finish::named(name)).map(Finish::index).collect();
    let (rows, truths) =
        set.rows.into_iter().zip(set.truths).filter(|(_, truth)| wanted.contains(truth)).unzip();
    TestSet { rows, truths }
}

/// The study's matched stratum.
pub fn study_matched(geometry: &Geometry, per_finish: usize) -> TestSet {
    matched(geometry, STUDY_MATCHED, &["rotating-pad", "oscillating-pad", "free-hand"], per_finish)
}

/// The second matched stratum.
pub fn second_matched(geometry: &Geometry, per_finish: usize) -> TestSet {
    matched(geometry, SECOND_MATCHED, &["guided-rub", "free-hand", "turning"], per_finish)
}

/// Objects of marks that are not modelled.
pub fn strangers(geometry: &Geometry, kind: Stranger, n: usize) -> Vec<Row> {
    let n_stations = geometry.stations.len();
    (0..n)
        .into_par_iter()
        .filter_map(|index| {
            let mut rng = generator(TEST_SEED, 2000 + kind as u64, index as u64);
            let strange = Strange::draw(kind, n_stations, &mut rng);
            let nuisance = Nuisance::draw(&Draw::WIDE.settled(&mut rng), &mut rng);
            let marks = see(&strange, &nuisance, geometry, &Fitter::default(), &mut rng);
            can_be_weighed(&marks).then(|| observe(&marks, geometry))
        })
        .collect()
}

/// Objects with two finishes on top of each other.
pub fn two_stages(geometry: &Geometry, n: usize) -> Vec<Row> {
    layered_rows(geometry, n, TEST_SEED)
}

/// What an engine made of a test set.
pub struct Outcome {
    /// Normalised log loss of the stated prior's model.
    pub loss: f64,
    /// Its calibration error.
    pub ece: f64,
    /// What of it chance alone leaves in so few cases.
    pub chance_ece: f64,
    /// Worst pair: share of reported log10 ratios of 1 or more for the wrong one, mean of both truths.
    pub wrong_ten: f64,
    /// That pair.
    pub worst_pair: String,
    /// Share of objects with any such ratio against the truth.
    pub wrong_ten_any: f64,
    /// Share of (object, rival) comparisons with a reported log10 ratio of 2 or more against the truth.
    pub wrong_hundred: f64,
    /// Share of comparisons with a reported ratio of ten or more for the truth.
    pub right_ten: f64,
    /// Highest Cllr of the reported ratios over the pairs.
    pub worst_cllr: f64,
    /// Share of objects for which the pairs among `hard` are not told apart (|log10 ratio| < 0.5).
    pub silent: f64,
    /// Share of objects flagged as fitted by no finish.
    pub flagged: f64,
}

/// The four finishes whose pairs are hard.
const HARD: [&str; 4] = ["rotating-pad", "oscillating-pad", "guided-rub", "free-hand"];

/// Judges a test set; reported ratios of flagged objects are withheld, as in a weighing.
pub fn outcome(engine: &Engine, set: &TestSet) -> Outcome {
    let posteriors: Vec<Vec<f64>> = set.rows.par_iter().map(|row| engine.plain_posterior(row)).collect();
    let flags: Vec<bool> = set.rows.par_iter().map(|row| engine.fits(row).0 < weigh::NONE_FITS).collect();
    let reported: Vec<Vec<f64>> = set
        .rows
        .par_iter()
        .zip(&flags)
        .map(|(row, flagged)| if *flagged { vec![0.0; engine.rules().len()] } else { engine.reported(row) })
        .collect();
    let hard: Vec<usize> = HARD.iter().filter_map(|name| Finish::named(name)).map(Finish::index).collect();
    let names: Vec<&str> = Finish::all().map(Finish::name).collect();
    let (mut wrong_ten, mut worst_pair, mut worst_cllr) = (0.0, String::new(), 0.0);
    let (mut n_wrong_hundred, mut n_right, mut n_compared) = (0, 0, 0);
    let mut any = vec![false; set.rows.len()];
    let mut told = vec![false; set.rows.len()];
    for (number, rule) in engine.rules().iter().enumerate() {
        let (mut of_a, mut of_b) = (Vec::new(), Vec::new());
        for (index, truth) in set.truths.iter().enumerate() {
            let ratio = reported[index][number];
            if hard.contains(&rule.a) && hard.contains(&rule.b) && ratio.abs() >= 0.5 {
                told[index] = true;
            }
            let for_truth = match *truth {
                truth if truth == rule.a => ratio,
                truth if truth == rule.b => -ratio,
                _ => continue,
            };
            (if *truth == rule.a { &mut of_a } else { &mut of_b }).push(ratio);
            any[index] |= for_truth <= -1.0;
            n_wrong_hundred += usize::from(for_truth <= -2.0);
            n_right += usize::from(for_truth >= 1.0);
            n_compared += 1;
        }
        if of_a.is_empty() || of_b.is_empty() {
            continue;
        }
        let share = |values: &[f64], sign: f64| {
            values.iter().filter(|r| sign * **r >= 1.0).count() as f64 / values.len() as f64
        };
        let wrong = 0.5 * (share(&of_a, -1.0) + share(&of_b, 1.0));
        if wrong > wrong_ten {
            wrong_ten = wrong;
            worst_pair = format!("{} / {}", names[rule.a], names[rule.b]);
        }
        let natural = |values: &[f64]| values.iter().map(|r| r * std::f64::consts::LN_10).collect::<Vec<_>>();
        worst_cllr = f64::max(worst_cllr, cllr(&natural(&of_a), &natural(&of_b)));
    }
    let share_of =
        |flags: &[bool]| flags.iter().filter(|flag| **flag).count() as f64 / flags.len().max(1) as f64;
    let among_hard: Vec<bool> = told
        .iter()
        .zip(&set.truths)
        .filter(|(_, truth)| hard.contains(truth))
        .map(|(told, _)| *told)
        .collect();
    Outcome {
        loss: normalised_log_loss(&posteriors, &set.truths),
        ece: ece(&posteriors, &set.truths),
        chance_ece: chance_ece(&posteriors),
        wrong_ten,
        worst_pair,
        wrong_ten_any: share_of(&any),
        wrong_hundred: n_wrong_hundred as f64 / n_compared.max(1) as f64,
        right_ten: n_right as f64 / n_compared.max(1) as f64,
        worst_cllr,
        silent: 1.0 - share_of(&among_hard),
        flagged: share_of(&flags),
    }
}

/// Share of rows flagged, and share of rows (flagged ones withheld) with any reported log10 ratio of 2 or more.
pub fn flagged_and_bold(engine: &Engine, rows: &[Row]) -> (f64, f64) {
    let found: Vec<(bool, bool)> = rows
        .par_iter()
        .map(|row| {
            let flagged = engine.fits(row).0 < weigh::NONE_FITS;
            (flagged, !flagged && engine.reported(row).iter().any(|ratio| ratio.abs() >= 2.0))
        })
        .collect();
    let n = rows.len().max(1) as f64;
    (found.iter().filter(|f| f.0).count() as f64 / n, found.iter().filter(|f| f.1).count() as f64 / n)
}
