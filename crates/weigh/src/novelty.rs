//! Does any modelled finish fit at all? Observables out of their range, and layers, each against objects that do fit.

use crate::bytes::{Reader, Writer};
use crate::observables::name;

/// Quantiles kept of a score among objects that fit.
const KEPT: usize = 401;

/// Upper-tail chances of a score, from a sample of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Tail(Vec<f64>);

impl Tail {
    /// Keeps evenly spaced quantiles of the sample.
    #[must_use]
    pub fn of(mut sample: Vec<f64>) -> Tail {
        sample.sort_by(f64::total_cmp);
        let n = sample.len();
        Tail((0..KEPT).filter_map(|k| sample.get(k * n.saturating_sub(1) / (KEPT - 1)).copied()).collect())
    }

    pub(crate) fn quantiles(&self) -> &[f64] {
        &self.0
    }

    pub(crate) fn from_quantiles(kept: Vec<f64>) -> Tail {
        Tail(kept)
    }

    /// Chance of a score at least as high; never below one in the number of quantiles.
    #[must_use]
    pub fn chance(&self, score: f64) -> f64 {
        let above = self.0.len() - self.0.partition_point(|kept| *kept < score);
        (above as f64 + 0.5) / (self.0.len() as f64 + 0.5)
    }
}

/// Shares at which the range of an observable is kept.
const SHARES: [f64; 7] = [0.01, 0.05, 0.25, 0.5, 0.75, 0.95, 0.99];
/// Observables of which the furthest excesses are added up: one may be chance, and one group seldom errs alone (chosen
/// among 1, 3, 4 and 6 on marks that are not modelled, `benches/weigh`).
const FURTHEST: usize = 3;
/// Added to the excess that is usual for an observable, so that one that never leaves its range does not count without
/// bound (ours).
const USUAL_EXCESS: f64 = 0.3;
/// Share of fitting objects whose excess is called usual for an observable.
const USUAL_SHARE: f64 = 0.995;
/// Fewest objects that show an observable, for its range to be known.
const FEWEST: usize = 20;

/// What objects of one finish look like: for each observable its range, `None` if too few show it.
#[derive(Debug, Clone, PartialEq)]
struct Look {
    ranges: Vec<Option<[f64; 7]>>,
    tail: Tail,
}

/// The looks of all finishes.
#[derive(Debug, Clone, PartialEq)]
pub struct Looks {
    columns: Vec<u16>,
    /// For each observable, the excess that is usual.
    usual: Vec<f64>,
    looks: Vec<Look>,
}

/// How well one object fits one finish.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// Chance that an object of this finish leaves its ranges at least as far.
    pub p: f64,
    /// The observable that stands out most, in words.
    pub stands_out: String,
}

impl Looks {
    /// Learns the ranges from the rows `fitted` and what is usual from the rows `held`, each with its finish.
    #[must_use]
    pub fn learn(
        fitted: &[(&[f32], usize)],
        held: &[(&[f32], usize)],
        columns: Vec<u16>,
        n_classes: usize,
    ) -> Looks {
        let rows_of = |rows: &[(&'_ [f32], usize)], class: usize| -> Vec<Vec<f32>> {
            rows.iter().filter(|(_, c)| *c == class).map(|(row, _)| row.to_vec()).collect()
        };
        let looks = (0..n_classes)
            .map(|class| {
                let mine = rows_of(fitted, class);
                let ranges = columns.iter().map(|column| range_of(&mine, *column)).collect();
                Look { ranges, tail: Tail(Vec::new()) }
            })
            .collect();
        let mut found = Looks { usual: vec![1.0; columns.len()], columns, looks };
        let excesses: Vec<Vec<f64>> = held
            .iter()
            .filter_map(|(row, class)| Some(found.excesses(found.looks.get(*class)?, row)))
            .collect();
        found.usual = (0..found.columns.len())
            .map(|index| {
                let mut of_one: Vec<f64> = excesses.iter().map(|all| all[index]).collect();
                of_one.sort_by(f64::total_cmp);
                let place = (USUAL_SHARE * of_one.len() as f64) as usize;
                USUAL_EXCESS + of_one.get(place).or(of_one.last()).copied().unwrap_or(1.0)
            })
            .collect();
        for class in 0..n_classes {
            let look = &found.looks[class];
            let scores = rows_of(held, class).iter().map(|row| found.oddness(look, row).0).collect();
            found.looks[class].tail = Tail::of(scores);
        }
        found
    }

    /// How an object fits a finish; `None` for a finish that was not learnt.
    #[must_use]
    pub fn fit(&self, row: &[f32], class: usize) -> Option<Fit> {
        let look = self.looks.get(class)?;
        let (oddness, column) = self.oddness(look, row);
        Some(Fit { p: look.tail.chance(oddness), stands_out: name(usize::from(column)) })
    }

    /// How far each observable lies outside the middle nine tenths of its range, in units of what its tail reaches.
    fn excesses(&self, look: &Look, row: &[f32]) -> Vec<f64> {
        let excess = |column: &u16, range: &Option<[f64; 7]>| {
            let value = f64::from(row[usize::from(*column)]);
            let Some([low1, low5, low25, _, high75, high95, high99]) = range else { return 0.0 };
            if !value.is_finite() {
                return 0.0;
            }
            // The tail beyond 95 %, or the shoulder before it where the tail is cut off.
            let above = (value - high95) / (high99 - high95).max(0.25 * (high95 - high75)).max(1e-9);
            let below = (low5 - value) / (low5 - low1).max(0.25 * (low25 - low5)).max(1e-9);
            above.max(below).max(0.0)
        };
        self.columns.iter().zip(&look.ranges).map(|(column, range)| excess(column, range)).collect()
    }

    /// Sum of the furthest excesses over what is usual, and the observable that stands out most.
    fn oddness(&self, look: &Look, row: &[f32]) -> (f64, u16) {
        let mut relative: Vec<(f64, u16)> = self
            .excesses(look, row)
            .iter()
            .zip(&self.usual)
            .zip(&self.columns)
            .map(|((excess, usual), column)| (excess / usual, *column))
            .collect();
        relative.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        let sum = relative.iter().take(FURTHEST).map(|one| one.0).sum();
        (sum, relative.first().map_or(0, |one| one.1))
    }

    pub(crate) fn write(&self, out: &mut Writer) {
        out.numbers(&self.columns.iter().map(|c| f64::from(*c)).collect::<Vec<_>>());
        out.numbers(&self.usual);
        out.count(self.looks.len());
        for look in &self.looks {
            // A range that is not known is written as seven values that are no numbers.
            let flat: Vec<f64> =
                look.ranges.iter().flat_map(|range| range.unwrap_or([f64::NAN; 7])).collect();
            out.numbers(&flat);
            out.numbers(&look.tail.0);
        }
    }

    pub(crate) fn read(from: &mut Reader<'_>, n_columns: usize) -> Option<Looks> {
        let columns: Vec<u16> = from.numbers()?.iter().map(|c| *c as u16).collect();
        let usual = from.numbers()?;
        let n = columns.len();
        let sound = columns.iter().all(|column| usize::from(*column) < n_columns) && usual.len() == n;
        let n_looks = from.length()?;
        let mut looks = Vec::new();
        for _ in 0..n_looks {
            let (flat, tail) = (from.numbers()?, Tail(from.numbers()?));
            let ranges = flat
                .chunks_exact(7)
                .map(|chunk| <[f64; 7]>::try_from(chunk).ok().filter(|range| !range[0].is_nan()))
                .collect();
            (flat.len() == 7 * n).then(|| looks.push(Look { ranges, tail }))?;
        }
        sound.then_some(Looks { columns, usual, looks })
    }
}

fn range_of(rows: &[Vec<f32>], column: u16) -> Option<[f64; 7]> {
    let mut values: Vec<f64> = rows
        .iter()
        .filter_map(|row| row.get(usize::from(column)))
        .map(|value| f64::from(*value))
        .filter(|value| value.is_finite())
        .collect();
    values.sort_by(f64::total_cmp);
    let enough = values.len() >= FEWEST;
    enough.then(|| SHARES.map(|share| values[((share * values.len() as f64) as usize).min(values.len() - 1)]))
}

#[cfg(test)]
mod tests {
    use super::*;
    use finish::models::normal;
    use rand::SeedableRng;
    use rand_pcg::Pcg64;

    #[test]
    fn a_stranger_does_not_fit() {
        let mut rng = Pcg64::seed_from_u64(1);
        let rows: Vec<Vec<f32>> =
            (0..1600).map(|_| (0..4).map(|_| normal(&mut rng) as f32).collect()).collect();
        let named: Vec<(&[f32], usize)> = rows.iter().map(|row| (row.as_slice(), 0)).collect();
        let looks = Looks::learn(&named[..800], &named[800..], vec![0, 1, 2, 3], 1);
        assert!(looks.fit(&[0.1, 0.1, -0.5, 0.3], 0).unwrap().p > 0.2);
        assert!(looks.fit(&[40.0, 0.0, 0.0, 0.0], 0).unwrap().p < 0.01);
        // None is far out, but three are at once.
        assert!(looks.fit(&[2.4, -2.4, 2.4, 0.0], 0).unwrap().p < 0.02);
        assert!(looks.fit(&[f32::NAN; 4], 0).unwrap().p > 0.5, "what is not seen is not strange");
        let share = named[800..].iter().filter(|(row, _)| looks.fit(row, 0).unwrap().p < 0.05).count();
        assert!((30..=50).contains(&share), "{share} of 800 at 5 %");
    }
}
