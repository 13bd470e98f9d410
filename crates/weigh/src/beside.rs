//! What the chance of finding a stroke depends on: its length, its width, the light, and what runs beside it.

use crate::geometry::{FieldGeometry, Lit};
use finish::models::Stroke;

/// Facts of one stroke in one field.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Facts {
    /// Visible length, px.
    pub length_px: f64,
    /// Log of the length over 300 px, within the range that was measured.
    pub ln_length: f64,
    /// Log of the width over twice the blur, within the range that was measured.
    pub ln_width: f64,
    /// Mean fourth power of the cosine between the stroke and a one-sided light, 0 to 1.
    pub along_light: f64,
    /// Share of the stroke with a wider one beside it.
    pub wider_beside: f64,
    /// Share of the stroke with a narrower one beside it.
    pub narrower_beside: f64,
}

/// Side of a cell in which strokes count as beside each other, px (ours).
const CELL_PX: f64 = 12.0;
/// Range of lengths of the measurement, as logs over 300 px: 30 px to 1 500 px.
const LENGTHS: [f64; 2] = [-2.3, 1.6];
/// Range of widths of the measurement, as logs over twice the blur: 0.25 to 12.
const WIDTHS: [f64; 2] = [-1.4, 2.5];

/// Which widths run through each cell of a field.
pub struct Beside<'a> {
    strokes: &'a [Stroke],
    field: &'a FieldGeometry,
    light: Option<f64>,
    /// Cells along all strokes, one stroke after the other.
    cells: Vec<u32>,
    /// Where the cells of each stroke end.
    ends: Vec<usize>,
    /// Narrowest and widest stroke through each cell, µm.
    widths_um: Vec<[f32; 2]>,
}

impl<'a> Beside<'a> {
    /// Lays all strokes of a field; `light` is the axis of a one-sided light, radians.
    #[must_use]
    pub fn of(strokes: &'a [Stroke], field: &'a FieldGeometry, light: f64) -> Beside<'a> {
        let side = CELL_PX * field.mm_per_px;
        let size = [field.width_mm, field.height_mm].map(|mm| (mm / side) as usize + 1);
        let (mut cells, mut ends) = (Vec::new(), Vec::with_capacity(strokes.len()));
        let mut widths_um = vec![[f32::INFINITY, 0.0_f32]; size[0] * size[1]];
        for stroke in strokes {
            let (first, width) = (cells.len(), stroke.width_um as f32);
            add_cells(stroke, field, side, size, &mut cells);
            ends.push(cells.len());
            for cell in &cells[first..] {
                let [narrowest, widest] = &mut widths_um[*cell as usize];
                *narrowest = narrowest.min(width);
                *widest = widest.max(width);
            }
        }
        let light = (field.light != Lit::Around).then_some(light);
        Beside { strokes, field, light, cells, ends, widths_um }
    }

    /// What is known of each stroke, in their order.
    pub fn facts(&self) -> impl Iterator<Item = Facts> {
        let first = |index: usize| index.checked_sub(1).map_or(0, |before| self.ends[before]);
        let cells = move |index: usize| &self.cells[first(index)..self.ends[index]];
        self.strokes.iter().enumerate().map(move |(index, stroke)| self.facts_of(stroke, cells(index)))
    }

    fn facts_of(&self, stroke: &Stroke, cells: &[u32]) -> Facts {
        let width = stroke.width_um as f32;
        let [mut narrower, mut wider] = [0_u32; 2];
        for [narrowest, widest] in cells.iter().map(|cell| self.widths_um[*cell as usize]) {
            narrower += u32::from(narrowest < width);
            wider += u32::from(widest > width);
        }
        let share = |count: u32| f64::from(count) / cells.len().max(1) as f64;
        let length_px = stroke.length_mm / self.field.mm_per_px;
        let width_px = stroke.width_um / (1000.0 * self.field.mm_per_px);
        Facts {
            length_px,
            ln_length: (length_px / 300.0).max(1e-9).ln().clamp(LENGTHS[0], LENGTHS[1]),
            ln_width: (width_px / (2.0 * self.field.blur_px)).max(1e-9).ln().clamp(WIDTHS[0], WIDTHS[1]),
            along_light: self.light.map_or(EVEN_LIGHT, |light| along(stroke, light)),
            wider_beside: share(wider),
            narrower_beside: share(narrower),
        }
    }
}

/// Adds the cells along a stroke, at even steps.
fn add_cells(stroke: &Stroke, field: &FieldGeometry, side: f64, size: [usize; 2], found: &mut Vec<u32>) {
    let per_mm = 1.0 / side;
    let last = size.map(|cells| cells as i32 - 1);
    let width = size[0] as i32;
    let half = [0.5 * field.width_mm * per_mm, 0.5 * field.height_mm * per_mm];
    for pair in stroke.points_mm.windows(2) {
        let [from, to] = [pair[0], pair[1]].map(|p| [p[0] * per_mm + half[0], p[1] * per_mm + half[1]]);
        let step = [to[0] - from[0], to[1] - from[1]];
        let steps = (step[0] * step[0] + step[1] * step[1]).sqrt().ceil().max(1.0);
        let share = 1.0 / steps;
        // Through i32, which is one instruction where usize takes many: this loop was a fifth of a simulation.
        found.extend((0..steps as i32).map(|k| {
            let along = (f64::from(k) + 0.5) * share;
            let [column, row] =
                [0, 1].map(|axis| ((from[axis] + along * step[axis]).max(0.0) as i32).min(last[axis]));
            (row * width + column) as u32
        }));
    }
}

/// Mean fourth power of the cosine between a stroke and an axis.
fn along(stroke: &Stroke, axis: f64) -> f64 {
    let (sin, cos) = axis.sin_cos();
    let (sum, length) = stroke.points_mm.windows(2).fold((0.0, 0.0), |(sum, length), pair| {
        let step = [pair[1][0] - pair[0][0], pair[1][1] - pair[0][1]];
        let square = step[0] * step[0] + step[1] * step[1];
        let share = (step[0] * cos + step[1] * sin).powi(2) / square.max(1e-18);
        (sum + square.sqrt() * share * share, length + square.sqrt())
    });
    sum / length.max(1e-12)
}

/// Mean fourth power of the cosine over all directions: what light from all sides is taken to hide (not measured).
const EVEN_LIGHT: f64 = 0.375;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Geometry;
    use finish::models::Layer;

    fn stroke(y: f64, length: f64, width_um: f64) -> Stroke {
        Stroke {
            points_mm: vec![[-0.5 * length, y], [0.5 * length, y]],
            width_um,
            depth_um: 1.0,
            length_mm: length,
            ends_inside: [true, true],
            layer: Layer::Finish,
        }
    }

    #[test]
    fn a_narrow_stroke_has_the_wide_one_beside_it_and_not_the_other_way_round() {
        let field = Geometry::equal(1, 1, 3.0, 816.0).fields[0];
        let strokes = [stroke(0.0, 2.0, 20.0), stroke(0.001, 1.0, 4.0), stroke(0.5, 1.0, 4.0)];
        let beside = Beside::of(&strokes, &field, 0.0);
        let facts: Vec<Facts> = beside.facts().collect();
        let (wide, narrow, alone) = (facts[0], facts[1], facts[2]);
        assert!(wide.wider_beside == 0.0 && (wide.narrower_beside - 0.5).abs() < 0.05, "{wide:?}");
        assert!(narrow.wider_beside > 0.99 && alone.wider_beside == 0.0);
        assert!((alone.along_light - 1.0).abs() < 1e-9);
    }
}
