//! One model of the ensemble: boosted trees fitted crosswise, each on all parts but one, and calibrated on what each did
//! not see.

use crate::bytes::{Reader, Writer};
use crate::calibrate::Calibration;
use crate::trees::{Boosting, Table, Trees};
use rayon::prelude::*;

/// Trees of every part with one calibration.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Member {
    parts: Vec<Trees>,
    calibration: Calibration,
}

/// Which rows a member learns from and is calibrated on.
pub(crate) struct Lesson<'a> {
    /// All rows in bins.
    pub table: &'a Table,
    /// All rows as they are.
    pub rows: &'a [&'a [f32]],
    /// Their classes.
    pub classes: &'a [usize],
    /// Block of each row: blocks are dealt out to the parts, and a row is judged by trees that saw nothing of its block.
    pub blocks: &'a [usize],
}

/// How a member learns.
pub(crate) struct Learning<'a> {
    /// Columns it may use.
    pub columns: &'a [u16],
    /// Settings of its trees.
    pub boosting: Boosting,
    /// Parts the rows are dealt into, 2 or more.
    pub parts: usize,
    /// Number of classes.
    pub n_classes: usize,
}

impl Member {
    /// Fits to the rows `taught` says yes to; returns the member and calibrated held-out scores of *all* rows.
    pub fn fit(
        lesson: &Lesson<'_>,
        taught: &(dyn Fn(usize) -> bool + Sync),
        learning: &Learning<'_>,
    ) -> (Member, Vec<Vec<f64>>) {
        let part_of = |row: usize| lesson.blocks[row] % learning.parts;
        let parts: Vec<Trees> = (0..learning.parts)
            .into_par_iter()
            .map(|part| {
                let chosen: Vec<u32> = (0..lesson.classes.len())
                    .filter(|row| taught(*row) && part_of(*row) != part)
                    .map(|row| row as u32)
                    .collect();
                lesson.table.boost(&chosen, learning.columns, &learning.boosting)
            })
            .collect();
        let mut scores: Vec<Vec<f64>> = (0..lesson.rows.len())
            .into_par_iter()
            .map(|row| parts[part_of(row)].scores(lesson.rows[row]))
            .collect();
        let known: Vec<usize> = (0..lesson.classes.len()).filter(|row| taught(*row)).collect();
        let known_scores: Vec<Vec<f64>> = known.iter().map(|row| scores[*row].clone()).collect();
        let known_classes: Vec<usize> = known.iter().map(|row| lesson.classes[*row]).collect();
        let calibration = Calibration::fit(&known_scores, &known_classes, learning.n_classes);
        scores.par_iter_mut().for_each(|score| *score = calibration.apply(score));
        (Member { parts, calibration }, scores)
    }

    /// Calibrated scores of a new object: differences are natural-log likelihood ratios.
    pub fn scores(&self, row: &[f32]) -> Vec<f64> {
        mean_of(&self.scores_of_parts(row))
    }

    /// The same from the trees of each part alone.
    pub fn scores_of_parts(&self, row: &[f32]) -> Vec<Vec<f64>> {
        self.parts.iter().map(|trees| self.calibration.apply(&trees.scores(row))).collect()
    }

    pub fn write(&self, out: &mut Writer) {
        out.count(self.parts.len());
        self.parts.iter().for_each(|trees| trees.write(out));
        out.number(self.calibration.scale);
        out.numbers(&self.calibration.shift);
    }

    pub fn read(from: &mut Reader<'_>) -> Option<Member> {
        let n = from.length()?;
        let parts = (0..n).map(|_| Trees::read(from)).collect::<Option<Vec<_>>>()?;
        let calibration = Calibration { scale: from.number()?, shift: from.numbers()? };
        let agree = parts.iter().all(|trees| trees.n_classes() == calibration.shift.len());
        (agree && !parts.is_empty()).then_some(Member { parts, calibration })
    }

    /// Number of classes it tells apart.
    pub fn n_classes(&self) -> usize {
        self.calibration.shift.len()
    }
}

/// Mean of the scores of several parts, class by class.
pub(crate) fn mean_of(parts: &[Vec<f64>]) -> Vec<f64> {
    let n_classes = parts.first().map_or(0, Vec::len);
    (0..n_classes)
        .map(|class| parts.iter().map(|scores| scores[class]).sum::<f64>() / parts.len() as f64)
        .collect()
}

/// Variance of the difference of two scores that the limited number of simulations leaves, by the jackknife over parts.
///
/// # Source
/// Delete-a-group jackknife: (K−1)/K · Σ (value without a group − mean)²; Efron & Tibshirani 1993 (from memory, source not
/// seen).
pub(crate) fn jackknife_variance(parts: &[Vec<f64>], a: usize, b: usize) -> f64 {
    let n = parts.len() as f64;
    let differences: Vec<f64> = parts.iter().map(|scores| scores[a] - scores[b]).collect();
    let mean = differences.iter().sum::<f64>() / n;
    (n - 1.0) / n * differences.iter().map(|d| (d - mean).powi(2)).sum::<f64>()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The jackknife of a mean is its standard error: parts that leave out one of K values each.
    #[test]
    fn the_jackknife_of_a_mean_is_its_standard_error() {
        let values = [1.0, 2.0, 4.0, 9.0];
        let without = |left_out: f64| (values.iter().sum::<f64>() - left_out) / 3.0;
        let parts: Vec<Vec<f64>> = values.iter().map(|value| vec![without(*value), 0.0]).collect();
        let mean = 4.0;
        let variance = values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / 3.0 / 4.0;
        assert!((jackknife_variance(&parts, 0, 1) - variance).abs() < 1e-12);
    }
}
