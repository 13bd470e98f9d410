//! The trained engine: simulations of one visit's geometry, and what was learnt from them.

use crate::bytes::{Reader, Writer};
use crate::detection::DetectionModel;
use crate::geometry::{Geometry, Lit};
use crate::member::{Lesson, Member};
use crate::novelty::{Looks, Tail};
use crate::observables::{Group, N_OBSERVABLES, group};
use crate::rules::{PairRule, PairSample, cap, envelope, gate};
use crate::see::layered_rows;
use crate::simulate::{Simulated, simulate};
use crate::stations::{StationModel, train_stations};
use crate::strata::{HALO, N_STRATA, WIDE, training_draw};
use crate::trees::{Boosting, Table, Trees};
use crate::visit::{CannotWeigh, Visit};
use finish::models::Finish;
use rayon::prelude::*;
use sha2::{Digest, Sha256};
use std::sync::atomic::{AtomicUsize, Ordering};

/// Version of the engine: part of the key of a stored one, raised whenever its digits change.
const VERSION: &str = "rubstone-engine-1";

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
    key: String,
    pub(crate) n_fields: usize,
    pub(crate) seed: u64,
    pub(crate) per_finish: usize,
    /// First the model of the stated prior, then the guards.
    pub(crate) members: Vec<Member>,
    pub(crate) looks: Looks,
    pub(crate) layers: (Trees, Tail),
    pub(crate) rules: Vec<PairRule>,
    pub(crate) variants: Vec<Variant>,
    pub(crate) stations: Vec<StationModel>,
}

/// One object judged by all models.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Judged {
    /// Calibrated scores, member by member.
    pub members: Vec<Vec<f64>>,
    /// For each finish, how far ratios in its favour count.
    pub gates: Vec<f64>,
}

/// Share of the objects of a main run that a variant uses.
const VARIANT_SHARE: usize = 3;
/// Progress: simulating takes this share of the time, training the rest.
const SIMULATION_SHARE: f64 = 0.75;
/// Number of tests on whether any finish fits.
pub(crate) const N_FIT_TESTS: f64 = 3.0;

impl Engine {
    /// Name under which a trained engine for this visit is stored: a hash of geometry, seed, numbers and version.
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
        Engine::with_change(geometry, options, &|pool| vec![1.0; pool.len()], watch)
    }

    /// The same after `change` had its way with the simulated objects; it returns how much each counts.
    pub(crate) fn with_change(
        geometry: &Geometry,
        options: &Options,
        change: &dyn Fn(&mut Vec<Simulated>) -> Vec<f64>,
        watch: &(dyn Fn(f64) -> bool + Sync),
    ) -> Result<Engine, CannotWeigh> {
        let per_finish = options.objects_per_finish.max(60);
        let total = per_finish * Finish::count();
        let done = AtomicUsize::new(0);
        let tick = || watch(SIMULATION_SHARE * done.fetch_add(1, Ordering::Relaxed) as f64 / total as f64);
        let detection = DetectionModel::ASSUMED;
        let mut pool = simulate(geometry, &detection, per_finish, options.seed, &training_draw, &tick)
            .ok_or(CannotWeigh::Interrupted)?;
        let layered = layered_rows(geometry, &detection, total / 10, options.seed);
        let weights = change(&mut pool);
        let pool = Pool::new(&pool, weights);
        let report = |share: f64| {
            if watch(SIMULATION_SHARE + (1.0 - SIMULATION_SHARE) * share) {
                Ok(())
            } else {
                Err(CannotWeigh::Interrupted)
            }
        };
        report(0.0)?;
        let mut engine = pool.teach(geometry, options, &layered);
        report(0.5)?;
        if options.sensitivity {
            engine.variants = pool.variants();
            engine.variants.extend(stations_left_out(geometry, options, &detection));
            engine.stations = train_stations(geometry, options).ok_or(CannotWeigh::Interrupted)?;
        }
        report(1.0)?;
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

    /// Reported log10 ratios of all pairs, in the order of [`Engine::rules`].
    #[must_use]
    pub fn reported(&self, row: &[f32]) -> Vec<f64> {
        let judged = self.judge(row);
        let cap = self.cap();
        self.rules.iter().map(|rule| rule.report(judged.envelope(rule.a, rule.b), cap)).collect()
    }

    /// Chance that some modelled finish looks like this: `(p, because)`; small means none fits.
    #[must_use]
    pub fn fits(&self, row: &[f32]) -> (f64, String) {
        let scores = self.members.first().map_or_else(Vec::new, |member| member.scores(row));
        let best = (0..scores.len()).max_by(|a, b| scores[*a].total_cmp(&scores[*b])).unwrap_or(0);
        let layered = self.layers.1.chance(layer_score(&self.layers.0, row));
        let Some(fit) = self.looks.fit(row, best) else { return (1.0, String::new()) };
        let p = fit.distance_p.min(fit.range_p).min(layered);
        let because = if layered <= fit.distance_p.min(fit.range_p) {
            "the marks look like two finishes on top of each other".to_string()
        } else if fit.range_p <= fit.distance_p {
            format!("{} lies outside what the best-fitting finish shows", fit.stands_out)
        } else {
            format!(
                "the observables do not go together as in the best-fitting finish; {} stands out most",
                fit.stands_out
            )
        };
        ((N_FIT_TESTS * p).min(1.0), because)
    }

    pub(crate) fn judge(&self, row: &[f32]) -> Judged {
        let members = self.members.iter().map(|member| member.scores(row)).collect();
        Judged { members, gates: gates(&self.looks, row) }
    }

    pub(crate) fn cap(&self) -> f64 {
        cap(6 * self.per_finish / 10, self.n_fields)
    }

    /// The engine as bytes, for the caller to store.
    #[must_use]
    pub fn to_bytes(&self) -> Vec<u8> {
        let mut out = Writer::default();
        out.text(VERSION);
        out.text(&self.key);
        [self.n_fields, self.seed as usize, self.per_finish].into_iter().for_each(|value| out.count(value));
        out.count(self.members.len());
        self.members.iter().for_each(|member| member.write(&mut out));
        self.looks.write(&mut out);
        self.layers.0.write(&mut out);
        out.numbers(self.layers.1.quantiles());
        out.count(self.rules.len());
        self.rules.iter().for_each(|rule| rule.write(&mut out));
        out.count(self.variants.len());
        for variant in &self.variants {
            out.text(&variant.words);
            out.count(variant.station.map_or(0, |station| station + 1));
            variant.member.write(&mut out);
        }
        out.count(self.stations.len());
        self.stations.iter().for_each(|station| station.write(&mut out));
        out.0
    }

    /// Reads a stored engine; `None` if the bytes are broken or of another version.
    #[must_use]
    pub fn from_bytes(bytes: &[u8]) -> Option<Engine> {
        let mut from = Reader(bytes);
        if from.text()? != VERSION {
            return None;
        }
        let key = from.text()?;
        let (n_fields, seed, per_finish) = (from.count()?, from.count()? as u64, from.count()?);
        let n_members = from.length()?;
        let members = (0..n_members).map(|_| Member::read(&mut from)).collect::<Option<Vec<_>>>()?;
        let looks = Looks::read(&mut from, N_OBSERVABLES)?;
        let layers = (Trees::read(&mut from)?, Tail::from_quantiles(from.numbers()?));
        let n_rules = from.length()?;
        let rules = (0..n_rules).map(|_| PairRule::read(&mut from)).collect::<Option<Vec<_>>>()?;
        let n_variants = from.length()?;
        let variants = (0..n_variants).map(|_| read_variant(&mut from)).collect::<Option<Vec<_>>>()?;
        let n_stations = from.length()?;
        let stations = (0..n_stations).map(|_| StationModel::read(&mut from)).collect::<Option<Vec<_>>>()?;
        let n = Finish::count();
        let sound = rules.iter().all(|rule| rule.a < n && rule.b < n) && !members.is_empty();
        sound.then_some(Engine {
            key,
            n_fields,
            seed,
            per_finish,
            members,
            looks,
            layers,
            rules,
            variants,
            stations,
        })
    }
}

fn read_variant(from: &mut Reader<'_>) -> Option<Variant> {
    let words = from.text()?;
    let station = from.count()?.checked_sub(1);
    Some(Variant { words, station, member: Member::read(from)? })
}

impl Judged {
    /// The cautious ratio of a pair before tempering, log10.
    pub fn envelope(&self, a: usize, b: usize) -> f64 {
        let members: Vec<&[f64]> = self.members.iter().map(Vec::as_slice).collect();
        let ratio = envelope(&members, a, b);
        ratio * self.gates.get(if ratio > 0.0 { a } else { b }).copied().unwrap_or(0.0)
    }
}

fn gates(looks: &Looks, row: &[f32]) -> Vec<f64> {
    (0..Finish::count())
        .map(|class| looks.fit(row, class).map_or(0.0, |fit| gate(2.0 * fit.distance_p.min(fit.range_p))))
        .collect()
}

pub(crate) fn layer_score(trees: &Trees, row: &[f32]) -> f64 {
    let scores = trees.scores(row);
    scores.get(1).copied().unwrap_or(0.0) - scores.first().copied().unwrap_or(0.0)
}

pub(crate) fn key_of(geometry: &Geometry, options: &Options) -> String {
    let mut hash = Sha256::new();
    hash.update(VERSION);
    for number in [options.seed, options.objects_per_finish as u64, u64::from(options.sensitivity)] {
        hash.update(number.to_le_bytes());
    }
    for field in &geometry.fields {
        let light = match field.light {
            Lit::Side(axis) => axis,
            Lit::Around => -1.0,
            Lit::Unknown => -2.0,
        };
        let lens = field.lens_residual.unwrap_or(-1.0);
        for number in [
            field.width_mm,
            field.height_mm,
            field.mm_per_px,
            field.blur_px,
            light,
            lens,
            field.station as f64,
        ] {
            hash.update(number.to_le_bytes());
        }
    }
    hash.finalize().iter().map(|byte| format!("{byte:02x}")).collect()
}

/// All simulated rows and how they are split.
struct Pool<'a> {
    simulated: &'a [Simulated],
    rows: Vec<&'a [f32]>,
    classes: Vec<usize>,
    halves: Vec<usize>,
    table: Table,
}

impl<'a> Pool<'a> {
    fn new(simulated: &'a [Simulated], weights: Vec<f64>) -> Pool<'a> {
        let rows: Vec<&[f32]> = simulated.iter().map(|object| object.row.as_slice()).collect();
        let classes: Vec<usize> = simulated.iter().map(|object| object.finish).collect();
        // Strata repeat every ten objects: halves change every ten, so that each half has all strata.
        let halves = (0..simulated.len()).map(|number| (number / Finish::count() / 10) % 2).collect();
        let table = Table::new(&rows, classes.clone(), weights, Finish::count());
        Pool { simulated, rows, classes, halves, table }
    }

    fn lesson(&self) -> Lesson<'_> {
        Lesson { table: &self.table, rows: &self.rows, classes: &self.classes, halves: &self.halves }
    }

    fn teach(&self, geometry: &Geometry, options: &Options, layered: &[Vec<f32>]) -> Engine {
        let lesson = self.lesson();
        let all = columns_without(&[]);
        let plain = |row: usize| self.simulated[row].stratum == WIDE;
        let everything = |_: usize| true;
        let guard = Boosting { rounds: Boosting::USUAL.rounds * 2 / 3, ..Boosting::USUAL };
        let n = Finish::count();
        let fitted = [
            Member::fit(&lesson, &plain, &all, &Boosting::USUAL, n),
            Member::fit(&lesson, &everything, &all, &guard, n),
            Member::fit(&lesson, &everything, &columns_without(&[Group::Ends]), &guard, n),
        ];
        let named: Vec<(&[f32], usize)> = (0..self.rows.len())
            .filter(|row| plain(*row))
            .map(|row| (self.rows[row], self.classes[row]))
            .collect();
        let looks = Looks::learn(&named, look_columns(), n);
        let (members, scores): (Vec<Member>, Vec<Vec<Vec<f64>>>) = fitted.into_iter().unzip();
        let judged: Vec<Judged> = (0..self.rows.len())
            .into_par_iter()
            .map(|row| Judged {
                members: scores.iter().map(|member| member[row].clone()).collect(),
                gates: gates(&looks, self.rows[row]),
            })
            .collect();
        let n_fields = geometry.fields.len();
        let most = cap(6 * options.objects_per_finish / 10, n_fields);
        let rules =
            pairs().map(|(a, b)| PairRule::learn(a, b, &self.pair_sample(&judged, a, b), most)).collect();
        let layers = self.learn_layers(layered);
        Engine {
            key: key_of(geometry, options),
            n_fields,
            seed: options.seed,
            per_finish: options.objects_per_finish,
            members,
            looks,
            layers,
            rules,
            variants: Vec::new(),
            stations: Vec::new(),
        }
    }

    fn pair_sample(&self, judged: &[Judged], a: usize, b: usize) -> PairSample {
        let mut sample: PairSample = Default::default();
        for (row, judged) in judged.iter().enumerate() {
            let class = self.classes[row];
            if class != a && class != b {
                continue;
            }
            let (of_a, of_b) = &mut sample[self.simulated[row].stratum.min(N_STRATA - 1)];
            (if class == a { of_a } else { of_b }).push(judged.envelope(a, b));
        }
        sample
    }

    /// One finish or two on top of each other: fitted on one half, thresholds from single finishes of the other.
    fn learn_layers(&self, layered: &[Vec<f32>]) -> (Trees, Tail) {
        let single: Vec<usize> =
            (0..self.rows.len()).filter(|row| self.simulated[*row].stratum == WIDE).collect();
        let (fit, held): (Vec<usize>, Vec<usize>) =
            single.into_iter().partition(|row| self.halves[*row] == 0);
        let mut rows: Vec<&[f32]> = fit.iter().map(|row| self.rows[*row]).collect();
        rows.extend(layered.iter().map(Vec::as_slice));
        let classes = (0..rows.len()).map(|index| usize::from(index >= fit.len())).collect();
        let table = Table::new(&rows, classes, vec![1.0; rows.len()], 2);
        let chosen: Vec<u32> = (0..rows.len() as u32).collect();
        let trees = table.boost(&chosen, &columns_without(&[]), &Boosting::USUAL);
        let tail = Tail::of(held.par_iter().map(|row| layer_score(&trees, self.rows[*row])).collect());
        (trees, tail)
    }

    /// Models that show what an answer rests on: each group of observables left out, priors narrowed and widened.
    fn variants(&self) -> Vec<Variant> {
        let lesson = self.lesson();
        let quick = Boosting { rounds: Boosting::USUAL.rounds / 3, rate: 0.2, ..Boosting::USUAL };
        let n = Finish::count();
        let third = |row: usize| (row / n).is_multiple_of(VARIANT_SHARE);
        let variant = |words: String, member: Member| Variant { words, station: None, member };
        let mut found: Vec<Variant> = Group::ALL
            .iter()
            .map(|left_out| {
                let (member, _) = Member::fit(&lesson, &third, &columns_without(&[*left_out]), &quick, n);
                variant(format!("without {}", left_out.words()), member)
            })
            .collect();
        let middle = self.middle_objects();
        let all = columns_without(&[]);
        let narrow = |row: usize| middle[row] && self.simulated[row].stratum == WIDE;
        found.push(variant(
            "prior ranges narrowed to their middle".into(),
            Member::fit(&lesson, &narrow, &all, &quick, n).0,
        ));
        let wide = |row: usize| self.simulated[row].stratum == HALO;
        found.push(variant("prior ranges widened".into(), Member::fit(&lesson, &wide, &all, &quick, n).0));
        found
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
fn stations_left_out(geometry: &Geometry, options: &Options, detection: &DetectionModel) -> Vec<Variant> {
    if geometry.stations.len() < 2 {
        return Vec::new();
    }
    let per_finish = (options.objects_per_finish / 16).max(60);
    let quick = Boosting { rounds: Boosting::USUAL.rounds / 3, rate: 0.2, ..Boosting::USUAL };
    let mut found = Vec::new();
    for (station, name) in geometry.stations.iter().enumerate() {
        let Some(rest) = geometry.without_station(station) else { continue };
        let seed = options.seed ^ (0x57a7_1000 + station as u64);
        let Some(pool) = simulate(&rest, detection, per_finish, seed, &training_draw, &|| true) else {
            continue;
        };
        let weights = vec![1.0; pool.len()];
        let pool = Pool::new(&pool, weights);
        let (member, _) =
            Member::fit(&pool.lesson(), &|_| true, &columns_without(&[]), &quick, Finish::count());
        found.push(Variant { words: format!("without {name}"), station: Some(station), member });
    }
    found
}

/// All pairs of finishes, each once.
pub(crate) fn pairs() -> impl Iterator<Item = (usize, usize)> {
    let n = Finish::count();
    (0..n).flat_map(move |a| (a + 1..n).map(move |b| (a, b)))
}

pub(crate) fn columns_without(groups: &[Group]) -> Vec<u16> {
    (0..N_OBSERVABLES)
        .filter(|column| !groups.contains(&group(*column)))
        .map(|column| column as u16)
        .collect()
}

/// Observables the fit is judged by: the means over fields and the pooled ones.
fn look_columns() -> Vec<u16> {
    (0..N_OBSERVABLES)
        .filter(|column| !crate::observables::is_difference(*column))
        .map(|column| column as u16)
        .collect()
}
