//! Whether none of the modelled finishes fits: observables out of their range, two finishes on top of each other, or marks that
//! look more like those of another kind.

use crate::bytes::{Reader, Writer};
use crate::calibrate::softmax;
use crate::novelty::{Looks, Tail};
use crate::observables::{Row, is_difference, n_observables};
use crate::rules::gate;
use crate::trees::{Boosting, Table, Trees};
use crate::weighing::NONE_FITS;
use finish::models::Finish;
use rayon::prelude::*;

/// Both tests and the chance of their joint answer among objects that fit.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Fits {
    looks: Looks,
    /// Tells one finish from two and from marks of other kinds.
    others: Trees,
    others_tail: Tail,
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

/// What the trees of the second test tell apart: one finish,
const ONE: usize = 0;
/// two on top of each other,
const TWO: usize = 1;
/// marks of another kind.
const OTHER: usize = 2;
/// Number of these.
const CLASSES: usize = 3;

/// Objects that no single finish made.
pub(crate) struct Others {
    /// With two finishes on top of each other.
    pub layered: Vec<Row>,
    /// With marks of other kinds.
    pub foils: Vec<Row>,
}

impl Fits {
    /// Learns both tests.
    pub fn learn(single: &Single<'_>, others: &Others) -> Fits {
        let looks = Looks::learn(&single.fitted, &single.held, look_columns(), Finish::count());
        let trees = tell_from_others(single, others);
        let scores = single.held.par_iter().map(|(row, _)| not_one(&trees.scores(row))).collect();
        let mut fits = Fits {
            looks,
            others: trees,
            others_tail: Tail::of(scores),
            joint: Tail::from_quantiles(Vec::new()),
        };
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
        let p = self.joint.chance(smaller.score);
        (p, if p < NONE_FITS { smaller.furthest.why_none_fits() } else { smaller.furthest.words() })
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
        let kinds = self.others.scores(row);
        let other = self.others_tail.chance(not_one(&kinds));
        let fit = self.looks.fit(row, taken_for);
        let range = fit.as_ref().map_or(1.0, |fit| fit.p);
        let furthest = match fit {
            Some(fit) if range < other => Furthest::Observable(fit.stands_out),
            _ if kinds[TWO] >= kinds[OTHER] => Furthest::Layers,
            _ => Furthest::OtherKind,
        };
        Smaller { score: -other.min(range).ln(), furthest }
    }

    pub fn write(&self, out: &mut Writer) {
        self.looks.write(out);
        self.others.write(out);
        out.numbers(self.others_tail.quantiles());
        out.numbers(self.joint.quantiles());
    }

    pub fn read(from: &mut Reader<'_>) -> Option<Fits> {
        let looks = Looks::read(from, n_observables())?;
        let others = Trees::read(from).filter(|trees| trees.n_classes() == CLASSES)?;
        let others_tail = Tail::from_quantiles(from.numbers()?);
        let joint = Tail::from_quantiles(from.numbers()?);
        Some(Fits { looks, others, others_tail, joint })
    }
}

/// The smaller chance of the two tests.
struct Smaller {
    /// −ln of it.
    score: f64,
    furthest: Furthest,
}

/// What is furthest from what fitting objects show.
enum Furthest {
    /// An observable, by name.
    Observable(String),
    /// Likeness to two finishes.
    Layers,
    /// Likeness to a foil.
    OtherKind,
}

impl Furthest {
    fn words(self) -> String {
        match self {
            Furthest::Observable(name) => name,
            Furthest::Layers => "likeness to two finishes on top of each other".to_string(),
            Furthest::OtherKind => "likeness to marks of another kind".to_string(),
        }
    }

    fn why_none_fits(self) -> String {
        match self {
            Furthest::Observable(name) => format!("{name} lies outside what the best-fitting finish shows"),
            Furthest::Layers => "the marks look like two finishes on top of each other".to_string(),
            Furthest::OtherKind => {
                "the marks look more like wandering or kinked lines, even rows or bundles than like any \
                                    modelled finish"
                    .to_string()
            }
        }
    }
}

/// Trees that tell single finishes from all that no single finish made.
fn tell_from_others(single: &Single<'_>, others: &Others) -> Trees {
    let mut rows: Vec<&[f32]> = single.fitted.iter().map(|(row, _)| *row).collect();
    let mut classes = vec![ONE; rows.len()];
    for (kind, of_kind) in [(TWO, &others.layered), (OTHER, &others.foils)] {
        rows.extend(of_kind.iter().map(Vec::as_slice));
        classes.resize(rows.len(), kind);
    }
    let table = Table::new(&rows, classes, vec![1.0; rows.len()], CLASSES);
    let chosen: Vec<u32> = (0..rows.len() as u32).collect();
    let columns: Vec<u16> = (0..n_observables() as u16).collect();
    table.boost(&chosen, &columns, &Boosting::USUAL)
}

/// Log odds, from the trees' scores, that an object is not of a single finish.
fn not_one(kinds: &[f64]) -> f64 {
    let p = softmax(kinds);
    ((p[TWO] + p[OTHER]).max(1e-12) / p[ONE].max(1e-12)).ln()
}

/// Observables the ranges are kept of: the means over fields and the pooled ones.
fn look_columns() -> Vec<u16> {
    (0..n_observables()).filter(|column| !is_difference(*column)).map(|column| column as u16).collect()
}
