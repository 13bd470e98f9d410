//! Survival curves from lengths some of which were cut.

use crate::student::Z_95;

/// One length: where it ended or was cut, and how much it counts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Length {
    /// Length up to the end or the cut.
    pub length: f64,
    /// Whether it ended there by itself.
    pub ended: bool,
    /// Weight; 1 for a length counted once.
    pub weight: f64,
}

/// One step of the curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// Length at which the curve steps down.
    pub length: f64,
    /// Weight still followed just before.
    pub at_risk: f64,
    /// Weight that ended here.
    pub ended: f64,
    /// Share of lengths longer than this.
    pub survival: f64,
    /// Its standard uncertainty (Greenwood).
    pub u: f64,
    /// Lower end of the 95 % interval.
    pub low: f64,
    /// Upper end of the 95 % interval.
    pub high: f64,
}

/// A survival curve.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Curve {
    /// Steps, rising in length.
    pub steps: Vec<Step>,
    /// The longest length followed, ended or cut: the curve is unknown beyond.
    pub longest: f64,
}

/// Product-limit curve. Lengths that end and lengths that are cut at the same value: the ends come first.
///
/// Treats the cuts as random; see [`from_ends`] for the form that also removes the length bias of a window.
///
/// # Source
/// Kaplan & Meier 1958 with Greenwood's variance; interval on the log(−log) scale (Kalbfleisch & Prentice, from memory).
/// Checked against lifelines 0.30.
#[must_use]
pub fn kaplan_meier(lengths: &[Length]) -> Curve {
    let mut sorted: Vec<Length> =
        lengths.iter().copied().filter(|l| l.length.is_finite() && l.weight > 0.0).collect();
    sorted.sort_by(|a, b| a.length.total_cmp(&b.length));
    let mut at_risk: f64 = sorted.iter().map(|l| l.weight).sum();
    let (mut survival, mut greenwood) = (1.0, 0.0);
    let mut steps = Vec::new();
    for tied in sorted.chunk_by(|a, b| a.length == b.length) {
        let ended: f64 = tied.iter().filter(|l| l.ended).map(|l| l.weight).sum();
        let leaving: f64 = tied.iter().map(|l| l.weight).sum();
        if let (true, Some(first)) = (ended > 0.0, tied.first()) {
            let left = (at_risk - ended).max(0.0);
            survival *= left / at_risk;
            greenwood += ended / (at_risk * left);
            let u = if survival > 0.0 { survival * greenwood.sqrt() } else { 0.0 };
            let (low, high) = log_log_interval(survival, u);
            steps.push(Step { length: first.length, at_risk, ended, survival, u, low, high });
        }
        at_risk -= leaving;
    }
    Curve { steps, longest: sorted.last().map_or(0.0, |l| l.length) }
}

/// Curve of the true lengths from traces seen through a window: `(visible length, ends inside)` each.
///
/// Followed from an end inside, a trace is an unbiased draw (ends form a stationary process whatever their trace's
/// length), cut only by the border ahead. A trace wholly inside is followed from both its ends, each for half; a trace
/// with one end inside is followed from that end, for half; a trace that runs through tells nothing here.
///
/// # Source
/// Ours, from the stationarity of the ends; it removes the length bias the reference sheet (§2) warns of.
#[must_use]
pub fn from_ends(traces: &[(f64, u8)]) -> Curve {
    let followed = traces.iter().filter_map(|&(length, ends)| match ends {
        0 => None,
        1 => Some(Length { length, ended: false, weight: 0.5 }),
        _ => Some(Length { length, ended: true, weight: 1.0 }),
    });
    kaplan_meier(&followed.collect::<Vec<_>>())
}

impl Curve {
    /// Smallest length at which at most half survive; `None` if the curve stays above one half.
    #[must_use]
    pub fn median(&self) -> Option<f64> {
        self.first_below(|step| step.survival)
    }

    /// The curve as far as at least `weight` is still followed. Beyond, a few chance ends bring it down.
    #[must_use]
    pub fn while_followed(&self, weight: f64) -> Self {
        let steps: Vec<Step> = self.steps.iter().copied().take_while(|step| step.at_risk >= weight).collect();
        let longest = if steps.len() == self.steps.len() {
            self.longest
        } else {
            steps.last().map_or(0.0, |step| step.length)
        };
        Self { steps, longest }
    }

    /// 95 % interval of the median; an end is `None` where the curve's band does not reach one half.
    #[must_use]
    pub fn median_interval(&self) -> (Option<f64>, Option<f64>) {
        (self.first_below(|step| step.low), self.first_below(|step| step.high))
    }

    /// Mean length up to `limit`: the area under the curve.
    #[must_use]
    pub fn mean_up_to(&self, limit: f64) -> f64 {
        let (mut area, mut from, mut height) = (0.0, 0.0, 1.0);
        for step in self.steps.iter().filter(|step| step.length < limit) {
            area += height * (step.length - from);
            (from, height) = (step.length, step.survival);
        }
        area + height * (limit - from)
    }

    /// Share longer than `length`; `None` beyond the longest length followed.
    #[must_use]
    pub fn at(&self, length: f64) -> Option<f64> {
        if length > self.longest {
            return None;
        }
        Some(self.steps.iter().rev().find(|step| step.length <= length).map_or(1.0, |step| step.survival))
    }

    fn first_below(&self, height: impl Fn(&Step) -> f64) -> Option<f64> {
        self.steps.iter().find(|step| height(step) <= 0.5 + 1e-12).map(|step| step.length)
    }
}

/// Mean of an exponential law from ended and cut lengths: total length over ends. `None` without an end.
#[must_use]
pub fn exponential_mean(lengths: &[Length]) -> Option<f64> {
    let total: f64 = lengths.iter().map(|l| l.weight * l.length).sum();
    let ends: f64 = lengths.iter().filter(|l| l.ended).map(|l| l.weight).sum();
    (ends > 0.0).then(|| total / ends)
}

fn log_log_interval(survival: f64, u: f64) -> (f64, f64) {
    if survival <= 0.0 || survival >= 1.0 {
        return (survival.max(0.0), survival.min(1.0));
    }
    let log = survival.ln();
    let width = Z_95 * u / (survival * log.abs());
    (survival.powf(width.exp()), survival.powf((-width).exp()))
}
