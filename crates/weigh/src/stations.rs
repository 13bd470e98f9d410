//! Stations: does one finish explain all of them, and where do they differ?

use crate::bytes::{Reader, Writer};
use crate::engine::{Options, pairs};
use crate::geometry::{FieldGeometry, Geometry};
use crate::mark::Mark;
use crate::member::Member;
use crate::observables::observe;
use crate::progress::Stage;
use crate::rules::{PairRule, PairSample};
use crate::simulate::simulate;
use crate::strata::training_draw;
use crate::teach::Pool;
use crate::visit::CannotWeigh;
use finish::models::Finish;
use std::f64::consts::LN_10;

/// Whether one finish explains all stations.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StationsAnswer {
    /// Each station with what it supports when weighed alone.
    pub stations: Vec<StationAlone>,
    /// Pairs of stations that speak for different finishes, after allowance for the number of comparisons.
    pub differ: Vec<Difference>,
    /// In words.
    pub words: String,
}

/// One station weighed alone.
#[derive(Debug, Clone, PartialEq)]
pub struct StationAlone {
    /// Its name.
    pub name: String,
    /// Traces that were weighed.
    pub traces: usize,
    /// Best supported finish when weighed alone; `None` with too few traces.
    pub best: Option<Finish>,
    /// Tempered log10 ratios of every pair.
    pub log10_lr: Vec<f64>,
}

/// Two stations that speak for different finishes.
#[derive(Debug, Clone, PartialEq)]
pub struct Difference {
    /// One station.
    pub first: String,
    /// The finish it supports over `second_supports`.
    pub first_supports: Finish,
    /// The other station.
    pub second: String,
    /// The finish it supports over `first_supports`.
    pub second_supports: Finish,
    /// The smaller of the two log10 ratios.
    pub log10_lr: f64,
}

/// Fewest traces a station needs to be weighed alone (ours).
const FEWEST_TRACES: usize = 6;
/// Keeps the stations' simulations apart from those of the whole visit.
const STATION_SEED: u64 = 0x0a10_4e00;
/// Objects for a station's own small engine, as a share of the main one's.
const SHARE: usize = 8;

/// A small engine for one station alone.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct StationModel {
    member: Member,
    rules: Vec<PairRule>,
    cap: f64,
}

/// Trains one small engine for each station; stations of the same geometry share one.
pub(crate) fn train_stations(
    geometry: &Geometry,
    options: &Options,
    stage: Stage<'_>,
) -> Result<Vec<StationModel>, CannotWeigh> {
    let n = geometry.stations.len();
    let own: Vec<Geometry> = (0..n).map(|station| own_geometry(geometry, station)).collect();
    let mut trained: Vec<StationModel> = Vec::with_capacity(if n > 1 { n } else { 0 });
    if n < 2 {
        return Ok(trained);
    }
    for (station, geometry) in own.iter().enumerate() {
        let same = own.iter().take(station).position(|other| other.fields == geometry.fields);
        let model = match same.and_then(|other| trained.get(other)) {
            Some(model) => model.clone(),
            None => StationModel::train(geometry, options, stage.step(station, n))?,
        };
        trained.push(model);
    }
    Ok(trained)
}

fn own_geometry(geometry: &Geometry, station: usize) -> Geometry {
    let mine = geometry.fields.iter().filter(|field| field.station == station);
    Geometry {
        fields: mine.map(|field| FieldGeometry { station: 0, ..*field }).collect(),
        stations: geometry.stations.get(station).cloned().into_iter().collect(),
    }
}

/// Weighs every station alone and looks for stations that contradict each other.
pub(crate) fn compare_stations(
    marks: &[Vec<Mark>],
    geometry: &Geometry,
    models: &[StationModel],
) -> StationsAnswer {
    let n = geometry.stations.len();
    if n < 2 {
        let words =
            "There is one station: whether the finish runs over the whole object cannot be told.".to_string();
        return StationsAnswer { words, ..StationsAnswer::default() };
    }
    let stations: Vec<StationAlone> =
        models.iter().enumerate().map(|(station, model)| alone(marks, geometry, model, station)).collect();
    // Every pair of stations is compared for every pair of finishes: a difference must outweigh that many chances.
    let n_pairs = n * (n - 1) / 2;
    let needed = 1.0 + (n_pairs as f64).log10();
    let differ = differences(&stations, needed);
    let weighed = stations.iter().filter(|station| station.best.is_some()).count();
    let words = if weighed < 2 {
        "Too few stations could be weighed alone; whether they differ cannot be told.".to_string()
    } else if differ.is_empty() {
        format!(
            "No two of the {weighed} stations weighed alone speak for different finishes; one finish for all of them is \
             not contradicted."
        )
    } else {
        let list: Vec<String> = differ.iter().map(|d| format!("{} and {}", d.first, d.second)).collect();
        format!(
            "Stations speak for different finishes: {} (allowing for {n_pairs} comparisons).",
            list.join("; ")
        )
    };
    StationsAnswer { stations, differ, words }
}

fn alone(marks: &[Vec<Mark>], geometry: &Geometry, model: &StationModel, station: usize) -> StationAlone {
    let own = own_geometry(geometry, station);
    let mine: Vec<Vec<Mark>> = geometry
        .fields
        .iter()
        .zip(marks)
        .filter(|(field, _)| field.station == station)
        .map(|(_, marks)| marks.clone())
        .collect();
    let traces = mine.iter().map(Vec::len).sum();
    let name = own.stations.first().cloned().unwrap_or_default();
    if traces < FEWEST_TRACES {
        return StationAlone { name, traces, best: None, log10_lr: Vec::new() };
    }
    let scores = model.member.scores(&observe(&mine, &own));
    let log10_lr = model
        .rules
        .iter()
        .map(|rule| rule.report((scores[rule.a] - scores[rule.b]) / LN_10, model.cap))
        .collect();
    let best = (0..scores.len()).max_by(|a, b| scores[*a].total_cmp(&scores[*b]));
    StationAlone { name, traces, best: best.and_then(|best| Finish::all().nth(best)), log10_lr }
}

impl StationModel {
    fn train(geometry: &Geometry, options: &Options, stage: Stage<'_>) -> Result<StationModel, CannotWeigh> {
        let per_finish = (options.objects_per_finish / SHARE).max(100);
        let seed = options.seed ^ STATION_SEED;
        let simulated = simulate(geometry, per_finish, seed, &training_draw, &|| stage.goes_on(0.0))
            .ok_or(CannotWeigh::Interrupted)?;
        let (member, held) = Pool::new(&simulated, vec![1.0; simulated.len()]).quick_member();
        let cap = crate::rules::cap(per_finish, geometry.fields.len());
        let rules = pairs()
            .map(|(a, b)| {
                let mut sample = PairSample::default();
                for (scores, object) in held.iter().zip(&simulated) {
                    sample.add(object.stratum, object.finish, (a, b), (scores[a] - scores[b]) / LN_10);
                }
                PairRule::learn(a, b, &sample, cap)
            })
            .collect();
        Ok(StationModel { member, rules, cap })
    }

    pub(crate) fn write(&self, out: &mut Writer) {
        self.member.write(out);
        out.count(self.rules.len());
        self.rules.iter().for_each(|rule| rule.write(out));
        out.number(self.cap);
    }

    pub(crate) fn read(from: &mut Reader<'_>) -> Option<StationModel> {
        let member = Member::read(from)?;
        let n = from.length()?;
        let rules = (0..n).map(|_| PairRule::read(from)).collect::<Option<Vec<_>>>()?;
        let n = Finish::count();
        let sound = member.n_classes() == n && rules.iter().all(|rule| rule.a < n && rule.b < n);
        let cap = from.number()?;
        sound.then_some(StationModel { member, rules, cap })
    }
}

fn differences(stations: &[StationAlone], needed: f64) -> Vec<Difference> {
    let all: Vec<Finish> = Finish::all().collect();
    let mut found = Vec::new();
    for (index, first) in stations.iter().enumerate() {
        for second in stations.iter().skip(index + 1) {
            let strongest = pairs()
                .zip(first.log10_lr.iter().zip(&second.log10_lr))
                .filter(|(_, (of_first, of_second))| *of_first * *of_second < 0.0)
                .map(|(pair, (of_first, of_second))| (pair, *of_first, of_first.abs().min(of_second.abs())))
                .filter(|(_, _, size)| *size >= needed)
                .fold(None, |best: Option<((usize, usize), f64, f64)>, next| match best {
                    Some(kept) if kept.2 >= next.2 => Some(kept),
                    _ => Some(next),
                });
            if let Some(((a, b), of_first, log10_lr)) = strongest {
                let (for_first, for_second) = if of_first > 0.0 { (a, b) } else { (b, a) };
                found.push(Difference {
                    first: first.name.clone(),
                    first_supports: all[for_first],
                    second: second.name.clone(),
                    second_supports: all[for_second],
                    log10_lr,
                });
            }
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn station(name: &str, first_pair: f64) -> StationAlone {
        let mut log10_lr = vec![0.0; pairs().count()];
        log10_lr[0] = first_pair;
        StationAlone { name: name.into(), traces: 20, best: Finish::all().next(), log10_lr }
    }

    #[test]
    fn only_opposite_and_strong_stations_differ() {
        assert_eq!(differences(&[station("a", 1.5), station("b", -1.4)], 1.0).len(), 1);
        assert!(differences(&[station("a", 1.5), station("b", 1.4)], 1.0).is_empty());
        assert!(differences(&[station("a", 1.5), station("b", -0.4)], 1.0).is_empty());
    }
}
