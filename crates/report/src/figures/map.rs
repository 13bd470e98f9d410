//! A map of values over a surface: deviations from a plane, heights, distances.

use std::fmt::Write as _;

use super::Figure;
use super::overview::WIDE;
use super::plot::round_below;
use super::svg::{Anchor, Canvas, Ink, Pen, SMALL, TEXT, number, shorten};
use crate::words;

/// Values on a regular grid, row by row from the top; a value that is not finite is a hole.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Map<'a> {
    /// Printed over it.
    pub title: &'a str,
    /// Columns of the grid.
    pub columns: usize,
    /// `columns × rows` values.
    pub values: &'a [f64],
    /// Unit of the values.
    pub unit: &'a str,
    /// Width of the grid on the surface, mm; `None` draws no scale bar.
    pub width_mm: Option<f64>,
}

/// Most cells along the longer side; finer grids are averaged.
const CELLS_AT_MOST: usize = 120;

/// Steps of grey from dark (low) to light (high): as many as print keeps apart.
const STEPS: [&str; 8] =
    ["#1c1c1c", "#3d3d3d", "#5c5c5c", "#7b7b7b", "#9a9a9a", "#b8b8b8", "#d5d5d5", "#f1f1f1"];

/// A map in eight steps of grey, low dark and high light, with its key. Holes are crossed by a diagonal line.
#[must_use]
pub fn map(map: &Map<'_>) -> Figure {
    let Some(grid) = Grid::of(map) else {
        return super::empty(map.title, "there are no values on the grid.");
    };
    let (low, high) = grid.range();
    let cell = ((WIDE - 130.0) / grid.columns as f64).min(420.0 / grid.rows as f64);
    let (width, height) = (cell * grid.columns as f64, cell * grid.rows as f64);
    let mut canvas = Canvas::default();
    canvas.bold([4.0, 13.0], Anchor::Start, TEXT, &shorten(map.title, 90));
    draw_cells(&mut canvas, &grid, cell, low, high);
    canvas.frame([4.0, 22.0], [width, height], Pen::solid(Ink::Dark, 0.8));
    let key_height = draw_key(&mut canvas, 4.0 + width + 16.0, low, high, map.unit);
    let y = 22.0 + height + 14.0;
    if let Some(width_mm) = map.width_mm.filter(|width_mm| *width_mm > 0.0) {
        let length_mm = round_below(width_mm / 3.0);
        let length = length_mm / width_mm * width;
        canvas.line([4.0, y], [4.0 + length, y], Pen::solid(Ink::Dark, 2.5));
        canvas.text(
            [4.0 + length + 7.0, y + 4.0],
            Anchor::Start,
            SMALL,
            &format!("{} mm", words::significant(length_mm, 1)),
        );
    }
    let holes = grid.values.iter().filter(|value| !value.is_finite()).count();
    let description = format!(
        "Map of {} by {} cells in eight steps of grey from {} (dark) to {} {} (light); {} of the cells are holes.",
        grid.columns,
        grid.rows,
        words::significant(low, 3),
        words::significant(high, 3),
        map.unit,
        words::percent(holes as f64 / grid.values.len() as f64)
    );
    canvas.finish(map.title, description, WIDE, (y + 12.0).max(22.0 + key_height))
}

/// Values averaged to a size that can be drawn.
struct Grid {
    columns: usize,
    rows: usize,
    values: Vec<f64>,
}

impl Grid {
    fn of(map: &Map<'_>) -> Option<Self> {
        let rows = map.values.len().checked_div(map.columns)?;
        if rows == 0 || !map.values.iter().any(|value| value.is_finite()) {
            return None;
        }
        let step = map.columns.max(rows).div_ceil(CELLS_AT_MOST);
        let (columns, drawn_rows) = (map.columns.div_ceil(step), rows.div_ceil(step));
        let mean = |index: usize| {
            let (x, y) = (index % columns * step, index / columns * step);
            let (mut sum, mut count) = (0.0, 0usize);
            for row in y..(y + step).min(rows) {
                let start = row * map.columns;
                for value in map.values.get(start + x..start + (x + step).min(map.columns)).unwrap_or(&[]) {
                    if value.is_finite() {
                        sum += value;
                        count += 1;
                    }
                }
            }
            if count > 0 { sum / count as f64 } else { f64::NAN }
        };
        Some(Self { columns, rows: drawn_rows, values: (0..columns * drawn_rows).map(mean).collect() })
    }

    /// Lowest and highest value, apart by more than nothing.
    fn range(&self) -> (f64, f64) {
        let finite = || self.values.iter().copied().filter(|value| value.is_finite());
        let (low, high) =
            (finite().fold(f64::INFINITY, f64::min), finite().fold(f64::NEG_INFINITY, f64::max));
        if high > low { (low, high) } else { (low - 0.5, low + 0.5) }
    }
}

fn step_of(value: f64, low: f64, high: f64) -> usize {
    (((value - low) / (high - low) * STEPS.len() as f64) as usize).min(STEPS.len() - 1)
}

/// Cells of one step in one element; neighbours in a row are drawn as one bar.
fn draw_cells(canvas: &mut Canvas, grid: &Grid, cell: f64, low: f64, high: f64) {
    let mut data = [const { String::new() }; STEPS.len()];
    let mut holes = String::new();
    for (row, values) in grid.values.chunks(grid.columns).enumerate() {
        let mut column = 0;
        for run in values.chunk_by(|a, b| step_or_hole(*a, low, high) == step_or_hole(*b, low, high)) {
            let (x, y) = (4.0 + column as f64 * cell, 22.0 + row as f64 * cell);
            let length = run.len() as f64 * cell;
            let target = run.first().and_then(|value| step_or_hole(*value, low, high));
            match target.and_then(|step| data.get_mut(step)) {
                // A little overlap, so that no light shows between rows.
                Some(data) => {
                    let _ = write!(
                        data,
                        "M{} {}h{}v{}h-{}z",
                        number(x),
                        number(y),
                        number(length),
                        number(cell + 0.15),
                        number(length)
                    );
                }
                None => {
                    let _ = write!(
                        holes,
                        "M{} {}l{} -{}",
                        number(x),
                        number(y + cell),
                        number(length),
                        number(cell)
                    );
                }
            }
            column += run.len();
        }
    }
    for (data, colour) in data.iter().zip(STEPS) {
        if !data.is_empty() {
            canvas.fill(data, colour);
        }
    }
    if !holes.is_empty() {
        canvas.strokes(&holes, "#a84f00", 0.5, "");
    }
}

fn step_or_hole(value: f64, low: f64, high: f64) -> Option<usize> {
    value.is_finite().then(|| step_of(value, low, high))
}

/// The key from high to low; returns its height.
fn draw_key(canvas: &mut Canvas, x: f64, low: f64, high: f64, unit: &str) -> f64 {
    let box_height = 16.0;
    canvas.text([x, 30.0], Anchor::Start, SMALL, unit);
    let decimals = super::plot::decimals_of((high - low) / STEPS.len() as f64) + 1;
    for (index, colour) in STEPS.iter().rev().enumerate() {
        let y = 38.0 + index as f64 * box_height;
        canvas.fill(&format!("M{} {}h18v{}h-18z", number(x), number(y), number(box_height)), colour);
        canvas.frame([x, y], [18.0, box_height], Pen::solid(Ink::Mid, 0.5));
    }
    for index in 0..=STEPS.len() {
        let value = high - (high - low) * index as f64 / STEPS.len() as f64;
        let y = 38.0 + index as f64 * box_height;
        canvas.text([x + 24.0, y + 4.0], Anchor::Start, SMALL, &super::plot::signed(value, decimals.min(6)));
    }
    38.0 + STEPS.len() as f64 * box_height + 10.0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(columns: usize, values: &[f64]) -> Figure {
        map(&Map { title: "Deviation", columns, values, unit: "mm", width_mm: Some(300.0) })
    }

    #[test]
    fn low_is_dark_and_high_is_light() {
        assert_eq!((step_of(0.0, 0.0, 8.0), step_of(8.0, 0.0, 8.0)), (0, 7));
        let svg = of(2, &[0.0, 1.0, 1.0, 1.0]).svg("m");
        let dark = svg.split(STEPS[0]).next().unwrap();
        assert!(dark.rsplit("d=\"M").next().unwrap().starts_with("4 22"), "the first cell is the low one");
    }

    #[test]
    fn fine_grids_are_averaged_and_holes_kept() {
        let values: Vec<f64> = (0..1200 * 600)
            .map(|index| if index % 1200 < 600 { f64::NAN } else { 1.0 + (index % 7) as f64 })
            .collect();
        let figure = of(1200, &values);
        assert!(figure.description.contains("50 % of the cells are holes"), "{}", figure.description);
        assert!(figure.svg("m").len() < 400_000);
        assert!(of(0, &[]).description.starts_with("Nothing is drawn"));
        assert!(of(2, &[f64::NAN, f64::NAN]).description.starts_with("Nothing is drawn"));
        assert!(of(1, &[3.0]).description.contains("1 by 1"));
    }
}
