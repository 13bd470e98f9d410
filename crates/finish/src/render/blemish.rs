//! Pits, cracks and stray fibres: what else a micrograph of stone shows.

use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, StandardNormal};
use rand_pcg::Pcg64;

use super::ground::{Ground, kind_bit};
use super::noise;
use super::stone::{LineKind, Stone};

/// A fibre: hides what is under it.
pub(super) struct Fibre {
    pub(super) points: Vec<[f64; 2]>,
    pub(super) half_width_px: f32,
    /// Radiance of the fibre itself.
    pub(super) radiance: f32,
    pub(super) opacity: f32,
}

/// Cracks and fibres as drawn, px.
pub(super) struct Blemishes {
    pub(super) cracks: Vec<Vec<[f64; 2]>>,
    pub(super) fibres: Vec<Fibre>,
}

/// Scatters pits, cracks and fibres; pits and cracks are cut into `ground` at once.
pub(super) fn scatter(stone: &Stone, ground: &mut Ground, seed: u64) -> Blemishes {
    let mut rng = Pcg64::seed_from_u64(seed);
    let area_mm2 = (ground.width * ground.height) as f64 * (ground.um_per_px / 1000.0).powi(2);
    for _ in 0..count(stone.pits_per_mm2 * area_mm2, &mut rng) {
        pit(stone.pit_um, ground, &mut rng);
    }
    let cracks: Vec<Vec<[f64; 2]>> =
        (0..count(stone.cracks_per_mm2 * area_mm2, &mut rng)).map(|_| crack(ground, &mut rng)).collect();
    let fibres: Vec<Fibre> =
        (0..count(stone.fibres_per_mm2 * area_mm2, &mut rng)).map(|_| fibre(ground, &mut rng)).collect();
    for f in &fibres {
        let around = f64::from(f.half_width_px) + 1.0;
        along(&f.points, around, ground, |ground, at, _| ground.kinds[at] |= kind_bit(LineKind::Fibre));
    }
    Blemishes { cracks, fibres }
}

/// A count of given mean: the whole part and, by chance, one more.
fn count(mean: f64, rng: &mut Pcg64) -> usize {
    (mean + rng.random::<f64>()).floor().clamp(0.0, 1e6) as usize
}

fn normal(rng: &mut Pcg64) -> f64 {
    StandardNormal.sample(rng)
}

fn anywhere(ground: &Ground, rng: &mut Pcg64) -> [f64; 2] {
    [rng.random::<f64>() * ground.width as f64, rng.random::<f64>() * ground.height as f64]
}

/// A ragged hollow, darker at its floor, sometimes filled with pale dust.
fn pit(diameter_um: f64, ground: &mut Ground, rng: &mut Pcg64) {
    let centre = anywhere(ground, rng);
    let radius = (0.5 * diameter_um * (0.55 * normal(rng)).exp() / ground.um_per_px).clamp(0.6, 60.0);
    let (stretch, angle) = (1.0 + 0.8 * rng.random::<f64>(), rng.random::<f64>() * std::f64::consts::PI);
    let key: u32 = rng.random();
    let tone = if rng.random::<f64>() < 0.2 { 1.5 } else { 0.45 + 0.4 * rng.random::<f64>() } as f32;
    let (sin, cos) = angle.sin_cos();
    let reach = (radius * 1.9 * stretch).ceil();
    let clamp = |v: f64, end: usize| v.clamp(0.0, end as f64) as usize;
    for y in clamp(centre[1] - reach, ground.height)..clamp(centre[1] + reach + 1.0, ground.height) {
        for x in clamp(centre[0] - reach, ground.width)..clamp(centre[0] + reach + 1.0, ground.width) {
            let (dx, dy) = (x as f64 - centre[0], y as f64 - centre[1]);
            let (u, v) = ((dx * cos + dy * sin) / stretch, dy * cos - dx * sin);
            let ragged =
                1.0 + 0.45 * f64::from(noise::fractal(key, (dx / radius) as f32, (dy / radius) as f32, 3));
            let r = u.hypot(v) / (radius * ragged);
            if r < 1.0 {
                let inside = (((1.0 - r) * radius) as f32).min(1.0);
                let at = y * ground.width + x;
                ground.grey[at] *= 1.0 + (tone - 1.0) * inside;
                ground.level[at] -= (0.35 * radius * (1.0 - r * r)) as f32;
                ground.kinds[at] |= kind_bit(LineKind::Pit);
            }
        }
    }
}

/// A wandering dark line across grains.
fn crack(ground: &mut Ground, rng: &mut Pcg64) -> Vec<[f64; 2]> {
    let mut at = anywhere(ground, rng);
    let mut heading = rng.random::<f64>() * std::f64::consts::TAU;
    let main = heading;
    let length_px = 150.0 + 500.0 * rng.random::<f64>();
    let half_width = (2.0 * (0.4 * normal(rng)).exp() / ground.um_per_px).clamp(0.5, 2.5);
    let mut points = vec![at];
    for step in 0..(length_px / 4.0) as usize {
        // Turns at every grain or so, but keeps to its course on the whole.
        let kick = if step % 6 == 0 { 0.35 } else { 0.08 };
        heading += kick * normal(rng) - 0.1 * (heading - main);
        at = [at[0] + 4.0 * heading.cos(), at[1] - 4.0 * heading.sin()];
        points.push(at);
    }
    along(&points, 3.0 * half_width, ground, |ground, at, distance| {
        let near = (-(distance / half_width).powi(2)).exp() as f32;
        ground.grey[at] *= 1.0 - 0.5 * near;
        ground.level[at] -= 0.6 * near * half_width as f32;
        ground.kinds[at] |= kind_bit(LineKind::Crack);
    });
    points
}

/// A textile fibre: a smooth curve.
fn fibre(ground: &Ground, rng: &mut Pcg64) -> Fibre {
    let mut at = anywhere(ground, rng);
    let mut heading = rng.random::<f64>() * std::f64::consts::TAU;
    let mut bend = 0.004 * normal(rng);
    let mut points = vec![at];
    for _ in 0..(30.0 + 150.0 * rng.random::<f64>()) as usize {
        bend += 0.0012 * normal(rng) - 0.03 * bend;
        heading += 4.0 * bend;
        at = [at[0] + 4.0 * heading.cos(), at[1] - 4.0 * heading.sin()];
        points.push(at);
    }
    Fibre {
        points,
        half_width_px: (6.0 * (0.3 * normal(rng)).exp() / ground.um_per_px).clamp(0.7, 6.0) as f32,
        radiance: if rng.random::<f64>() < 0.6 { 0.65 } else { 0.1 },
        opacity: 0.45 + 0.4 * rng.random::<f32>(),
    }
}

/// Calls `mark(ground, pixel, distance)` once or more for every pixel within `reach` of the line.
fn along(
    points: &[[f64; 2]],
    reach: f64,
    ground: &mut Ground,
    mut mark: impl FnMut(&mut Ground, usize, f64),
) {
    for (at, distance) in pixels_near(points, reach, ground.width, ground.height) {
        mark(ground, at, distance);
    }
}

/// Pixels within `reach` of a line with their distance to it, each once, in the order of the line.
pub(super) fn pixels_near(points: &[[f64; 2]], reach: f64, width: usize, height: usize) -> Vec<(usize, f64)> {
    let mut nearest = std::collections::BTreeMap::new();
    for pair in points.windows(2) {
        let [a, b] = [pair[0], pair[1]];
        let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
        let length2 = (dx * dx + dy * dy).max(1e-12);
        let range = |p: f64, q: f64, end: usize| {
            let low = (p.min(q) - reach).floor().clamp(0.0, end as f64) as usize;
            let high = (p.max(q) + reach + 1.0).ceil().clamp(0.0, end as f64) as usize;
            low..high
        };
        for y in range(a[1], b[1], height) {
            for x in range(a[0], b[0], width) {
                let (px, py) = (x as f64 - a[0], y as f64 - a[1]);
                let s = ((px * dx + py * dy) / length2).clamp(0.0, 1.0);
                let distance = (px - s * dx).hypot(py - s * dy);
                if distance <= reach {
                    let held = nearest.entry(y * width + x).or_insert(distance);
                    *held = held.min(distance);
                }
            }
        }
    }
    nearest.into_iter().collect()
}
