//! Whether none of the modelled finishes fits: observables out of their range, or two finishes on top of each other.

use crate::bytes::{Reader, Writer};
use crate::novelty::{Looks, Tail};
use crate::observables::{is_difference, n_observables};
use crate::rules::gate;
use crate::trees::{Boosting, Table, Trees};
use finish::models::Finish;
use rayon::prelude::*;

/// Both tests and the chance of their joint answer among objects that fit.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Fits {
    looks: Looks,
    layers: Trees,
    layers_tail: Tail,
    /// Of −ln of the smaller of the two chances.
    joint: Tail,
}

/// Rows of single finishes that the tests are fitted to and held against.
pub(crate) struct Single<'a> {
    /// Rows and finishes the ranges and the trees are fitted to.
    pub fitted: Vec<(&'a [f32], usize)>,
    /// Rows the tests never saw.
    pub held: Vec<(&'a [f32], usize)>,
    /// The finish each of the held rows is taken for by a model that never saw it.
    pub taken_for: Vec<usize>,
}

impl Fits {
    /// Learns both tests; `layered` are objects with two finishes.
    pub fn learn(single: &Single<'_>, layered: &[Vec<f32>]) -> Fits {
        let looks = Looks::learn(&single.fitted, &single.held, look_columns(), Finish::count());
        let mut rows: Vec<&[f32]> = single.fitted.iter().map(|(row, _)| *row).collect();
        rows.extend(layered.iter().map(Vec::as_slice));
        let classes = (0..rows.len()).map(|index| usize::from(index >= single.fitted.len())).collect();
        let table = Table::new(&rows, classes, vec![1.0; rows.len()], 2);
        let chosen: Vec<u32> = (0..rows.len() as u32).collect();
        let columns: Vec<u16> = (0..n_observables() as u16).collect();
        let layers = table.boost(&chosen, &columns, &Boosting::USUAL);
        let scores = single.held.par_iter().map(|(row, _)| layer_score(&layers, row)).collect();
        let mut fits =
            Fits { looks, layers, layers_tail: Tail::of(scores), joint: Tail::from_quantiles(Vec::new()) };
        let joint = single
            .held
            .par_iter()
            .zip(&single.taken_for)
            .map(|((row, _), taken_for)| fits.smaller(row, *taken_for).score)
            .collect();
        fits.joint = Tail::of(joint);
        fits
    }

    /// Chance that an object that fits looks at least this strange, and what stands out.
    pub fn judge(&self, row: &[f32], taken_for: usize) -> (f64, String) {
        let smaller = self.smaller(row, taken_for);
        (self.joint.chance(smaller.score), smaller.because)
    }

    /// Chance of such observables for one finish.
    pub fn of(&self, row: &[f32], finish: usize) -> f64 {
        self.looks.fit(row, finish).map_or(1.0, |fit| fit.p)
    }

    /// For each finish, how far ratios in its favour count.
    pub fn gates(&self, row: &[f32]) -> Vec<f64> {
        (0..Finish::count()).map(|finish| gate(self.of(row, finish))).collect()
    }

    fn smaller(&self, row: &[f32], taken_for: usize) -> Smaller {
        let layered = self.layers_tail.chance(layer_score(&self.layers, row));
        let fit = self.looks.fit(row, taken_for);
        let range = fit.as_ref().map_or(1.0, |fit| fit.p);
        let because = match fit {
            Some(fit) if range < layered => {
                format!("{} lies outside what the best-fitting finish shows", fit.stands_out)
            }
            _ => "the marks look like two finishes on top of each other".to_string(),
        };
        Smaller { score: -layered.min(range).ln(), because }
    }

    pub fn write(&self, out: &mut Writer) {
        self.looks.write(out);
        self.layers.write(out);
        out.numbers(self.layers_tail.quantiles());
        out.numbers(self.joint.quantiles());
    }

    pub fn read(from: &mut Reader<'_>) -> Option<Fits> {
        let looks = Looks::read(from, n_observables())?;
        let layers = Trees::read(from)?;
        let layers_tail = Tail::from_quantiles(from.numbers()?);
        let joint = Tail::from_quantiles(from.numbers()?);
        Some(Fits { looks, layers, layers_tail, joint })
    }
}

/// The smaller chance of the two tests.
struct Smaller {
    /// −ln of it.
    score: f64,
    because: String,
}

fn layer_score(trees: &Trees, row: &[f32]) -> f64 {
    let scores = trees.scores(row);
    scores.get(1).copied().unwrap_or(0.0) - scores.first().copied().unwrap_or(0.0)
}

/// Observables the ranges are kept of: the means over fields and the pooled ones.
fn look_columns() -> Vec<u16> {
    (0..n_observables()).filter(|column| !is_difference(*column)).map(|column| column as u16).collect()
}
