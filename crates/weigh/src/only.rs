//! A weighing restricted to the finishes somebody considers.

use crate::weighing::{NONE_FITS, Weighing};
use finish::models::Finish;

impl Weighing {
    /// The same weighing with only these finishes in it; an empty list keeps all.
    ///
    /// Ratios of pairs do not change: each compares two finishes and asks nothing of the others. Whether any finish fits is
    /// still asked of all that were modelled; where only one that is not considered fits, a note says so.
    #[must_use]
    pub fn only(mut self, considered: &[Finish]) -> Self {
        if considered.is_empty() {
            return self;
        }
        let kept: Vec<bool> = self
            .pairs
            .iter()
            .map(|pair| considered.contains(&pair.a) && considered.contains(&pair.b))
            .collect();
        let is_kept = |index: usize| kept.get(index).copied().unwrap_or(false);
        for change in &mut self.sensitivity {
            let ratios = std::mem::take(&mut change.log10_lr);
            change.log10_lr =
                ratios.into_iter().enumerate().filter(|(index, _)| is_kept(*index)).map(|(_, r)| r).collect();
        }
        let mut index = 0;
        self.pairs.retain(|_| {
            index += 1;
            is_kept(index - 1)
        });
        self.note_what_fits(considered);
        self.finishes.retain(|weighed| considered.contains(&weighed.finish));
        let best =
            self.finishes.iter().map(|weighed| weighed.log10_relative).fold(f64::NEG_INFINITY, f64::max);
        self.finishes.iter_mut().for_each(|weighed| weighed.log10_relative -= best);
        for group in &mut self.cannot_tell_apart {
            group.retain(|finish| considered.contains(finish));
        }
        self.cannot_tell_apart.retain(|group| group.len() > 1);
        self.posterior.retain(|(finish, _)| considered.contains(finish));
        let total: f64 = self.posterior.iter().map(|(_, posterior)| posterior).sum();
        if total > 0.0 {
            self.posterior.iter_mut().for_each(|(_, posterior)| *posterior /= total);
        }
        self
    }

    fn note_what_fits(&mut self, considered: &[Finish]) {
        let fits = |wanted: bool| {
            let some = self.finishes.iter().filter(|weighed| considered.contains(&weighed.finish) == wanted);
            some.map(|weighed| weighed.fits_p).fold(0.0, f64::max)
        };
        if fits(true) < NONE_FITS && fits(false) >= NONE_FITS {
            let names: Vec<&str> = self
                .finishes
                .iter()
                .filter(|weighed| !considered.contains(&weighed.finish) && weighed.fits_p >= NONE_FITS)
                .map(|weighed| weighed.finish.name())
                .collect();
            self.notes.insert(
                0,
                format!(
                    "none of the finishes considered fits the marks, but {} does: consider it as well",
                    names.join(" or ")
                ),
            );
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stations::StationsAnswer;
    use crate::weighing::{NoneFits, PairRatio, Sensitivity, Weighed};

    fn weighing() -> (Vec<Finish>, Weighing) {
        let all: Vec<Finish> = Finish::all().take(3).collect();
        let pair = |a: usize, b: usize, log10_lr: f64| PairRatio {
            a: all[a],
            b: all[b],
            log10_lr,
            low: log10_lr - 1.0,
            high: log10_lr + 1.0,
            words: "",
            because: None,
            power: 0.5,
            wrong: 0.0,
        };
        let weighed = |index: usize, log10_relative: f64, fits_p: f64| Weighed {
            finish: all[index],
            log10_relative,
            fits_p,
        };
        let weighing = Weighing {
            cannot_tell_apart: vec![vec![all[1], all[2]]],
            pairs: vec![pair(0, 1, 2.0), pair(0, 2, 2.5), pair(1, 2, 0.1)],
            none_fits: NoneFits { flagged: false, p: 0.5, because: String::new() },
            finishes: vec![weighed(0, 0.0, 0.6), weighed(1, -2.0, 0.01), weighed(2, -2.5, 0.02)],
            sensitivity: vec![Sensitivity { left_out: "widths".into(), log10_lr: vec![1.0, 2.0, 3.0] }],
            stations: StationsAnswer::default(),
            posterior: vec![(all[0], 0.8), (all[1], 0.1), (all[2], 0.1)],
            notes: Vec::new(),
            scale_citation: "",
            seed: 1,
            simulations: 6,
        };
        (all, weighing)
    }

    #[test]
    fn only_the_pairs_of_the_finishes_considered_are_left() {
        let (all, weighing) = weighing();
        assert_eq!(weighing.clone().only(&[]), weighing);
        let only = weighing.only(&all[1..]);
        assert_eq!(only.pairs.len(), 1);
        assert_eq!(only.sensitivity[0].log10_lr, [3.0]);
        assert_eq!(only.finishes[0].log10_relative, 0.0);
        assert!((only.finishes[1].log10_relative + 0.5).abs() < 1e-12);
        assert_eq!(only.posterior.iter().map(|(_, p)| *p).collect::<Vec<_>>(), [0.5, 0.5]);
        assert_eq!(only.cannot_tell_apart, [all[1..].to_vec()]);
        assert!(only.notes[0].contains(all[0].name()), "{:?}", only.notes);
    }

    #[test]
    fn a_group_of_one_is_no_group() {
        let (all, weighing) = weighing();
        let only = weighing.only(&[all[0], all[1]]);
        assert!(only.cannot_tell_apart.is_empty());
        assert!(only.notes.is_empty());
    }
}
