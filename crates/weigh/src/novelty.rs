//! Does any modelled finish fit at all? Distance, range and layering, each against objects that do fit.

use crate::bytes::{Reader, Writer};
use crate::observables::name;

/// Quantiles kept of each score among objects that fit.
const KEPT: usize = 201;
/// Quantile grid that turns an observable into a normal score.
const GRID: usize = 65;
/// Normal scores are held within this: ranks say nothing about how far out a value lies (the range test does).
const MOST_SCORE: f64 = 2.6;
/// Share of the covariance replaced by its diagonal (the study's shrunk covariance).
const SHRINK: f64 = 0.2;

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

/// What objects of one finish look like.
#[derive(Debug, Clone, PartialEq)]
struct Look {
    mean: Vec<f64>,
    /// Lower triangle of the Cholesky factor of the shrunk covariance, row by row.
    factor: Vec<f64>,
    /// For each observable: 1 %, 50 % and 99 % quantile.
    ranges: Vec<[f64; 3]>,
    distance: Tail,
    range: Tail,
}

/// The looks of all finishes.
#[derive(Debug, Clone, PartialEq)]
pub struct Looks {
    columns: Vec<u16>,
    grids: Vec<Vec<f64>>,
    looks: Vec<Look>,
}

/// How well one object fits one finish.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// Chance of a distance at least as large.
    pub distance_p: f64,
    /// Chance of an observable at least as far out of its range.
    pub range_p: f64,
    /// The observable that stands out most, in words.
    pub stands_out: String,
}

impl Looks {
    /// Learns the looks from rows with their finishes; thresholds come from the same rows' other half.
    #[must_use]
    pub fn learn(rows: &[(&[f32], usize)], columns: Vec<u16>, n_classes: usize) -> Looks {
        let grids: Vec<Vec<f64>> = columns.iter().map(|column| grid(rows, *column)).collect();
        let mut looks = Looks { columns, grids, looks: Vec::new() };
        for class in 0..n_classes {
            let mine: Vec<&[f32]> = rows.iter().filter(|(_, c)| *c == class).map(|(row, _)| *row).collect();
            let (even, odd): (Vec<_>, Vec<_>) =
                mine.iter().enumerate().partition(|(index, _)| index % 2 == 0);
            let (even, odd) = (rows_of(even), rows_of(odd));
            let mut look = looks.look(&even);
            look.distance = Tail::of(odd.iter().map(|row| looks.distance(&look, row)).collect());
            look.range = Tail::of(odd.iter().map(|row| looks.range(&look, row).0).collect());
            looks.looks.push(look);
        }
        looks
    }

    /// How an object fits a finish; `None` for a finish that was not learnt.
    #[must_use]
    pub fn fit(&self, row: &[f32], class: usize) -> Option<Fit> {
        let look = self.looks.get(class)?;
        let distance = self.distance(look, row);
        let (range, column) = self.range(look, row);
        Some(Fit {
            distance_p: look.distance.chance(distance),
            range_p: look.range.chance(range),
            stands_out: name(usize::from(column)),
        })
    }

    #[allow(clippy::needless_range_loop, reason = "indices of a matrix read better than zipped iterators")]
    fn look(&self, rows: &[&[f32]]) -> Look {
        let n = self.columns.len();
        let scored: Vec<Vec<f64>> = rows.iter().map(|row| self.scores(row)).collect();
        let mean: Vec<f64> = (0..n).map(|i| finite_mean(scored.iter().map(|s| s[i]))).collect();
        let mut covariance = vec![0.0; n * n];
        for score in &scored {
            let off: Vec<f64> =
                score.iter().zip(&mean).map(|(s, m)| if s.is_finite() { s - m } else { 0.0 }).collect();
            for i in 0..n {
                for j in 0..=i {
                    covariance[i * n + j] += off[i] * off[j];
                }
            }
        }
        let count = (scored.len() as f64 - 1.0).max(1.0);
        for i in 0..n {
            for j in 0..=i {
                let shrink = if i == j { 1.0 } else { 1.0 - SHRINK };
                covariance[i * n + j] *= shrink / count;
            }
            covariance[i * n + i] += 0.02;
        }
        let factor = cholesky(covariance, n);
        let ranges = self.columns.iter().map(|column| range_of(rows, *column)).collect();
        Look { mean, factor, ranges, distance: Tail(Vec::new()), range: Tail(Vec::new()) }
    }

    /// Normal scores of the chosen observables.
    fn scores(&self, row: &[f32]) -> Vec<f64> {
        self.columns
            .iter()
            .zip(&self.grids)
            .map(|(column, grid)| {
                let value = f64::from(row[usize::from(*column)]);
                if !value.is_finite() || grid.is_empty() {
                    return f64::NAN;
                }
                let above = grid.partition_point(|edge| *edge < value) as f64;
                normal_quantile((above + 0.5) / (grid.len() as f64 + 1.0)).clamp(-MOST_SCORE, MOST_SCORE)
            })
            .collect()
    }

    #[allow(clippy::needless_range_loop, reason = "indices of a matrix read better than zipped iterators")]
    fn distance(&self, look: &Look, row: &[f32]) -> f64 {
        let n = self.columns.len();
        let scores = self.scores(row);
        let mut solved = vec![0.0; n];
        let mut sum = 0.0;
        for i in 0..n {
            let mut value = if scores[i].is_finite() { scores[i] - look.mean[i] } else { 0.0 };
            for j in 0..i {
                value -= look.factor[i * n + j] * solved[j];
            }
            solved[i] = value / look.factor[i * n + i];
            sum += solved[i] * solved[i];
        }
        sum
    }

    /// Furthest excess over the range of the finish and the observable it belongs to.
    fn range(&self, look: &Look, row: &[f32]) -> (f64, u16) {
        let mut worst = (0.0, 0);
        for (column, [low, middle, high]) in self.columns.iter().zip(&look.ranges) {
            let value = f64::from(row[usize::from(*column)]);
            if !value.is_finite() {
                continue;
            }
            let reach = if value > *middle { high - middle } else { middle - low };
            let excess = (value - middle).abs() / reach.max(1e-6 * (1.0 + middle.abs()));
            if excess > worst.0 {
                worst = (excess, *column);
            }
        }
        worst
    }

    pub(crate) fn write(&self, out: &mut Writer) {
        out.numbers(&self.columns.iter().map(|c| f64::from(*c)).collect::<Vec<_>>());
        self.grids.iter().for_each(|grid| out.numbers(grid));
        out.count(self.looks.len());
        for look in &self.looks {
            out.numbers(&look.mean);
            out.numbers(&look.factor);
            out.numbers(&look.ranges.concat());
            out.numbers(&look.distance.0);
            out.numbers(&look.range.0);
        }
    }

    pub(crate) fn read(from: &mut Reader<'_>, n_columns: usize) -> Option<Looks> {
        let columns: Vec<u16> = from.numbers()?.iter().map(|c| *c as u16).collect();
        let n = columns.len();
        let sound = columns.iter().all(|column| usize::from(*column) < n_columns);
        let grids = (0..n).map(|_| from.numbers()).collect::<Option<Vec<_>>>()?;
        let n_looks = from.length()?;
        let mut looks = Vec::new();
        for _ in 0..n_looks {
            let (mean, factor, ranges) = (from.numbers()?, from.numbers()?, from.numbers()?);
            let fits = mean.len() == n && factor.len() == n * n && ranges.len() == 3 * n;
            let ranges = ranges.chunks_exact(3).map(|r| [r[0], r[1], r[2]]).collect();
            let (distance, range) = (Tail(from.numbers()?), Tail(from.numbers()?));
            fits.then(|| looks.push(Look { mean, factor, ranges, distance, range }))?;
        }
        sound.then_some(Looks { columns, grids, looks })
    }
}

fn rows_of<'a>(numbered: Vec<(usize, &&'a [f32])>) -> Vec<&'a [f32]> {
    numbered.into_iter().map(|(_, row)| *row).collect()
}

fn finite_column<'a>(rows: impl Iterator<Item = &'a [f32]>, column: u16) -> Vec<f64> {
    let mut values: Vec<f64> =
        rows.map(|row| f64::from(row[usize::from(column)])).filter(|value| value.is_finite()).collect();
    values.sort_by(f64::total_cmp);
    values
}

fn grid(rows: &[(&[f32], usize)], column: u16) -> Vec<f64> {
    let values = finite_column(rows.iter().map(|(row, _)| *row), column);
    (0..GRID).filter_map(|k| values.get((2 * k + 1) * values.len() / (2 * GRID)).copied()).collect()
}

fn range_of(rows: &[&[f32]], column: u16) -> [f64; 3] {
    let values = finite_column(rows.iter().copied(), column);
    let at = |share: f64| values.get((share * values.len() as f64) as usize).copied();
    // A column nobody of this finish has says nothing: its range is everything.
    match (at(0.01), at(0.5), at(0.99)) {
        (Some(low), Some(middle), Some(high)) if values.len() >= 20 => [low, middle, high],
        _ => [-1e12, 0.0, 1e12],
    }
}

fn finite_mean(values: impl Iterator<Item = f64>) -> f64 {
    let (sum, n) = values.filter(|v| v.is_finite()).fold((0.0, 0.0), |(sum, n), v| (sum + v, n + 1.0));
    if n > 0.0 { sum / n } else { 0.0 }
}

/// Lower Cholesky factor of a symmetric positive matrix given by its lower triangle.
fn cholesky(mut matrix: Vec<f64>, n: usize) -> Vec<f64> {
    for i in 0..n {
        for j in 0..=i {
            let mut sum = matrix[i * n + j];
            for k in 0..j {
                sum -= matrix[i * n + k] * matrix[j * n + k];
            }
            matrix[i * n + j] = if i == j { sum.max(1e-9).sqrt() } else { sum / matrix[j * n + j] };
        }
    }
    matrix
}

/// Quantile of the standard normal distribution.
///
/// # Source
/// Abramowitz & Stegun 26.2.23 (error below 4.5e-4), enough for rank scores; from memory, checked in the test.
fn normal_quantile(p: f64) -> f64 {
    let tail = p.min(1.0 - p).max(1e-12);
    let t = (-2.0 * tail.ln()).sqrt();
    let x = t
        - (2.515_517 + t * (0.802_853 + t * 0.010_328))
            / (1.0 + t * (1.432_788 + t * (0.189_269 + t * 0.001_308)));
    if p < 0.5 { -x } else { x }
}

#[cfg(test)]
mod tests {
    use super::*;
    use finish::models::normal;
    use rand::SeedableRng;
    use rand_pcg::Pcg64;

    #[test]
    fn known_quantiles() {
        for (p, x) in [(0.5, 0.0), (0.975, 1.959_964), (0.01, -2.326_348)] {
            assert!((normal_quantile(p) - x).abs() < 5e-4);
        }
    }

    #[test]
    fn a_stranger_does_not_fit() {
        let mut rng = Pcg64::seed_from_u64(1);
        let rows: Vec<Vec<f32>> = (0..800)
            .map(|_| {
                let a = normal(&mut rng);
                vec![a as f32, (a + 0.1 * normal(&mut rng)) as f32]
            })
            .collect();
        let named: Vec<(&[f32], usize)> = rows.iter().map(|row| (row.as_slice(), 0)).collect();
        let looks = Looks::learn(&named, vec![0, 1], 1);
        assert!(looks.fit(&[0.1, 0.1], 0).unwrap().distance_p > 0.2);
        // Both values are usual, together they are not; and one value far outside its range.
        assert!(looks.fit(&[1.0, -1.0], 0).unwrap().distance_p < 0.02);
        assert!(looks.fit(&[40.0, 40.0], 0).unwrap().range_p < 0.01);
    }
}
