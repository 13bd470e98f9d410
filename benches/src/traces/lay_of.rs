//! Whether the sets of parallel scratches come out: their directions and their number.

use finish::render::Truth;
use lay::sets::{self, SetsOptions};
use quantity::AxialDeg;
use trace::Trace;

use super::score::{COUNTABLE_CNR, ratio};

/// Sets of one or more pictures.
#[derive(Debug, Clone, Default)]
pub struct SetScore {
    /// Sets laid.
    pub laid: usize,
    /// Of these, a set found within 1° and within 2°.
    pub within: [usize; 2],
    /// Pictures with a lay.
    pub pictures: usize,
    /// Of these, the right number of sets found.
    pub right_number: usize,
}

impl SetScore {
    /// Adds another picture's.
    pub fn add(&mut self, other: &Self) {
        self.laid += other.laid;
        self.pictures += other.pictures;
        self.right_number += other.right_number;
        for (own, more) in self.within.iter_mut().zip(other.within) {
            *own += more;
        }
    }

    /// Shares within 1°, within 2°, and of the right number.
    #[must_use]
    pub fn shares(&self) -> [f64; 3] {
        [
            ratio(self.within[0], self.laid),
            ratio(self.within[1], self.laid),
            ratio(self.right_number, self.pictures),
        ]
    }
}

/// Compares the sets among `axes`, weighted by length, with the directions that were laid.
#[must_use]
pub fn compare(axes: &[AxialDeg], lengths: &[f64], laid_deg: &[f64], truth: &Truth) -> SetScore {
    let fitted = sets::fit(axes, lengths, &[], SetsOptions::default());
    let mut score = SetScore { laid: laid_deg.len(), pictures: 1, ..SetScore::default() };
    score.right_number = usize::from(fitted.sets.len() == laid_deg.len());
    for own in laid_deg.iter().filter_map(|&deg| drawn(deg, laid_deg, truth)) {
        let off = fitted.sets.iter().map(|s| s.direction.angle_to(own)).fold(90.0, f64::min);
        score.within[0] += usize::from(off <= 1.0);
        score.within[1] += usize::from(off <= 2.0);
    }
    score
}

/// Mean axis, weighted by length, of the scratches that really were drawn for one of the laid directions.
fn drawn(deg: f64, laid_deg: &[f64], truth: &Truth) -> Option<AxialDeg> {
    let laid: Vec<AxialDeg> = laid_deg.iter().filter_map(|&d| AxialDeg::new(d)).collect();
    let own = AxialDeg::new(deg)?;
    let (mut c, mut s) = (0.0, 0.0);
    for scratch in truth.scratches.iter().filter(|s| s.cnr >= COUNTABLE_CNR) {
        let nearest = laid.iter().map(|l| l.angle_to(scratch.direction)).fold(90.0, f64::min);
        if own.angle_to(scratch.direction) <= nearest {
            let doubled = 2.0 * scratch.direction.degrees().to_radians();
            c += scratch.length_px * doubled.cos();
            s += scratch.length_px * doubled.sin();
        }
    }
    if c == 0.0 && s == 0.0 { Some(own) } else { AxialDeg::new(0.5 * s.atan2(c).to_degrees()) }
}

/// Axes and lengths of traces that are not suspect.
#[must_use]
pub fn of_traces(traces: &[Trace]) -> (Vec<AxialDeg>, Vec<f64>) {
    traces.iter().filter(|t| t.suspect.is_none()).map(|t| (t.direction, t.length_px)).unzip()
}
