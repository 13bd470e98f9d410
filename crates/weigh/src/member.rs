//! One model of the ensemble: boosted trees fitted crosswise on two halves, calibrated on what each half did not see.

use crate::bytes::{Reader, Writer};
use crate::calibrate::Calibration;
use crate::trees::{Boosting, Table, Trees};
use rayon::prelude::*;

/// Trees of both halves with one calibration.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Member {
    halves: Vec<Trees>,
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
    /// Half of each row, 0 or 1: rows of one half are judged by the model of the other.
    pub halves: &'a [usize],
}

impl Member {
    /// Fits to the rows `taught` says yes to; returns the member and calibrated held-out scores of *all* rows.
    pub fn fit(
        lesson: &Lesson<'_>,
        taught: &(dyn Fn(usize) -> bool + Sync),
        columns: &[u16],
        boosting: &Boosting,
        n_classes: usize,
    ) -> (Member, Vec<Vec<f64>>) {
        let halves: Vec<Trees> = (0..2)
            .into_par_iter()
            .map(|half| {
                let chosen: Vec<u32> = (0..lesson.classes.len())
                    .filter(|row| taught(*row) && lesson.halves[*row] == half)
                    .map(|row| row as u32)
                    .collect();
                lesson.table.boost(&chosen, columns, boosting)
            })
            .collect();
        let mut scores: Vec<Vec<f64>> = lesson
            .rows
            .par_iter()
            .zip(lesson.halves)
            .map(|(row, half)| halves[1 - half].scores(row))
            .collect();
        let known: Vec<usize> = (0..lesson.classes.len()).filter(|row| taught(*row)).collect();
        let known_scores: Vec<Vec<f64>> = known.iter().map(|row| scores[*row].clone()).collect();
        let known_classes: Vec<usize> = known.iter().map(|row| lesson.classes[*row]).collect();
        let calibration = Calibration::fit(&known_scores, &known_classes, n_classes);
        scores.par_iter_mut().for_each(|score| *score = calibration.apply(score));
        (Member { halves, calibration }, scores)
    }

    /// Calibrated scores of a new object: differences are natural-log likelihood ratios.
    pub fn scores(&self, row: &[f32]) -> Vec<f64> {
        let mut mean: Vec<f64> = Vec::new();
        for trees in &self.halves {
            let scores = trees.scores(row);
            if mean.is_empty() {
                mean = vec![0.0; scores.len()];
            }
            mean.iter_mut().zip(&scores).for_each(|(m, s)| *m += s / self.halves.len() as f64);
        }
        self.calibration.apply(&mean)
    }

    pub fn write(&self, out: &mut Writer) {
        out.count(self.halves.len());
        self.halves.iter().for_each(|trees| trees.write(out));
        out.number(self.calibration.scale);
        out.numbers(&self.calibration.shift);
    }

    pub fn read(from: &mut Reader<'_>) -> Option<Member> {
        let n = from.length()?;
        let halves = (0..n).map(|_| Trees::read(from)).collect::<Option<Vec<_>>>()?;
        let calibration = Calibration { scale: from.number()?, shift: from.numbers()? };
        Some(Member { halves, calibration })
    }
}
