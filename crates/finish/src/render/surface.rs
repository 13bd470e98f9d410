//! The surface with its grooves, and the light it sends into the lens.
//!
//! Heights live on a grid twice as fine as the picture, band by band, so that a groove one pixel wide keeps its two
//! walls and a large picture needs no large memory.

use rayon::prelude::*;

use super::blemish::{Fibre, pixels_near};
use super::groove::{Course, SHOULDER_REACH, cross_section};
use super::ground::Ground;
use super::light::Shader;

/// Rows of the picture per band.
const BAND: usize = 24;

/// Radiance of every pixel, before any optics.
pub(super) fn radiance(ground: &Ground, courses: &[Course], fibres: &[Fibre], shader: &Shader) -> Vec<f32> {
    let mut out = vec![0.0f32; ground.width * ground.height];
    let gloss = ground.gloss();
    let spans: Vec<Span> = courses.iter().map(Span::of).collect();
    out.par_chunks_mut(BAND * ground.width).enumerate().for_each(|(band, rows)| {
        let mut sheet = Sheet::new(ground, band * BAND, rows.len() / ground.width);
        for (course, span) in courses.iter().zip(&spans) {
            if span.meets(sheet.first_row as f32 - 1.0, (sheet.first_row + sheet.rows) as f32) {
                sheet.cut(course);
            }
        }
        sheet.shade(shader, &gloss, rows);
    });
    for fibre in fibres {
        lay_fibre(fibre, ground, &mut out);
    }
    out
}

/// Rows that a course touches.
struct Span {
    top: f32,
    bottom: f32,
}

impl Span {
    fn of(course: &Course) -> Self {
        let mut span = Self { top: f32::MAX, bottom: f32::MIN };
        for s in &course.samples {
            let reach = s.half_width * SHOULDER_REACH + 1.0;
            span.top = span.top.min(s.drawn[1] as f32 - reach);
            span.bottom = span.bottom.max(s.drawn[1] as f32 + reach);
        }
        span
    }

    fn meets(&self, top: f32, bottom: f32) -> bool {
        self.top <= bottom && self.bottom >= top
    }
}

/// One band of the surface on the fine grid: node `(i, j)` lies at `x = i/2 − 1/2`, `y = first_row + j/2 − 1/2`.
struct Sheet<'a> {
    ground: &'a Ground,
    first_row: usize,
    rows: usize,
    columns: usize,
    lines: usize,
    base: Vec<f32>,
    level: Vec<f32>,
    /// Share of crushed stone at a node.
    crushed: Vec<f32>,
    /// Nearest place of the groove being cut: signed distance and position along it.
    nearest: Vec<(f32, f32)>,
    touched: Vec<u32>,
}

const NOT_TOUCHED: (f32, f32) = (f32::INFINITY, 0.0);

impl<'a> Sheet<'a> {
    fn new(ground: &'a Ground, first_row: usize, rows: usize) -> Self {
        let (columns, lines) = (2 * ground.width + 1, 2 * rows + 1);
        let mut base = Vec::with_capacity(columns * lines);
        for j in 0..lines {
            let y = first_row as f32 + 0.5 * j as f32 - 0.5;
            base_line(ground, y, columns, &mut base);
        }
        let n = base.len();
        Self {
            ground,
            first_row,
            rows,
            columns,
            lines,
            level: base.clone(),
            base,
            crushed: vec![0.0; n],
            nearest: vec![NOT_TOUCHED; n],
            touched: Vec::new(),
        }
    }

    /// Cuts one groove through what is there.
    fn cut(&mut self, course: &Course) {
        for k in 1..course.samples.len() {
            self.reach(course, k);
        }
        let character = &course.character;
        for node in std::mem::take(&mut self.touched) {
            let node = node as usize;
            let (t, at) = std::mem::replace(&mut self.nearest[node], NOT_TOUCHED);
            let k = (at as usize).min(course.samples.len() - 2);
            let f = (at - k as f32).clamp(0.0, 1.0);
            let (a, b) = (&course.samples[k], &course.samples[k + 1]);
            let mut here = *a;
            here.half_width += f * (b.half_width - a.half_width);
            here.depth += f * (b.depth - a.depth);
            let (cut, shoulder) = cross_section(t, &here, character);
            if cut < 0.0 {
                self.level[node] = self.level[node].min(self.base[node] + cut);
                let share = character.whitening as f32 * (-cut / here.depth.max(1e-6)).min(1.0);
                self.crushed[node] = self.crushed[node].max(share);
            } else {
                self.level[node] += shoulder;
            }
        }
    }

    /// Notes the nodes near segment `k − 1 … k` and their distance from it.
    fn reach(&mut self, course: &Course, k: usize) {
        let (a, b) = (&course.samples[k - 1], &course.samples[k]);
        if a.depth <= 0.0 && b.depth <= 0.0 {
            return;
        }
        let wide = if course.character.shoulders == [0.0, 0.0] { 1.0 } else { SHOULDER_REACH };
        let reach = a.half_width.max(b.half_width) * wide;
        let top = self.first_row as f64 - 0.5;
        let node = |v: f64, origin: f64| 2.0 * (v - origin);
        let range = |p: f64, q: f64, origin: f64, end: usize| {
            let low = node(p.min(q) - f64::from(reach), origin).ceil().clamp(0.0, end as f64) as usize;
            let high =
                (node(p.max(q) + f64::from(reach), origin).floor() + 1.0).clamp(0.0, end as f64) as usize;
            low..high
        };
        let (lines, columns) = (
            range(a.drawn[1], b.drawn[1], top, self.lines),
            range(a.drawn[0], b.drawn[0], -0.5, self.columns),
        );
        let (dx, dy) = ((b.drawn[0] - a.drawn[0]) as f32, (b.drawn[1] - a.drawn[1]) as f32);
        let length = dx.hypot(dy).max(1e-6);
        // Wedges on the outside of a bend belong to both segments; the ends of the groove are cut square.
        let slack = 0.4;
        let before = if k == 1 { 0.0 } else { -slack };
        let after = if k + 1 == course.samples.len() { length } else { length + slack };
        for j in lines {
            let py = (top + 0.5 * j as f64 - a.drawn[1]) as f32;
            for i in columns.clone() {
                let px = (0.5 * i as f64 - 0.5 - a.drawn[0]) as f32;
                let s = (px * dx + py * dy) / length;
                // Left of the path as seen (y down).
                let t = (px * dy - py * dx) / length;
                if s < before || s > after || t.abs() > reach {
                    continue;
                }
                let index = j * self.columns + i;
                let held = &mut self.nearest[index];
                if held.0.is_infinite() {
                    self.touched.push(index as u32);
                }
                if t.abs() < held.0.abs() {
                    *held = (t, (k - 1) as f32 + (s / length).clamp(0.0, 1.0));
                }
            }
        }
    }

    /// Light from every pixel of the band: four facets each.
    fn shade(&self, shader: &Shader, gloss: &[f32], rows: &mut [f32]) {
        let width = self.ground.width;
        for (y, row) in rows.chunks_mut(width).enumerate() {
            for (x, out) in row.iter_mut().enumerate() {
                let pixel = (self.first_row + y) * width + x;
                let (grey, shine) = (self.ground.grey[pixel], gloss[usize::from(self.ground.mineral[pixel])]);
                let mut sum = 0.0;
                for (i, j) in [(0, 0), (1, 0), (0, 1), (1, 1)] {
                    let node = (2 * y + j) * self.columns + 2 * x + i;
                    let below = node + self.columns;
                    let [p, q, r, s] = [node, node + 1, below, below + 1].map(|n| self.level[n]);
                    // Half a pixel between nodes.
                    let (gx, gy) = ((q - p) + (s - r), (r - p) + (s - q));
                    let crushed = 0.25
                        * (self.crushed[node]
                            + self.crushed[node + 1]
                            + self.crushed[below]
                            + self.crushed[below + 1]);
                    sum += facet(shader, gx, gy, grey, shine, crushed);
                }
                *out = 0.25 * sum;
            }
        }
    }
}

/// Light from one facet, part of it crushed to a pale matt powder.
pub(super) fn facet(shader: &Shader, gx: f32, gy: f32, grey: f32, gloss: f32, crushed: f32) -> f32 {
    // Crushed silicate is paler than the solid grain but not white: three quarters (common practice, no source).
    let grey = grey + crushed * (0.75 - grey);
    shader.radiance(gx, gy, grey, gloss * (1.0 - crushed))
}

fn base_line(ground: &Ground, y: f32, columns: usize, out: &mut Vec<f32>) {
    let y = y.clamp(0.0, (ground.height - 1) as f32);
    let row = (y as usize).min(ground.height.saturating_sub(2));
    let f = y - row as f32;
    let upper = &ground.level[row * ground.width..(row + 1) * ground.width];
    let lower_row = (row + 1).min(ground.height - 1);
    let lower = &ground.level[lower_row * ground.width..(lower_row + 1) * ground.width];
    let at = |x: usize| upper[x] + f * (lower[x] - upper[x]);
    let last = ground.width - 1;
    for i in 0..columns {
        // Nodes alternate between the middle of two pixels (even) and a pixel's centre (odd).
        let (left, right) = ((i.max(1) - 1) / 2, i / 2);
        out.push(0.5 * (at(left.min(last)) + at(right.min(last))));
    }
}

/// Lays a fibre over the picture: it hides what is under it.
fn lay_fibre(fibre: &Fibre, ground: &Ground, out: &mut [f32]) {
    let reach = f64::from(fibre.half_width_px) + 1.0;
    for (at, distance) in pixels_near(&fibre.points, reach, ground.width, ground.height) {
        let cover = fibre.opacity * (fibre.half_width_px + 0.5 - distance as f32).clamp(0.0, 1.0);
        // Round in section: paler along its crest.
        let round = 1.0 - 0.5 * (distance as f32 / (fibre.half_width_px + 0.5)).powi(2);
        out[at] += cover * (fibre.radiance * round - out[at]);
    }
}
