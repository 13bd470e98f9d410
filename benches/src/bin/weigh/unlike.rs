//! Where the simulated tracing of known strokes differs from the real one: observable by observable.

use crate::captures::{self, Capture};
use finish::models::{Draw, any_angle};
use rayon::prelude::*;
use weigh::mark::Fitter;
use weigh::nuisance::Nuisance;
use weigh::observables::{Row, n_observables, name, observe};
use weigh::see::trace;
use weigh::simulate::generator;
use weigh::{FEWEST_TRACES, Visit};

/// Simulated tracings of each capture.
const TIMES: usize = 40;
/// Stream of random numbers of the tracings.
const STREAM: u64 = 6000;
/// Fewest captures that show an observable, for it to be listed.
const FEWEST: usize = 30;

/// Lists the observables of `folder`'s captures by how unlike the simulated ones they are.
///
/// # Errors
/// In words: no captures.
pub fn run(folder: &str) -> Result<(), String> {
    let captures = captures::read(folder)?;
    let pairs: Vec<(Row, Vec<Row>)> = captures.par_iter().filter_map(real_and_simulated).collect();
    println!(
        "| {} captures with {FEWEST_TRACES} traces or more; place of the real value among the simulated: mean, spread (uniform: 0.50, 0.29) |",
        pairs.len()
    );
    let mut found: Vec<(f64, f64, usize, usize)> = (0..n_observables())
        .filter_map(|column| {
            let places: Vec<f64> =
                pairs.iter().filter_map(|(real, simulated)| place(real, simulated, column)).collect();
            let n = places.len() as f64;
            let mean = places.iter().sum::<f64>() / n;
            let spread = (places.iter().map(|p| (p - mean).powi(2)).sum::<f64>() / n).sqrt();
            (places.len() >= FEWEST).then_some((mean, spread, places.len(), column))
        })
        .collect();
    found.sort_by(|a, b| off(b).total_cmp(&off(a)));
    for (mean, spread, n, column) in found {
        println!("| {} | {mean:.2}, {spread:.2} ({n}) |", name(column));
    }
    Ok(())
}

/// How far from uniform: the shift of the mean and a spread that is too wide.
fn off((mean, spread, _, _): &(f64, f64, usize, usize)) -> f64 {
    (mean - 0.5).abs() + (spread - 0.289).max(0.0)
}

fn real_and_simulated(capture: &Capture) -> Option<(Row, Vec<Row>)> {
    let geometry = captures::geometry(capture.instrument, 1);
    let visit = Visit { captures: vec![captures::seen(capture.instrument, capture.traces.clone())] };
    let real = visit.weighable().ok()?;
    let row = observe(&geometry.marks(&real), &geometry);
    let simulated = (0..TIMES)
        .map(|time| {
            let mut rng = generator(1, STREAM + time as u64, capture.index as u64);
            let nuisance = Nuisance::draw(&Draw::WIDE.settled(&mut rng), &mut rng);
            let tilt_axis = any_angle(&mut rng);
            let marks = trace(
                &capture.strokes,
                &geometry.fields[0],
                &nuisance,
                tilt_axis,
                &Fitter::default(),
                &mut rng,
            );
            (marks.len() >= FEWEST_TRACES).then(|| observe(&[marks], &geometry))
        })
        .collect::<Vec<_>>();
    let kept: Vec<Row> = simulated.into_iter().flatten().collect();
    (kept.len() >= TIMES / 4).then_some((row, kept))
}

fn place(real: &Row, simulated: &[Row], column: usize) -> Option<f64> {
    let value = real.get(column).copied().filter(|value| value.is_finite())?;
    let others: Vec<f32> = simulated
        .iter()
        .filter_map(|row| row.get(column).copied())
        .filter(|value| value.is_finite())
        .collect();
    let below = others.iter().filter(|other| **other < value).count() as f64;
    let equal = others.iter().filter(|other| **other == value).count() as f64;
    (others.len() >= TIMES / 8).then(|| (below + 0.5 * equal) / others.len() as f64)
}
