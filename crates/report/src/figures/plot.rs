//! The frame of a plot: two axes, ticks, labels, and the way from values to the page.

use super::Figure;
use super::svg::{Anchor, Canvas, Ink, Pen, SMALL, TEXT, shorten};

/// Width and height of a panel: two stand side by side on a page.
pub(crate) const PANEL_WIDTH: f64 = 320.0;

/// Letters of a heading that fit over a panel.
pub(crate) const HEADING_LETTERS: usize = 46;

pub(crate) const PANEL_HEIGHT: f64 = 228.0;

/// Largest number an axis goes to; nothing measured on a stone comes near.
const LARGEST: f64 = 1e15;

/// Smallest range of an axis: below it the values are one value.
const SMALLEST: f64 = 1e-15;

/// One axis.
#[derive(Debug, Clone)]
pub(crate) struct Axis {
    pub(crate) low: f64,
    pub(crate) high: f64,
    pub(crate) label: String,
    pub(crate) ticks: Vec<(f64, String)>,
}

impl Axis {
    /// An axis from `low` to at least `high` with round ticks.
    pub(crate) fn round(low: f64, high: f64, wanted_ticks: usize, label: impl Into<String>) -> Self {
        // Ranges beyond these limits are broken data: the axis then only has to exist, and to have few ticks.
        let low = if low.abs() < LARGEST { low } else { 0.0 };
        let apart = high - low > SMALLEST.max(1e-9 * low.abs());
        let high = if apart && high < LARGEST { high } else { low + 1.0 };
        let step = round_step((high - low) / wanted_ticks.max(1) as f64);
        let (first, last) = ((low / step).floor() as i64, (high / step).ceil() as i64);
        let decimals = decimals_of(step);
        let ticks = (first..=last)
            .map(|index| {
                let value = index as f64 * step;
                (value, signed(value, decimals))
            })
            .collect();
        Self { low: first as f64 * step, high: last as f64 * step, label: label.into(), ticks }
    }

    /// An axis with ticks of the caller's choice.
    pub(crate) fn with_ticks(
        low: f64,
        high: f64,
        ticks: Vec<(f64, String)>,
        label: impl Into<String>,
    ) -> Self {
        Self { low, high, label: label.into(), ticks }
    }

    fn share(&self, value: f64) -> f64 {
        (value - self.low) / (self.high - self.low)
    }
}

/// The step 1, 2 or 5 times a power of ten that is not below `rough`.
pub(crate) fn round_step(rough: f64) -> f64 {
    if !(rough.is_finite() && rough > 0.0) {
        return 1.0;
    }
    let decade = 10f64.powf(rough.log10().floor());
    let factor =
        [1.0, 2.0, 5.0].into_iter().find(|factor| factor * decade >= rough * (1.0 - 1e-9)).unwrap_or(10.0);
    factor * decade
}

/// The step 1, 2 or 5 times a power of ten that is nearest to `rough` in ratio.
pub(crate) fn round_near(rough: f64) -> f64 {
    let (above, below) = (round_step(rough), round_below(rough));
    if above / rough < rough / below { above } else { below }
}

/// The length 1, 2 or 5 times a power of ten that is not above `limit`.
pub(crate) fn round_below(limit: f64) -> f64 {
    if !(limit.is_finite() && limit > 0.0) {
        return 1.0;
    }
    let decade = 10f64.powf(limit.log10().floor());
    let factor =
        [5.0, 2.0, 1.0].into_iter().find(|factor| factor * decade <= limit * (1.0 + 1e-9)).unwrap_or(1.0);
    factor * decade
}

/// Decimals that show a step of 1, 2 or 5 times a power of ten.
pub(crate) fn decimals_of(step: f64) -> usize {
    if !(step.is_finite() && step > 0.0) {
        return 0;
    }
    let exponent = step.log10().floor();
    if exponent >= 0.0 { 0 } else { (-exponent) as usize }
}

/// A number with a true minus sign.
pub(crate) fn signed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(digits) if digits.bytes().any(|digit| (b'1'..=b'9').contains(&digit)) => format!("−{digits}"),
        Some(digits) => digits.to_owned(),
        None => text,
    }
}

/// A plot's drawing area with its axes.
#[derive(Debug)]
pub(crate) struct Plot {
    pub(crate) canvas: Canvas,
    pub(crate) x: Axis,
    pub(crate) y: Axis,
    left: f64,
    top: f64,
    width: f64,
    height: f64,
}

/// Room round the drawing area of a panel, drawing units: left for tick labels and the axis label, top for the heading.
const LEFT: f64 = 58.0;
const RIGHT: f64 = 14.0;
const TOP: f64 = 34.0;
const BOTTOM: f64 = 44.0;

impl Plot {
    /// An empty panel; `right` leaves more room on the right for a second scale.
    pub(crate) fn panel(x: Axis, y: Axis, right: f64) -> Self {
        Self {
            canvas: Canvas::default(),
            x,
            y,
            left: LEFT,
            top: TOP,
            width: PANEL_WIDTH - LEFT - RIGHT - right,
            height: PANEL_HEIGHT - TOP - BOTTOM,
        }
    }

    /// Where a pair of values lies on the page.
    pub(crate) fn at(&self, x: f64, y: f64) -> [f64; 2] {
        [self.left + self.x.share(x) * self.width, self.top + (1.0 - self.y.share(y)) * self.height]
    }

    /// `value` kept within the y axis.
    pub(crate) fn within_y(&self, value: f64) -> f64 {
        value.clamp(self.y.low, self.y.high)
    }

    pub(crate) fn right_edge(&self) -> f64 {
        self.left + self.width
    }

    /// A zone between two heights over the full width.
    pub(crate) fn zone_y(&mut self, low: f64, high: f64) {
        let ([x0, y0], [x1, y1]) =
            (self.at(self.x.low, self.within_y(high)), self.at(self.x.high, self.within_y(low)));
        self.canvas.rectangle([x0, y0], [x1 - x0, y1 - y0], Ink::Wash);
    }

    /// A zone between two values over the full height.
    pub(crate) fn zone_x(&mut self, low: f64, high: f64) {
        let (low, high) = (low.clamp(self.x.low, self.x.high), high.clamp(self.x.low, self.x.high));
        let ([x0, y0], [x1, y1]) = (self.at(low, self.y.high), self.at(high, self.y.low));
        self.canvas.rectangle([x0, y0], [x1 - x0, y1 - y0], Ink::Wash);
    }

    /// Grid, frame, ticks and labels: drawn after the zones and before the data.
    pub(crate) fn axes(&mut self) {
        let (bottom, right) = (self.top + self.height, self.left + self.width);
        for (value, label) in self.x.ticks.clone() {
            let [x, _] = self.at(value, self.y.low);
            if x < self.left - 0.5 || x > right + 0.5 {
                continue;
            }
            self.canvas.line([x, self.top], [x, bottom], Pen::solid(Ink::Faint, 0.5));
            self.canvas.line([x, bottom], [x, bottom + 4.0], Pen::solid(Ink::Dark, 0.8));
            self.canvas.text([x, bottom + 16.0], Anchor::Middle, SMALL, &label);
        }
        for (value, label) in self.y.ticks.clone() {
            let [_, y] = self.at(self.x.low, value);
            if y < self.top - 0.5 || y > bottom + 0.5 {
                continue;
            }
            self.canvas.line([self.left, y], [right, y], Pen::solid(Ink::Faint, 0.5));
            self.canvas.line([self.left - 4.0, y], [self.left, y], Pen::solid(Ink::Dark, 0.8));
            self.canvas.text([self.left - 7.0, y + 3.5], Anchor::End, SMALL, &label);
        }
        self.canvas.frame([self.left, self.top], [self.width, self.height], Pen::solid(Ink::Dark, 0.8));
        let (x_label, y_label) = (self.x.label.clone(), self.y.label.clone());
        self.canvas.text([self.left + self.width / 2.0, bottom + 34.0], Anchor::Middle, SMALL, &x_label);
        self.canvas.text_upwards([14.0, self.top + self.height / 2.0], Anchor::Middle, SMALL, &y_label);
    }

    /// Heading over the drawing area and, in small, what was left out or what a line means.
    pub(crate) fn heading(&mut self, heading: &str, note: &str) {
        self.canvas.bold([4.0, 13.0], Anchor::Start, TEXT, &shorten(heading, HEADING_LETTERS));
        self.canvas.text_in([4.0, 27.0], Anchor::Start, SMALL, Ink::Mid, note);
    }

    pub(crate) fn finish(self, title: impl Into<String>, description: impl Into<String>) -> Figure {
        self.canvas.finish(title, description, PANEL_WIDTH, PANEL_HEIGHT)
    }
}

/// A figure that says why there is nothing to draw.
#[must_use]
pub fn empty(title: &str, why: &str) -> Figure {
    let mut canvas = Canvas::default();
    let height = 120.0;
    canvas.frame([4.0, 24.0], [PANEL_WIDTH - 8.0, height - 32.0], Pen::dashed(Ink::Mid, 0.8));
    canvas.bold([4.0, 14.0], Anchor::Start, TEXT, &shorten(title, HEADING_LETTERS));
    canvas.paragraph([PANEL_WIDTH / 2.0, 54.0], Anchor::Middle, SMALL, 48, why);
    canvas.finish(title, format!("Nothing is drawn: {why}"), PANEL_WIDTH, height)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_one_two_or_five() {
        for (rough, step) in
            [(0.9, 1.0), (1.0, 1.0), (1.1, 2.0), (3.0, 5.0), (6.0, 10.0), (0.013, 0.02), (430.0, 500.0)]
        {
            assert!((round_step(rough) / step - 1.0).abs() < 1e-12, "{rough}: {}", round_step(rough));
        }
        for (limit, below) in [(0.9, 0.5), (1.0, 1.0), (4.9, 2.0), (430.0, 200.0)] {
            assert!((round_below(limit) / below - 1.0).abs() < 1e-12, "{limit}: {}", round_below(limit));
        }
    }

    #[test]
    fn axes_cover_their_range() {
        for (low, high) in [(0.0, 0.37), (0.0, 1234.0), (-0.02, 0.02), (5.0, 5.0), (0.0, f64::NAN)] {
            let axis = Axis::round(low, high, 5, "");
            assert!(axis.low <= low && axis.high > low, "{low}..{high}");
            assert!((2..=14).contains(&axis.ticks.len()), "{low}..{high}: {} ticks", axis.ticks.len());
        }
    }

    #[test]
    fn zero_has_no_sign() {
        assert_eq!(signed(-0.0001, 2), "0.00");
        assert_eq!(signed(-1.5, 1), "−1.5");
    }
}
