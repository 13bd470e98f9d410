//! Through pixels: rendered and traced captures are weighed, one by one and in visits of all captures of an object.

use crate::captures::{self, Capture, INSTRUMENTS, PER_OBJECT};
use crate::chance::chance_ece;
use finish::models::Finish;
use rayon::prelude::*;
use weigh::evaluation::{ece, normalised_log_loss};
use weigh::observables::observe;
use weigh::{Engine, NONE_FITS, Options, Visit};

/// One weighed visit.
struct Weighed {
    truth: usize,
    for_fitting: bool,
    /// Reported log10 ratios of all pairs; nothing where no finish fits.
    reported: Vec<f64>,
    flagged: bool,
    posterior: Vec<f64>,
    because: String,
}

/// Weighs the captures of `folder` and prints what came out, of those kept for tests and of all.
///
/// # Errors
/// In words: no captures, or an engine that could not be trained.
pub fn run(folder: &str, objects: usize) -> Result<(), String> {
    let captures = captures::read(folder)?;
    for fields in [1, PER_OBJECT] {
        let visits: Vec<&[Capture]> = captures.chunks_exact(fields).collect();
        let mut weighed = Vec::new();
        let mut rules = Vec::new();
        for instrument in 0..INSTRUMENTS.len() {
            let geometry = captures::geometry(instrument, fields);
            let options = Options { objects_per_finish: objects, sensitivity: false, ..Options::default() };
            let engine = Engine::for_geometry(&geometry, &options, &|_| true).map_err(|e| e.to_string())?;
            rules = engine.rules().iter().map(|rule| (rule.a, rule.b)).collect::<Vec<_>>();
            let mine: Vec<&&[Capture]> =
                visits.iter().filter(|visit| visit[0].instrument == instrument).collect();
            weighed.extend(mine.par_iter().filter_map(|visit| weigh_one(visit, &engine)).collect::<Vec<_>>());
        }
        println!(
            "| through pixels, visits of {fields}: captures; visits that can be weighed | – | {}; {} of {} |",
            captures.len(),
            weighed.len(),
            visits.len()
        );
        let tests: Vec<&Weighed> = weighed.iter().filter(|one| !one.for_fitting).collect();
        print(&format!("visits of {fields}, kept for tests"), &tests, &rules);
        print(&format!("visits of {fields}, all"), &weighed.iter().collect::<Vec<_>>(), &rules);
        if fields == 1 {
            confusion(&weighed);
            weighed.iter().filter(|one| one.flagged).for_each(|one| eprintln!("none fits: {}", one.because));
        }
    }
    Ok(())
}

fn weigh_one(visit: &[Capture], engine: &Engine) -> Option<Weighed> {
    let geometry = captures::geometry(visit[0].instrument, visit.len());
    let seen = |capture: &Capture| captures::seen(capture.instrument, capture.traces.clone());
    let able = Visit { captures: visit.iter().map(seen).collect() }.weighable().ok()?;
    let row = observe(&geometry.marks(&able), &geometry);
    let (p, because) = engine.fits(&row);
    let flagged = p < NONE_FITS;
    Some(Weighed {
        truth: visit[0].finish.index(),
        for_fitting: visit[0].is_for_fitting(),
        reported: if flagged { vec![0.0; engine.rules().len()] } else { engine.reported(&row) },
        flagged,
        posterior: engine.plain_posterior(&row),
        because,
    })
}

fn print(what: &str, weighed: &[&Weighed], rules: &[(usize, usize)]) {
    let truths: Vec<usize> = weighed.iter().map(|one| one.truth).collect();
    let posteriors: Vec<Vec<f64>> = weighed.iter().map(|one| one.posterior.clone()).collect();
    let flagged = weighed.iter().filter(|one| one.flagged).count();
    println!("| {what}: weighed; none fits | –; ≤ 5 % | {}; {flagged} |", weighed.len());
    println!(
        "| {what}: model of the stated prior alone, log loss, ECE (what chance leaves if it is right) | –, – | {:.3}, {:.3} ({:.3}) |",
        normalised_log_loss(&posteriors, &truths),
        ece(&posteriors, &truths),
        chance_ece(&posteriors)
    );
    let compared = compared(weighed, rules);
    let share = |hit: &dyn Fn(f64) -> bool| {
        100.0 * compared.iter().filter(|c| hit(c.for_truth)).count() as f64 / compared.len().max(1) as f64
    };
    println!(
        "| {what}: reported ratios under equal odds, ECE; log10 LR ≥ 2 for the wrong one | ≤ 0.03; ≤ 1 % | {:.3}; {:.2} % |",
        pair_ece(&compared),
        share(&|r| r <= -2.0)
    );
    println!(
        "| {what}: log10 LR ≥ 1 for the wrong one, for the right one; ≥ 0.5 for the wrong one, for the right one | – | {:.2} %, {:.1} %; {:.2} %, {:.1} % |",
        share(&|r| r <= -1.0),
        share(&|r| r >= 1.0),
        share(&|r| r <= -0.5),
        share(&|r| r >= 0.5)
    );
}

/// One reported ratio of a pair of which one finish is true.
struct Compared {
    /// log10 ratio for the true one.
    for_truth: f64,
    /// Weight that gives both finishes of a pair equal odds.
    weight: f64,
}

/// Fewest visits of each finish, for a pair to be judged under equal odds.
const FEWEST: usize = 10;

fn compared(weighed: &[&Weighed], rules: &[(usize, usize)]) -> Vec<Compared> {
    let of = |finish: usize| weighed.iter().filter(|one| one.truth == finish).count();
    let mut found = Vec::new();
    for (number, (a, b)) in rules.iter().enumerate().filter(|(_, (a, b))| of(*a).min(of(*b)) >= FEWEST) {
        for one in weighed.iter().filter(|one| one.truth == *a || one.truth == *b) {
            let ratio = one.reported[number];
            let for_truth = if one.truth == *a { ratio } else { -ratio };
            found.push(Compared { for_truth, weight: 1.0 / of(one.truth) as f64 });
        }
    }
    found
}

/// Expected calibration error of the favoured finish over five bars from one half to one; silence favours neither.
fn pair_ece(compared: &[Compared]) -> f64 {
    let mut bars = [(0.0, 0.0, 0.0); 5];
    for one in compared {
        let stated = 1.0 / (1.0 + 10f64.powf(-one.for_truth.abs()));
        let happened = if one.for_truth == 0.0 { 0.5 } else { f64::from(u8::from(one.for_truth > 0.0)) };
        let bar = &mut bars[((stated - 0.5) * 10.0).min(4.0) as usize];
        *bar = (bar.0 + one.weight * stated, bar.1 + one.weight * happened, bar.2 + one.weight);
    }
    let total: f64 = bars.iter().map(|bar| bar.2).sum();
    bars.iter().map(|bar| (bar.0 - bar.1).abs()).sum::<f64>() / total.max(1e-9)
}

/// Mean posterior of every finish (columns) for captures of each finish (rows).
fn confusion(weighed: &[Weighed]) {
    for finish in Finish::all() {
        let mine: Vec<&Weighed> = weighed.iter().filter(|one| one.truth == finish.index()).collect();
        let mean = |class: usize| {
            mine.iter().map(|one| one.posterior[class]).sum::<f64>() / mine.len().max(1) as f64
        };
        let shares: Vec<String> = (0..Finish::count()).map(|class| format!("{:.2}", mean(class))).collect();
        println!(
            "| {} ({} captures): mean posterior | – | {} |",
            finish.name(),
            mine.len(),
            shares.join(" ")
        );
    }
}
