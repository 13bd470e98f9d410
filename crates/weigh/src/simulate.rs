//! Simulated objects under the geometry of a visit.

use crate::foils::{Foil, KINDS, Lie, Run};
use crate::geometry::Geometry;
use crate::mark::{Fitter, Mark};
use crate::nuisance::Nuisance;
use crate::observables::{Row, observe};
use crate::see::see;
use crate::sources::{Finished, Layered};
use crate::visit::FEWEST_TRACES;
use finish::models::{Draw, Finish};
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64;
use rayon::prelude::*;

/// One simulated object: what made it and what was seen of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Simulated {
    /// Its finish, by index.
    pub finish: usize,
    /// The stratum it was drawn from, by index into the caller's list.
    pub stratum: usize,
    /// Its parameter values.
    pub values: finish::models::Values,
    /// Whether it shows enough traces to be weighed at all.
    pub weighable: bool,
    /// Its observables.
    pub row: Row,
}

/// Draws of one object until it shows enough traces. What cannot be weighed is never asked about: to learn from it would cost
/// objects, and to count it would hide how often pictures that can be weighed decide.
const TRIES: usize = 4;

/// A generator for object number `index` of a stream, independent of all others and of the thread that runs it.
#[must_use]
pub fn generator(seed: u64, stream: u64, index: u64) -> Pcg64 {
    // Two rounds of a 64-bit finaliser spread neighbouring numbers (Stafford's mix 13 constants, as in SplitMix64).
    let mix = |mut z: u64| {
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    };
    Pcg64::seed_from_u64(mix(
        seed ^ mix(stream.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ mix(index.wrapping_add(1)))
    ))
}

/// The marks one object of `finish` would show, and its values.
#[must_use]
pub fn simulate_marks(
    finish: Finish,
    draw: &Draw,
    geometry: &Geometry,
    rng: &mut Pcg64,
) -> (Vec<Vec<Mark>>, finish::models::Values) {
    let draw = draw.settled(rng);
    let finished = Finished::draw(finish, &draw, geometry, rng);
    let nuisance = Nuisance::draw(&draw, rng);
    let values = finished.object.values;
    (see(&finished, &nuisance, geometry, &Fitter::default(), rng), values)
}

/// The draw of an object of a finish with its number, and the stratum it comes from.
pub type DrawOf<'a> = &'a (dyn Fn(Finish, usize, &mut Pcg64) -> (usize, Draw) + Sync);

fn draw_one(
    finish: Finish,
    index: usize,
    geometry: &Geometry,
    draw_of: DrawOf<'_>,
    rng: &mut Pcg64,
) -> Simulated {
    let (stratum, draw) = draw_of(finish, index, rng);
    let (marks, values) = simulate_marks(finish, &draw, geometry, rng);
    Simulated {
        finish: finish.index(),
        stratum,
        values,
        weighable: can_be_weighed(&marks),
        row: observe(&marks, geometry),
    }
}

/// Simulates `per_finish` objects of every finish, each with the draw `draw_of(index)` names (with its stratum number) and drawn
/// anew, four times at most, where it could not be weighed.
///
/// `tick` is called after each object and returns false to stop; then `None` is returned.
pub fn simulate(
    geometry: &Geometry,
    per_finish: usize,
    seed: u64,
    draw_of: DrawOf<'_>,
    tick: &(dyn Fn() -> bool + Sync),
) -> Option<Vec<Simulated>> {
    let finishes: Vec<Finish> = Finish::all().collect();
    let total = per_finish * finishes.len();
    (0..total)
        .into_par_iter()
        .map(|number| {
            let finish = finishes[number % finishes.len()];
            let index = number / finishes.len();
            let mut rng = generator(seed, finish.index() as u64, index as u64);
            let mut object = draw_one(finish, index, geometry, draw_of, &mut rng);
            for _ in 1..TRIES {
                if object.weighable {
                    break;
                }
                object = draw_one(finish, index, geometry, draw_of, &mut rng);
            }
            tick().then_some(object)
        })
        .collect()
}

/// Observables of objects with two finishes on top of each other, under the wide prior; drawn anew as single ones are.
#[must_use]
pub fn layered_rows(geometry: &Geometry, n: usize, seed: u64) -> Vec<Row> {
    rows_of(geometry, n, seed, LAYERED_STREAM, &layered_marks)
}

/// Observables of objects with marks of these other kinds in turn; drawn anew as single ones are.
#[must_use]
pub fn foil_rows(geometry: &Geometry, kinds: &[(Lie, Run)], n: usize, seed: u64) -> Vec<Row> {
    let marks = |index: usize, geometry: &Geometry, rng: &mut Pcg64| {
        let kind = kinds.get(index % kinds.len().max(1)).copied().unwrap_or(KINDS[0]);
        let foil = Foil::draw(kind, geometry.stations.len(), rng);
        let nuisance = Nuisance::draw(&Draw::WIDE.settled(rng), rng);
        see(&foil, &nuisance, geometry, &Fitter::default(), rng)
    };
    rows_of(geometry, n, seed, FOIL_STREAM, &marks)
}

/// Marks of an object with its number.
type MarksOf<'a> = &'a (dyn Fn(usize, &Geometry, &mut Pcg64) -> Vec<Vec<Mark>> + Sync);

fn rows_of(geometry: &Geometry, n: usize, seed: u64, stream: u64, marks_of: MarksOf<'_>) -> Vec<Row> {
    (0..n)
        .into_par_iter()
        .map(|index| {
            let mut rng = generator(seed, stream, index as u64);
            let mut marks = marks_of(index, geometry, &mut rng);
            for _ in 1..TRIES {
                if can_be_weighed(&marks) {
                    break;
                }
                marks = marks_of(index, geometry, &mut rng);
            }
            observe(&marks, geometry)
        })
        .collect()
}

fn layered_marks(index: usize, geometry: &Geometry, rng: &mut Pcg64) -> Vec<Vec<Mark>> {
    let finishes: Vec<Finish> = Finish::all().collect();
    let first = index % finishes.len();
    let second = (first + rng.random_range(1..finishes.len())) % finishes.len();
    let draw = Draw::WIDE.settled(rng);
    let mut finished = |finish: usize| Finished::draw(finishes[finish], &draw, geometry, rng);
    let (earlier, later) = (finished(first), finished(second));
    let nuisance = Nuisance::draw(&draw, rng);
    let layered = Layered { earlier, later, share: 0.3 + 0.4 * rng.random::<f64>() };
    see(&layered, &nuisance, geometry, &Fitter::default(), rng)
}

/// Whether so many marks carry a weighing.
#[must_use]
pub fn can_be_weighed(marks: &[Vec<Mark>]) -> bool {
    marks.iter().map(Vec::len).sum::<usize>() >= FEWEST_TRACES
}

/// Stream of random numbers for layered objects, beyond those of the finishes.
const LAYERED_STREAM: u64 = 1000;
/// The same for marks of other kinds.
const FOIL_STREAM: u64 = 1001;
