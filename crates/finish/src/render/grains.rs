//! The grains of the stone: a tessellation of the plane with a mineral, a grey and an orientation for each cell.

use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, StandardNormal};
use rand_pcg::Pcg64;

use super::noise;
use super::stone::Stone;

/// One grain.
#[derive(Debug, Clone)]
pub(super) struct Grain {
    centre: [f32; 2],
    /// Symmetric matrix of the distance: `a·dx² + 2b·dx·dy + c·dy²`.
    metric: [f32; 3],
    /// Mean radius, px.
    radius: f32,
    pub(super) mineral: u8,
    /// Factor on the mineral's grey.
    pub(super) tone: f32,
    /// Height above the mean surface, µm.
    pub(super) level_um: f32,
    /// Orientation of its lattice, radians.
    pub(super) angle: f32,
    /// One uniform draw per family of lines: shown if below its share.
    pub(super) dice: [f32; 4],
    pub(super) key: u32,
}

/// Where a point lies in the tessellation.
#[derive(Debug, Clone, Copy)]
pub(super) struct Place {
    pub(super) grain: u32,
    pub(super) next: u32,
    /// Distance to the boundary between the two, px.
    pub(super) edge_px: f32,
}

/// All grains over a field and a margin around it.
pub(super) struct Grains {
    pub(super) all: Vec<Grain>,
    cell_px: f32,
    columns: i32,
    rows: i32,
    warp: Warp,
    /// Largest value of the metric's root per pixel, for culling.
    steepest: f32,
}

struct Warp {
    key: u32,
    amplitude: f32,
    length: f32,
}

/// Cells searched on each side: grains reach at most this far (their radius is limited accordingly).
const REACH: i32 = 3;

impl Grains {
    pub(super) fn scatter(stone: &Stone, width_px: f64, height_px: f64, um_per_px: f64, seed: u64) -> Self {
        let mut rng = Pcg64::seed_from_u64(seed);
        let cell_px = (stone.grain_um / um_per_px).max(3.0);
        let columns = (width_px / cell_px).ceil() as i32 + 2 * REACH + 1;
        let rows = (height_px / cell_px).ceil() as i32 + 2 * REACH + 1;
        let total: f64 = stone.minerals.iter().map(|m| m.share).sum();
        let mut all = Vec::with_capacity((columns * rows).max(0) as usize);
        for row in 0..rows {
            for column in 0..columns {
                let cell = [f64::from(column - REACH), f64::from(row - REACH)];
                all.push(grain(stone, cell, cell_px, total, &mut rng));
            }
        }
        let steepest = all.iter().map(|g| (g.metric[0] + g.metric[2]).sqrt()).fold(0.0, f32::max);
        let warp = Warp {
            key: rng.random(),
            amplitude: (stone.boundary_waviness * cell_px) as f32,
            length: (0.35 * cell_px) as f32,
        };
        Self { all, cell_px: cell_px as f32, columns, rows, warp, steepest }
    }

    /// Grains that can be first or second nearest anywhere within `radius` px of `(x, y)`.
    pub(super) fn candidates(&self, x: f32, y: f32, radius: f32, found: &mut Vec<u32>) {
        found.clear();
        let (column, row) =
            ((x / self.cell_px).floor() as i32 + REACH, (y / self.cell_px).floor() as i32 + REACH);
        let slack = self.steepest * (radius + 1.5 * self.warp.amplitude);
        let around = move |centre: i32, count: i32| (centre - REACH).max(0)..(centre + REACH + 1).min(count);
        let (mut first, mut second) = (f32::MAX, f32::MAX);
        let mut near = Vec::with_capacity(49);
        for r in around(row, self.rows) {
            for c in around(column, self.columns) {
                let index = (r * self.columns + c) as u32;
                let d = self.all.get(index as usize).map_or(f32::MAX, |g| g.distance(x, y));
                near.push((index, d));
                if d < first {
                    second = first;
                    first = d;
                } else if d < second {
                    second = d;
                }
            }
        }
        found.extend(near.iter().filter(|(_, d)| d - slack <= second + slack).map(|(index, _)| index));
    }

    /// The grain at `(x, y)` among `candidates`.
    pub(super) fn place(&self, x: f32, y: f32, candidates: &[u32]) -> Place {
        let w = &self.warp;
        let (u, v) = (x / w.length, y / w.length);
        let wx = x + w.amplitude * noise::fractal(w.key, u, v, 2);
        let wy = y + w.amplitude * noise::fractal(w.key ^ 0x77, u, v, 2);
        let (mut first, mut second) = ((0u32, f32::MAX), (0u32, f32::MAX));
        for &index in candidates {
            let d = self.all[index as usize].distance(wx, wy);
            if d < first.1 {
                second = first;
                first = (index, d);
            } else if d < second.1 {
                second = (index, d);
            }
        }
        // The difference of the two distances grows by about 1/r₁ + 1/r₂ per pixel across the boundary.
        let slope = 1.0 / self.all[first.0 as usize].radius + 1.0 / self.all[second.0 as usize].radius;
        Place { grain: first.0, next: second.0, edge_px: ((second.1 - first.1) / slope).min(1e6) }
    }
}

impl Grain {
    fn distance(&self, x: f32, y: f32) -> f32 {
        let (dx, dy) = (x - self.centre[0], y - self.centre[1]);
        (self.metric[0] * dx * dx + 2.0 * self.metric[1] * dx * dy + self.metric[2] * dy * dy).sqrt()
    }

    /// Centre, px, for tracing lines through the grain.
    pub(super) fn centre(&self) -> [f32; 2] {
        self.centre
    }
}

fn grain(stone: &Stone, cell: [f64; 2], cell_px: f64, total: f64, rng: &mut Pcg64) -> Grain {
    let mut normal = || -> f64 { StandardNormal.sample(rng) };
    let (size, tone, level) = (normal(), normal(), normal());
    let mut pick = rng.random::<f64>() * total;
    let mut mineral = 0;
    for (index, m) in stone.minerals.iter().enumerate() {
        mineral = index;
        pick -= m.share;
        if pick < 0.0 {
            break;
        }
    }
    let m = &stone.minerals[mineral];
    // Limited so that no grain reaches beyond the cells that are searched.
    let radius = 0.5 * cell_px * (m.size * (stone.grain_spread * size).exp()).clamp(0.3, 2.0);
    let angle: f64 = rng.random::<f64>() * std::f64::consts::PI;
    let (long, short) = (radius * m.elongation.sqrt(), radius / m.elongation.sqrt());
    let (sin, cos) = angle.sin_cos();
    let (p, q) = (1.0 / (long * long), 1.0 / (short * short));
    let metric = [p * cos * cos + q * sin * sin, (p - q) * cos * sin, p * sin * sin + q * cos * cos];
    Grain {
        centre: [0, 1].map(|k| ((cell[k] + rng.random::<f64>()) * cell_px) as f32),
        metric: metric.map(|v| v as f32),
        radius: radius as f32,
        mineral: mineral as u8,
        tone: (m.grey_spread * tone).exp() as f32,
        level_um: (m.relief_um * (1.0 + 0.35 * level)) as f32,
        angle: angle as f32,
        dice: [rng.random(), rng.random(), rng.random(), rng.random()],
        key: rng.random(),
    }
}
