//! What is learnt from simulated objects: models, tests of fit, rules, and what shows on what an answer rests.

use crate::engine::{Engine, Judged, Options, Variant, highest, pairs};
use crate::fits::{Fits, Others, Single};
use crate::geometry::Geometry;
use crate::key::key_of;
use crate::member::{Learning, Lesson, Member};
use crate::observables::{Group, group, n_observables};
use crate::progress::Stage;
use crate::rules::{PairRule, PairSample, cap};
use crate::simulate::{Simulated, simulate};
use crate::strata::{HALO, WIDE, training_draw};
use crate::trees::{Boosting, Table};
use crate::visit::CannotWeigh;
use finish::models::Finish;
use rayon::prelude::*;

/// Parts of the model of the stated prior: the more, the nearer each comes to having seen all objects.
const PARTS: usize = 4;
/// Parts of guards and of models that only show what an answer rests on.
const FEW_PARTS: usize = 2;
/// Of so many objects of a main run, a variant uses one.
const VARIANT_SHARE: usize = 3;
/// An edge of a parameter is one of so many parts of the objects of a finish, at either end (ours).
const EDGE_SHARE: usize = 8;
/// A small engine without one station has one object for so many of the main run.
const LEFT_OUT_SHARE: usize = 16;

/// All simulated rows and how they are dealt out.
pub(crate) struct Pool<'a> {
    simulated: &'a [Simulated],
    rows: Vec<&'a [f32]>,
    classes: Vec<usize>,
    blocks: Vec<usize>,
    table: Table,
}

/// Blocks of simulated objects: strata repeat every ten objects of each finish, so that every block has all strata.
pub(crate) fn blocks(n: usize) -> Vec<usize> {
    (0..n).map(|number| number / Finish::count() / 10).collect()
}

fn learning(columns: &[u16], boosting: Boosting, parts: usize) -> Learning<'_> {
    Learning { columns, boosting, parts, n_classes: Finish::count() }
}

impl<'a> Pool<'a> {
    pub fn new(simulated: &'a [Simulated], weights: Vec<f64>) -> Pool<'a> {
        let rows: Vec<&[f32]> = simulated.iter().map(|object| object.row.as_slice()).collect();
        let classes: Vec<usize> = simulated.iter().map(|object| object.finish).collect();
        let table = Table::new(&rows, classes.clone(), weights, Finish::count());
        Pool { simulated, rows, classes, blocks: blocks(simulated.len()), table }
    }

    fn lesson(&self) -> Lesson<'_> {
        Lesson { table: &self.table, rows: &self.rows, classes: &self.classes, blocks: &self.blocks }
    }

    /// A model of a small pool on all observables, with calibrated held-out scores.
    pub fn quick_member(&self) -> (Member, Vec<Vec<f64>>) {
        let all = columns_without(&[]);
        Member::fit(&self.lesson(), &|_| true, &learning(&all, Boosting::QUICK, FEW_PARTS))
    }

    /// Learns models, tests of fit and rules.
    pub fn teach(
        &self,
        geometry: &Geometry,
        options: &Options,
        others: &Others,
        stage: Stage<'_>,
    ) -> Result<Engine, CannotWeigh> {
        let lesson = self.lesson();
        let (all, no_ends) = (columns_without(&[]), columns_without(&[Group::Ends]));
        let plain = |row: usize| self.simulated[row].stratum == WIDE;
        let everything = |_: usize| true;
        stage.check(0.0)?;
        let stated = Member::fit(&lesson, &plain, &learning(&all, Boosting::USUAL, PARTS));
        stage.check(0.4)?;
        let guard = Member::fit(&lesson, &everything, &learning(&all, Boosting::GUARD, FEW_PARTS));
        stage.check(0.6)?;
        let endless = Member::fit(&lesson, &everything, &learning(&no_ends, Boosting::GUARD, FEW_PARTS));
        stage.check(0.8)?;
        let (members, scores): (Vec<Member>, Vec<Vec<Vec<f64>>>) =
            [stated, guard, endless].into_iter().unzip();
        let fits = self.learn_fits(&scores[0], others);
        let judged: Vec<Judged> = (0..self.rows.len())
            .into_par_iter()
            .map(|row| Judged {
                members: scores.iter().map(|member| member[row].clone()).collect(),
                parts: Vec::new(),
                gates: fits.gates(self.rows[row]),
            })
            .collect();
        let n_fields = geometry.fields.len();
        let most = cap(6 * options.objects_per_finish / 10, n_fields);
        let edges = self.edges();
        let rules = pairs()
            .map(|(a, b)| PairRule::learn(a, b, &self.pair_sample(&judged, &edges, a, b), most))
            .collect();
        stage.check(1.0)?;
        Ok(Engine {
            key: key_of(geometry, options),
            n_fields,
            seed: options.seed,
            per_finish: options.objects_per_finish,
            members,
            fits,
            rules,
            variants: Vec::new(),
            stations: Vec::new(),
        })
    }

    /// Tests of fit, fitted to every other block of the stated prior's objects and held against the rest.
    fn learn_fits(&self, scores: &[Vec<f64>], others: &Others) -> Fits {
        let wide: Vec<usize> =
            (0..self.rows.len()).filter(|row| self.simulated[*row].stratum == WIDE).collect();
        let (fitted, held): (Vec<usize>, Vec<usize>) =
            wide.into_iter().partition(|row| self.blocks[*row].is_multiple_of(2));
        let named = |chosen: &[usize]| {
            chosen.iter().map(|row| (self.rows[*row], self.classes[*row])).collect::<Vec<_>>()
        };
        let taken_for = held.iter().map(|row| highest(&scores[*row])).collect();
        Fits::learn(&Single { fitted: named(&fitted), held: named(&held), taken_for }, others)
    }

    /// Held-out ratios of a pair by stratum and, for each finish, at the edges of its parameters.
    fn pair_sample(&self, judged: &[Judged], edges: &[Vec<Vec<usize>>], a: usize, b: usize) -> PairSample {
        let mut sample = PairSample::default();
        for (row, judged) in judged.iter().enumerate() {
            sample.add(self.simulated[row].stratum, self.classes[row], (a, b), judged.envelope(a, b));
        }
        let ratios = |edge: &Vec<usize>| edge.iter().map(|row| judged[*row].envelope(a, b)).collect();
        sample.edges_of_a = edges[a].iter().map(ratios).collect();
        sample.edges_of_b = edges[b].iter().map(ratios).collect();
        sample
    }

    /// For each finish, its objects at either end of each of its parameters: averages over a stratum hide them.
    fn edges(&self) -> Vec<Vec<Vec<usize>>> {
        (0..Finish::count())
            .map(|class| {
                let mine: Vec<usize> =
                    (0..self.rows.len()).filter(|row| self.classes[*row] == class).collect();
                let n = mine.len() / EDGE_SHARE;
                let parameters = Finish::all().nth(class).map_or(0, |f| f.model().parameters().len());
                let ends = |parameter: usize| {
                    let mut order = mine.clone();
                    let value = |row: usize| self.simulated[row].values[parameter];
                    order.sort_by(|a, b| value(*a).total_cmp(&value(*b)).then(a.cmp(b)));
                    [order[..n].to_vec(), order[order.len() - n..].to_vec()]
                };
                (0..parameters).flat_map(ends).collect()
            })
            .collect()
    }

    /// Models that show what an answer rests on: each group of observables left out, priors narrowed and widened.
    pub fn variants(&self, stage: Stage<'_>) -> Result<Vec<Variant>, CannotWeigh> {
        let lesson = self.lesson();
        let third = |row: usize| (row / Finish::count()).is_multiple_of(VARIANT_SHARE);
        let middle = self.middle_objects();
        let narrow = |row: usize| middle[row] && self.simulated[row].stratum == WIDE;
        let wide = |row: usize| self.simulated[row].stratum == HALO;
        let all = columns_without(&[]);
        let fit = |words: String, taught: &(dyn Fn(usize) -> bool + Sync), columns: &[u16]| {
            let (member, _) = Member::fit(&lesson, taught, &learning(columns, Boosting::QUICK, FEW_PARTS));
            Variant { words, station: None, member }
        };
        let n = Group::ALL.len() + 2;
        let mut found = Vec::with_capacity(n);
        for (index, left_out) in Group::ALL.iter().enumerate() {
            stage.check(index as f64 / n as f64)?;
            found.push(fit(format!("without {}", left_out.words()), &third, &columns_without(&[*left_out])));
        }
        found.push(fit("prior ranges narrowed to their middle".into(), &narrow, &all));
        found.push(fit("prior ranges widened".into(), &wide, &all));
        stage.check(1.0)?;
        Ok(found)
    }

    /// Objects whose parameters lie, on average, nearer the middle of their finish's prior than half of the others.
    fn middle_objects(&self) -> Vec<bool> {
        let mut middle = vec![false; self.rows.len()];
        for class in 0..Finish::count() {
            let mine: Vec<usize> = (0..self.rows.len()).filter(|row| self.classes[*row] == class).collect();
            let mut off = vec![0.0; mine.len()];
            for parameter in 0..self.simulated[mine[0]].values.len() {
                let mut order: Vec<usize> = (0..mine.len()).collect();
                let value = |k: usize| self.simulated[mine[k]].values[parameter];
                order.sort_by(|a, b| value(*a).total_cmp(&value(*b)));
                for (rank, k) in order.into_iter().enumerate() {
                    off[k] += (rank as f64 / mine.len() as f64 - 0.5).abs();
                }
            }
            let mut sorted = off.clone();
            sorted.sort_by(f64::total_cmp);
            let half = sorted[mine.len() / 2];
            mine.iter().zip(&off).for_each(|(row, off)| middle[*row] = *off <= half);
        }
        middle
    }
}

/// Smaller engines for the visit without each of its stations.
pub(crate) fn stations_left_out(
    geometry: &Geometry,
    options: &Options,
    stage: Stage<'_>,
) -> Result<Vec<Variant>, CannotWeigh> {
    let n = geometry.stations.len();
    let mut found = Vec::new();
    if n < 2 {
        return Ok(found);
    }
    let per_finish = (options.objects_per_finish / LEFT_OUT_SHARE).max(60);
    for (station, name) in geometry.stations.iter().enumerate() {
        let own = stage.step(station, n);
        let Some(rest) = geometry.without_station(station) else { continue };
        let seed = options.seed ^ (0x57a7_1000 + station as u64);
        let pool = simulate(&rest, per_finish, seed, &training_draw, &|| own.goes_on(0.0))
            .ok_or(CannotWeigh::Interrupted)?;
        let weights = vec![1.0; pool.len()];
        let pool = Pool::new(&pool, weights);
        let (member, _) = pool.quick_member();
        found.push(Variant { words: format!("without {name}"), station: Some(station), member });
    }
    Ok(found)
}

fn columns_without(groups: &[Group]) -> Vec<u16> {
    (0..n_observables())
        .filter(|column| !groups.contains(&group(*column)))
        .map(|column| column as u16)
        .collect()
}
