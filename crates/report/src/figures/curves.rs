//! Any quantity along a path or over a scale: one or two lines, with a band where they have one.

use super::Figure;
use super::plot::{Axis, Plot};
use super::svg::{Anchor, Ink, Pen, SMALL};
use crate::words;

/// Most points drawn of one line.
const POINTS_AT_MOST: usize = 1500;

/// One line of [`curves`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line<'a> {
    /// Printed at the line's end and in the alternative text.
    pub name: &'a str,
    /// Points `[x, y]` in the order to join them; a point that is not finite leaves a gap.
    pub points: &'a [[f64; 2]],
    /// Half-widths of a band round the line, one for each point; empty for none.
    pub half_widths: &'a [f64],
}

/// Up to two lines over one pair of axes (the first solid, the second dashed); labels carry the units.
#[must_use]
pub fn curves(title: &str, x_label: &str, y_label: &str, lines: &[Line<'_>]) -> Figure {
    let finite = |point: &&[f64; 2]| point.iter().all(|value| value.is_finite());
    let all: Vec<[f64; 2]> =
        lines.iter().take(2).flat_map(|line| line.points.iter().filter(finite).copied()).collect();
    if all.len() < 2 {
        return super::empty(title, "there are fewer than two values.");
    }
    let range = |axis: usize| {
        let values = || all.iter().map(|point| point[axis]);
        (values().fold(f64::INFINITY, f64::min), values().fold(f64::NEG_INFINITY, f64::max))
    };
    let ((x_low, x_high), (y_low, y_high)) = (range(0), range(1));
    let widest = lines
        .iter()
        .flat_map(|line| line.half_widths)
        .copied()
        .filter(|half| half.is_finite())
        .fold(0.0, f64::max);
    let y_axis = Axis::round(y_low - widest, y_high + widest, 4, y_label);
    let mut plot = Plot::panel(Axis::round(x_low, x_high, 4, x_label), y_axis, 0.0);
    plot.axes();
    for line in lines.iter().take(2) {
        draw_band(&mut plot, line);
    }
    for (line, pen) in lines.iter().zip([Pen::solid(Ink::First, 1.6), Pen::dashed(Ink::Second, 1.6)]) {
        draw_line(&mut plot, line, pen);
    }
    let names: Vec<String> = lines
        .iter()
        .take(2)
        .zip(["solid", "dashed"])
        .filter(|(line, _)| !line.name.is_empty())
        .map(|(line, look)| format!("{look}: {}", line.name))
        .collect();
    plot.heading(title, &names.join("; "));
    let spoken: Vec<String> = lines.iter().take(2).map(|line| spoken(line)).collect();
    plot.finish(title, format!("{y_label} over {x_label}. {}", spoken.join(" ")))
}

fn draw_band(plot: &mut Plot, line: &Line<'_>) {
    let pairs = || {
        line.points
            .iter()
            .zip(line.half_widths)
            .filter(|(point, half)| point[0].is_finite() && (point[1] + **half).is_finite())
    };
    let mut outline: Vec<[f64; 2]> =
        pairs().map(|(point, half)| plot.at(point[0], plot.within_y(point[1] + half))).collect();
    if outline.len() < 2 {
        return;
    }
    outline.extend(pairs().rev().map(|(point, half)| plot.at(point[0], plot.within_y(point[1] - half))));
    plot.canvas.area(&outline, Ink::Wash);
}

fn draw_line(plot: &mut Plot, line: &Line<'_>, pen: Pen) {
    let keep_every = line.points.len().div_ceil(POINTS_AT_MOST).max(1);
    let kept: Vec<[f64; 2]> = line.points.iter().step_by(keep_every).copied().collect();
    for part in kept.split(|point| !(point[0].is_finite() && point[1].is_finite())) {
        match part {
            [] => {}
            [only] => {
                let at = plot.at(only[0], only[1]);
                plot.canvas.dot(at, 1.6, Ink::First);
            }
            part => {
                let on_page: Vec<[f64; 2]> = part.iter().map(|point| plot.at(point[0], point[1])).collect();
                plot.canvas.polyline(&on_page, pen);
            }
        }
    }
}

fn spoken(line: &Line<'_>) -> String {
    let values: Vec<f64> =
        line.points.iter().map(|point| point[1]).filter(|value| value.is_finite()).collect();
    let (low, high) = values
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(*value), high.max(*value)));
    let mean = values.iter().sum::<f64>() / values.len().max(1) as f64;
    let name = if line.name.is_empty() { "The line" } else { line.name };
    if values.is_empty() {
        return format!("{name} has no values.");
    }
    format!(
        "{name}: {} values from {} to {}, mean {}.",
        words::thousands(values.len() as u64),
        words::significant(low, 3),
        words::significant(high, 3),
        words::significant(mean, 3)
    )
}

/// One bar for each value on a scale that starts at zero.
#[must_use]
pub fn bars(title: &str, axis_label: &str, unit: &str, rows: &[(String, f64)]) -> Figure {
    let largest = rows.iter().map(|(_, value)| *value).filter(|value| value.is_finite()).fold(0.0, f64::max);
    if rows.is_empty() || largest <= 0.0 {
        return super::empty(title, "there are no values.");
    }
    let axis = Axis::round(0.0, largest, 4, axis_label);
    let board = super::intervals::Board::new(super::plot::PANEL_WIDTH, 112.0, rows.len());
    let mut canvas = super::svg::Canvas::default();
    board.draw(&mut canvas, title, "", &axis);
    for (index, (label, value)) in rows.iter().enumerate() {
        let y = board.row(index);
        canvas.text([board.left() - 8.0, y + 4.0], Anchor::End, SMALL, &super::svg::shorten(label, 19));
        let end = board.x(value.clamp(0.0, axis.high), &axis);
        canvas.rectangle([board.left(), y - 6.0], [end - board.left(), 12.0], Ink::First);
    }
    let spoken: Vec<String> = rows
        .iter()
        .map(|(label, value)| format!("{label}: {}", words::with_unit(&words::significant(*value, 3), unit)))
        .collect();
    canvas.finish(title, format!("{}.", spoken.join("; ")), super::plot::PANEL_WIDTH, board.height())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gap_in_the_values_is_a_gap_in_the_line() {
        let points = [[0.0, 1.0], [1.0, 2.0], [2.0, f64::NAN], [3.0, 2.0], [4.0, 1.0]];
        let svg = curves(
            "Radius",
            "path (mm)",
            "radius (mm)",
            &[Line { name: "radius", points: &points, half_widths: &[] }],
        )
        .svg("c");
        assert_eq!(svg.matches("<polyline").count(), 2);
        assert!(curves("Radius", "", "", &[]).description.starts_with("Nothing is drawn"));
    }

    #[test]
    fn bars_are_as_long_as_their_values() {
        let figure = bars("Hours", "hours", "h", &[("low".into(), 1.0), ("high".into(), 4.0)]);
        let svg = figure.svg("b");
        let widths: Vec<f64> = svg
            .split("height=\"12\"")
            .filter_map(|before| before.rsplit("width=\"").next()?.split('"').next()?.parse().ok())
            .take(2)
            .collect();
        assert!((widths[1] / widths[0] - 4.0).abs() < 0.01, "{widths:?}");
        assert!(bars("Hours", "", "", &[]).description.starts_with("Nothing is drawn"));
    }
}
