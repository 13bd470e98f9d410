//! Centre lines of grooves on one picture, in pixels before any lens.

use std::f64::consts::{PI, TAU};

use rand::RngExt;
use rand_distr::{Distribution, StandardNormal};
use rand_pcg::Pcg64;

/// Points of one centre line, px.
pub type Line = Vec<[f64; 2]>;

/// Size of the picture that lines are drawn on, px.
#[derive(Debug, Clone, Copy)]
pub struct Page {
    /// Width, px.
    pub width: f64,
    /// Height, px.
    pub height: f64,
}

impl Page {
    fn anywhere(self, rng: &mut Pcg64) -> [f64; 2] {
        [rng.random::<f64>() * self.width, rng.random::<f64>() * self.height]
    }

    fn diagonal(self) -> f64 {
        self.width.hypot(self.height)
    }
}

/// Standard normal draw.
pub fn normal(rng: &mut Pcg64) -> f64 {
    StandardNormal.sample(rng)
}

/// Draw between two positive bounds, even on the logarithm.
pub fn between(low: f64, high: f64, rng: &mut Pcg64) -> f64 {
    low * (high / low).powf(rng.random::<f64>())
}

/// Path of given length through `middle`, direction and curvature there (angles counter-clockwise as seen).
pub fn bowed(middle: [f64; 2], angle: f64, curvature: f64, length: f64) -> Line {
    let steps = (length / 3.0).ceil().max(4.0) as usize;
    (0..=steps)
        .map(|k| {
            let s = length * (k as f64 / steps as f64 - 0.5);
            // Chord from the middle to arc length s: length s·sinc(κs/2), turned by κs/2.
            let half = 0.5 * curvature * s;
            let chord = if half.abs() < 1e-9 { s } else { s * half.sin() / half };
            [middle[0] + chord * (angle + half).cos(), middle[1] - chord * (angle + half).sin()]
        })
        .collect()
}

/// Straight strokes about one direction.
pub fn straight(
    page: Page,
    count: usize,
    angle: f64,
    spread: f64,
    length: [f64; 2],
    rng: &mut Pcg64,
) -> Vec<Line> {
    (0..count)
        .map(|_| {
            let a = angle + spread * normal(rng);
            bowed(page.anywhere(rng), a, 0.0, between(length[0], length[1], rng))
        })
        .collect()
}

/// Strokes of a feed: evenly spaced, nearly through the whole picture.
pub fn feed(page: Page, pitch: f64, angle: f64, rng: &mut Pcg64) -> Vec<Line> {
    let half = 0.5 * page.diagonal();
    let centre = [0.5 * page.width, 0.5 * page.height];
    let count = (2.0 * half / pitch) as i32;
    let kept: Vec<i32> = (-count / 2..=count / 2).filter(|_| rng.random::<f64>() < 0.85).collect();
    kept.into_iter()
        .map(|k| {
            let off = f64::from(k) * pitch + 0.12 * pitch * normal(rng);
            let along = 0.25 * half * normal(rng);
            let middle = [
                centre[0] - off * angle.sin() + along * angle.cos(),
                centre[1] - off * angle.cos() - along * angle.sin(),
            ];
            bowed(middle, angle + 0.004 * normal(rng), 0.0, between(0.9 * half, 2.4 * half, rng))
        })
        .collect()
}

/// Arcs of a turning pad: radii about one size, centres strewn about one place.
pub fn arcs(
    page: Page,
    count: usize,
    radius: f64,
    angle: f64,
    spread: f64,
    length: [f64; 2],
    rng: &mut Pcg64,
) -> Vec<Line> {
    (0..count)
        .map(|_| {
            let own = radius * (0.15 * normal(rng)).exp();
            let sense = if rng.random::<f64>() < 0.85 { 1.0 } else { -1.0 };
            let longest = (0.9 * TAU * own).min(length[1]);
            let l = between(length[0].min(0.5 * longest), longest, rng);
            bowed(page.anywhere(rng), angle + spread * normal(rng), sense / own, l)
        })
        .collect()
}

/// Small loops of an orbiting pad.
pub fn loops(page: Page, count: usize, radius: f64, rng: &mut Pcg64) -> Vec<Line> {
    (0..count)
        .map(|_| {
            let from = page.anywhere(rng);
            let own = radius * (0.2 * normal(rng)).exp();
            let (drift, phase) = (rng.random::<f64>() * TAU, rng.random::<f64>() * TAU);
            let advance = own * (0.05 + 0.35 * rng.random::<f64>());
            let turn = TAU * (0.5 + 1.8 * rng.random::<f64>());
            let steps = (turn * own / 3.0).ceil().max(12.0) as usize;
            (0..=steps)
                .map(|k| {
                    let a = turn * k as f64 / steps as f64;
                    [
                        from[0] + own * (phase + a).cos() + advance * a * drift.cos(),
                        from[1] - own * (phase + a).sin() - advance * a * drift.sin(),
                    ]
                })
                .collect()
        })
        .collect()
}

/// Free-hand strokes: direction and bend wander slowly.
pub fn free_hand(
    page: Page,
    count: usize,
    angle: f64,
    spread: f64,
    length: [f64; 2],
    rng: &mut Pcg64,
) -> Vec<Line> {
    (0..count)
        .map(|_| {
            let mut at = page.anywhere(rng);
            let mut heading = angle + spread * normal(rng) + if rng.random::<bool>() { PI } else { 0.0 };
            let mut bend = 0.0008 * normal(rng);
            let steps = (between(length[0], length[1], rng) / 3.0).max(4.0) as usize;
            (0..steps)
                .map(|_| {
                    bend += 0.000_06 * normal(rng) - 0.01 * bend;
                    heading += 3.0 * bend;
                    at = [at[0] + 3.0 * heading.cos(), at[1] - 3.0 * heading.sin()];
                    at
                })
                .collect()
        })
        .collect()
}
