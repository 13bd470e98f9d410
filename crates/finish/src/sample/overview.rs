//! The overview photograph of the sample object: a turned ring stand on a grey cloth, drawn by marching rays.

use picture::Grey;
use rayon::prelude::*;

use crate::render::{Sensor, Tone, blurred, exposed, mottle};

/// Width and height of the photograph, px.
pub const SIZE_PX: [usize; 2] = [1600, 1100];
/// Scale of the photograph, px per centimetre of the object.
const PX_PER_CM: f64 = 44.0;
/// The camera looks down at this angle, degrees.
const LOOK_DOWN_DEG: f64 = 32.0;
/// Height of the object's middle above the cloth, cm.
const MIDDLE_CM: f64 = 4.5;
/// Ray steps: enough for the flattest view of the rim.
const STEPS: usize = 90;

/// A point of the object: cm, z upwards from the cloth.
type Point = [f64; 3];

/// The photograph.
#[must_use]
pub fn photograph(seed: u32) -> Option<Grey> {
    let [width, height] = SIZE_PX;
    let light: Vec<f32> = (0..width * height)
        .into_par_iter()
        .map(|at| shade((at % width) as f64, (at / width) as f64, seed))
        .collect();
    let sensor = Sensor {
        full_well: 15_000.0,
        read_electrons: 6.0,
        mosaic: true,
        row_noise: 0.0,
        tone: Tone::Srgb,
        jpeg_quality: None,
    };
    let values = exposed(&blurred(light, width, 0.9), SIZE_PX, &sensor, seed);
    Grey::new(width, height, values)
}

/// Where a point at `bearing_deg` about the axis and `z_cm` above the cloth is seen, px; on the outer face at that
/// height, or on the upper face at `radius_cm` where one is given.
#[must_use]
pub fn seen_at(bearing_deg: f64, z_cm: f64, radius_cm: Option<f64>) -> [f64; 2] {
    let radius = radius_cm.unwrap_or_else(|| outer_radius(z_cm));
    let (sin, cos) = bearing_deg.to_radians().sin_cos();
    project([radius * cos, radius * sin, z_cm])
}

fn outer_radius(z_cm: f64) -> f64 {
    // Inwards from far outside until the surface is met.
    let mut radius = 20.0;
    for _ in 0..STEPS {
        radius -= distance([radius, 0.0, z_cm]).max(0.0);
    }
    radius
}

/// Axes of the camera: right, up on the picture, towards the camera. The camera stands at −y.
fn camera() -> [Point; 3] {
    let (sin, cos) = LOOK_DOWN_DEG.to_radians().sin_cos();
    [[1.0, 0.0, 0.0], [0.0, sin, cos], [0.0, -cos, sin]]
}

fn project(p: Point) -> [f64; 2] {
    let [right, up, _] = camera();
    let q = [p[0], p[1], p[2] - MIDDLE_CM];
    [0.5 * SIZE_PX[0] as f64 + PX_PER_CM * dot(q, right), 0.5 * SIZE_PX[1] as f64 - PX_PER_CM * dot(q, up)]
}

fn dot(a: Point, b: Point) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// Signed distance to the ring stand: a foot, a waist and a dished rim, all turned about the z axis and hollow inside.
fn distance(p: Point) -> f64 {
    let r = p[0].hypot(p[1]);
    let block = |r0: f64, z0: f64, half_r: f64, half_z: f64, round: f64| {
        let (a, b) = ((r - r0).abs() - half_r + round, (p[2] - z0).abs() - half_z + round);
        a.max(0.0).hypot(b.max(0.0)) + a.max(b).min(0.0) - round
    };
    let foot = block(8.2, 1.0, 4.0, 1.0, 0.35);
    let waist = block(7.3, 4.4, 1.4, 3.4, 0.6);
    let rim = block(9.4, 8.0, 3.9, 0.8, 0.45);
    join(join(foot, waist), rim)
}

/// Smooth union: fillets of about 1.4 cm, the undercuts of the stand.
fn join(a: f64, b: f64) -> f64 {
    let fillet = 1.4;
    let h = (0.5 + 0.5 * (b - a) / fillet).clamp(0.0, 1.0);
    b + (a - b) * h - fillet * h * (1.0 - h)
}

fn normal(p: Point) -> Point {
    let e = 0.01;
    let along = |k: usize| {
        let (mut a, mut b) = (p, p);
        a[k] += e;
        b[k] -= e;
        distance(a) - distance(b)
    };
    let n = [along(0), along(1), along(2)];
    let length = dot(n, n).sqrt().max(1e-12);
    n.map(|v| v / length)
}

/// Walks from `from` along `way` until the stand is met.
fn march(from: Point, way: Point, reach: f64) -> Option<Point> {
    let mut travelled = 0.0;
    for _ in 0..STEPS {
        let p = [0, 1, 2].map(|k| from[k] + travelled * way[k]);
        let d = distance(p);
        if d < 0.004 {
            return Some(p);
        }
        travelled += d;
        if travelled > reach {
            return None;
        }
    }
    None
}

/// Direction to the lamp: from the upper left, in front.
fn lamp() -> Point {
    let l = [-0.55, -0.45, 0.70];
    let length = dot(l, l).sqrt();
    l.map(|v: f64| v / length)
}

fn shade(x: f64, y: f64, seed: u32) -> f32 {
    let [right, up, towards] = camera();
    let (u, v) = ((x - 0.5 * SIZE_PX[0] as f64) / PX_PER_CM, (0.5 * SIZE_PX[1] as f64 - y) / PX_PER_CM);
    let middle = [0.0, 0.0, MIDDLE_CM];
    let start = [0, 1, 2].map(|k| middle[k] + u * right[k] + v * up[k] + 40.0 * towards[k]);
    let way = towards.map(|t| -t);
    match march(start, way, 90.0) {
        Some(p) if p[2] > 0.0 => stone(p, towards, seed),
        _ => cloth(start, way, seed),
    }
}

fn stone(p: Point, towards: Point, seed: u32) -> f32 {
    let (n, l) = (normal(p), lamp());
    let lit = if march([0, 1, 2].map(|k| p[k] + 0.05 * n[k]), l, 40.0).is_some() { 0.25 } else { 1.0 };
    let half = [0, 1, 2].map(|k| l[k] + towards[k]);
    let gloss = (dot(n, half) / dot(half, half).sqrt()).max(0.0).powi(60);
    // Speckles of about a millimetre and a half, dark mineral on pale.
    // Two slanted sections through the grain, so that no face lies along both.
    let section = |a: f64, b: f64, key: u32| mottle(seed ^ key, (7.0 * a) as f32, (7.0 * b) as f32);
    let speck = 0.7
        * (section(p[0] + 0.61 * p[2], p[1] - 0.43 * p[2], 0)
            + section(p[2] + 0.37 * p[1], p[0] - 0.5 * p[1], 9));
    let grey = 0.16 + 0.16 * f64::from((4.0 * speck).clamp(-0.6, 1.0));
    (grey * (0.25 + 0.75 * lit * dot(n, l).max(0.0)) + 0.30 * lit * gloss) as f32
}

fn cloth(start: Point, way: Point, seed: u32) -> f32 {
    let travelled = -start[2] / way[2];
    let p = [0, 1, 2].map(|k| start[k] + travelled * way[k]);
    let lit = if march([p[0], p[1], 0.02], lamp(), 40.0).is_some() { 0.45 } else { 1.0 };
    // Darker close under the foot.
    let close = (distance(p).max(0.0) / 3.0).min(1.0);
    let weave = f64::from(mottle(seed ^ 0x33, (p[0] * 22.0) as f32, (p[1] * 22.0) as f32));
    (0.34 * lit * (0.6 + 0.4 * close) * (1.0 + 0.05 * weave)) as f32
}
