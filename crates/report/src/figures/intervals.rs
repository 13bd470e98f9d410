//! Values with their 95 % intervals, one row each: set directions on the axial scale, and any other quantity.

use super::Figure;
use super::overview::WIDE;
use super::plot::{Axis, PANEL_WIDTH};
use super::svg::{Anchor, Canvas, Ink, Pen, SMALL, TEXT, shorten};
use crate::dossier::{Estimate, Set};
use crate::words;

/// One row of [`intervals`].
#[derive(Debug, Clone, PartialEq)]
pub struct IntervalRow {
    /// Printed at its left: `station A`.
    pub label: String,
    /// The value; `None` leaves the row empty with `note`.
    pub estimate: Option<Estimate>,
    /// Why there is no value; unused where there is one.
    pub note: String,
}

/// One row of [`set_directions`].
#[derive(Debug, Clone, PartialEq)]
pub struct SetRow {
    /// Printed at its left: `station A`.
    pub label: String,
    /// Sets of that row.
    pub sets: Vec<Set>,
}

/// Multiple of the largest value at which the scale ends: one very wide interval must not squeeze all others.
const CUT_AT: f64 = 3.0;

const ROW: f64 = 24.0;
const TOP: f64 = 34.0;
const BELOW: f64 = 46.0;

/// Rows of values with 95 % intervals on one scale that starts at zero.
#[must_use]
pub fn intervals(title: &str, axis_label: &str, unit: &str, rows: &[IntervalRow]) -> Figure {
    let all = || rows.iter().filter_map(|row| row.estimate);
    let largest_value = all().map(|estimate| estimate.value).fold(0.0, f64::max);
    let largest =
        all().map(|estimate| estimate.high).fold(largest_value, f64::max).min(CUT_AT * largest_value);
    if rows.iter().all(|row| row.estimate.is_none()) {
        return super::empty(title, "no row has a value; the table says why.");
    }
    let axis = Axis::round(0.0, largest, 5, axis_label);
    let cut = all().any(|estimate| estimate.high > axis.high);
    let note = if cut {
        "Dot: value; bar: 95 % interval; arrow: it goes on."
    } else {
        "Dot: value; bar: 95 % interval."
    };
    let board = Board::new(PANEL_WIDTH, 92.0, rows.len());
    let mut canvas = Canvas::default();
    board.draw(&mut canvas, title, note, &axis);
    for (index, row) in rows.iter().enumerate() {
        let y = board.row(index);
        canvas.text([board.left - 8.0, y + 4.0], Anchor::End, SMALL, &shorten(&row.label, 15));
        match row.estimate {
            Some(estimate) => {
                let [low, high] =
                    [estimate.low, estimate.high].map(|value| board.x(value.clamp(0.0, axis.high), &axis));
                canvas.line([low, y], [high, y], Pen::solid(Ink::First, 2.0));
                canvas.line([low, y - 4.0], [low, y + 4.0], Pen::solid(Ink::First, 1.2));
                if estimate.high <= axis.high {
                    canvas.line([high, y - 4.0], [high, y + 4.0], Pen::solid(Ink::First, 1.2));
                } else {
                    canvas.area(&[[high - 8.0, y - 5.0], [high, y], [high - 8.0, y + 5.0]], Ink::First);
                }
                canvas.dot([board.x(estimate.value, &axis), y], 4.0, Ink::First);
            }
            None => canvas.text_in(
                [board.left + 6.0, y + 4.0],
                Anchor::Start,
                SMALL,
                Ink::Mid,
                &shorten(&row.note, 36),
            ),
        }
    }
    let spoken: Vec<String> = rows
        .iter()
        .map(|row| match row.estimate {
            Some(estimate) => format!("{}: {}", row.label, words::interval(estimate, unit)),
            None => format!("{}: no value, {}", row.label, row.note),
        })
        .collect();
    canvas.finish(title, format!("{}.", spoken.join("; ")), PANEL_WIDTH, board.height)
}

/// Directions of the sets of several groups on one axial scale, 0° to 180°; an interval that passes 180° goes on at 0°.
/// The dot's area shows the set's share.
#[must_use]
pub fn set_directions(title: &str, rows: &[SetRow]) -> Figure {
    if rows.is_empty() {
        return super::empty(title, "no group of traces has a lay.");
    }
    let ticks = (0..=6).map(|index| (f64::from(index) * 30.0, format!("{}°", index * 30))).collect();
    let axis = Axis::with_ticks(0.0, 180.0, ticks, "direction of the set (180° is 0° again)");
    let board = Board::new(WIDE, 110.0, rows.len());
    let mut canvas = Canvas::default();
    board.draw(&mut canvas, title, "Dot: direction, its area the set’s share; bar: 95 % interval.", &axis);
    for (index, row) in rows.iter().enumerate() {
        let y = board.row(index);
        canvas.text([board.left - 8.0, y + 4.0], Anchor::End, SMALL, &shorten(&row.label, 18));
        if row.sets.is_empty() {
            canvas.text_in([board.left + 6.0, y + 4.0], Anchor::Start, SMALL, Ink::Mid, "no set stands out");
        }
        for set in &row.sets {
            draw_set(&mut canvas, &board, &axis, set, y);
        }
    }
    let spoken: Vec<String> =
        rows.iter().map(|row| format!("{}: {}", row.label, super::rose::set_words(&row.sets))).collect();
    canvas.finish(title, spoken.join(" "), WIDE, board.height)
}

fn draw_set(canvas: &mut Canvas, board: &Board, axis: &Axis, set: &Set, y: f64) {
    let direction = set.direction.degrees();
    if let Some(half) = set.half_width_95_deg.filter(|half| half.is_finite()) {
        let half = half.clamp(0.0, 90.0);
        // The interval and its copies one turn away; whatever lies on the scale is drawn.
        for turn in [-180.0, 0.0, 180.0] {
            let (low, high) = ((direction - half + turn).max(0.0), (direction + half + turn).min(180.0));
            if low < high {
                canvas.line([board.x(low, axis), y], [board.x(high, axis), y], Pen::solid(Ink::First, 2.0));
            }
        }
    }
    canvas.dot([board.x(direction, axis), y], 2.5 + 5.0 * set.share.clamp(0.0, 1.0).sqrt(), Ink::First);
}

/// Rows over one horizontal scale.
pub(crate) struct Board {
    left: f64,
    right: f64,
    height: f64,
    rows: usize,
}

impl Board {
    pub(crate) fn new(width: f64, label_width: f64, rows: usize) -> Self {
        Self { left: label_width, right: width - 18.0, height: TOP + rows as f64 * ROW + BELOW, rows }
    }

    pub(crate) fn left(&self) -> f64 {
        self.left
    }

    pub(crate) fn height(&self) -> f64 {
        self.height
    }

    pub(crate) fn row(&self, index: usize) -> f64 {
        TOP + (index as f64 + 0.5) * ROW
    }

    pub(crate) fn x(&self, value: f64, axis: &Axis) -> f64 {
        self.left + (value - axis.low) / (axis.high - axis.low) * (self.right - self.left)
    }

    pub(crate) fn draw(&self, canvas: &mut Canvas, title: &str, note: &str, axis: &Axis) {
        let bottom = TOP + self.rows as f64 * ROW;
        canvas.bold([4.0, 13.0], Anchor::Start, TEXT, title);
        canvas.text_in([4.0, 27.0], Anchor::Start, SMALL, Ink::Mid, note);
        for (value, label) in &axis.ticks {
            let x = self.x(*value, axis);
            canvas.line([x, TOP], [x, bottom], Pen::solid(Ink::Faint, 0.5));
            canvas.line([x, bottom], [x, bottom + 4.0], Pen::solid(Ink::Dark, 0.8));
            canvas.text([x, bottom + 16.0], Anchor::Middle, SMALL, label);
        }
        for index in 1..self.rows {
            let y = TOP + index as f64 * ROW;
            canvas.line([self.left, y], [self.right, y], Pen::dotted(Ink::Faint, 0.6));
        }
        canvas.frame([self.left, TOP], [self.right - self.left, bottom - TOP], Pen::solid(Ink::Dark, 0.8));
        canvas.text([(self.left + self.right) / 2.0, bottom + 34.0], Anchor::Middle, SMALL, &axis.label);
    }
}

#[cfg(test)]
mod tests {
    use quantity::AxialDeg;

    use super::*;

    #[test]
    fn an_interval_past_180_goes_on_at_zero() {
        let set = Set {
            direction: AxialDeg::new(178.0).unwrap(),
            half_width_95_deg: Some(5.0),
            concentration: 9.0,
            share: 0.5,
        };
        let svg = set_directions("Sets", &[SetRow { label: "A".into(), sets: vec![set] }]).svg("s");
        assert_eq!(svg.matches("stroke-width=\"2\"").count(), 2, "one part at each end of the scale");
    }

    #[test]
    fn a_very_wide_interval_is_cut_and_marked() {
        let row = |high| IntervalRow {
            label: "A".into(),
            estimate: Some(Estimate { value: 3.0, low: 2.0, high }),
            note: String::new(),
        };
        let svg = intervals("Mean stroke length", "", "mm", &[row(4.0), row(6000.0)]).svg("i");
        assert!(svg.contains("arrow: it goes on") && svg.matches("<polygon").count() == 1);
        assert!(!intervals("Mean stroke length", "", "mm", &[row(4.0)]).svg("i").contains("arrow"));
    }

    #[test]
    fn rows_without_a_value_say_why() {
        let rows = [
            IntervalRow {
                label: "A".into(),
                estimate: Some(Estimate { value: 34.0, low: 30.0, high: 38.0 }),
                note: String::new(),
            },
            IntervalRow { label: "B".into(), estimate: None, note: "only one set".into() },
        ];
        let figure = intervals("Crossing angle", "crossing angle (°)", "°", &rows);
        assert!(figure.svg("i").contains(">only one set<"));
        assert!(figure.description.contains("B: no value, only one set"));
        assert!(intervals("Crossing angle", "", "°", &rows[1..]).description.starts_with("Nothing is drawn"));
    }
}
