//! Simulated fields with known truth: strokes strewn or laid out over a surface, seen through the frame of a picture.

#![allow(dead_code, reason = "every test file uses a part of this")]
#![allow(clippy::unwrap_used, reason = "the laws here are given")]

use std::f64::consts::{PI, TAU};

use lay::{Field, Item};
use quantity::{AxialDeg, Measured};
use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, Exp1, Poisson, StandardNormal};
use rand_pcg::Pcg64;

/// How long strokes are.
#[derive(Clone, Copy)]
pub enum Lengths {
    Exponential,
    Fixed,
    /// Log-normal with this standard deviation of the logarithm.
    LogNormal(f64),
}

/// How strokes lie beside each other.
#[derive(Clone, Copy)]
pub enum Layout {
    Strewn,
    /// Evenly spaced along the normal, each place shifted by this share of the spacing (standard deviation).
    Feed(f64),
}

/// One set of strokes on the surface.
#[derive(Clone, Copy)]
pub struct Strokes {
    pub axis_deg: f64,
    /// Concentration of the doubled angles.
    pub kappa: f64,
    pub mean_length_px: f64,
    pub lengths: Lengths,
    pub layout: Layout,
    /// Mean spacing along the normal, px.
    pub spacing_px: f64,
}

pub const WIDTH_PX: f64 = 1200.0;
pub const HEIGHT_PX: f64 = 900.0;

pub fn rng(seed: u64) -> Pcg64 {
    Pcg64::seed_from_u64(seed)
}

/// A von Mises angle about zero, by rejection from the even law under its peak (Gaussian envelope for strong ones).
pub fn von_mises(kappa: f64, rng: &mut Pcg64) -> f64 {
    loop {
        let angle = if kappa < 2.0 {
            TAU * rng.random::<f64>() - PI
        } else {
            // cos t − 1 ≤ −2t²/π² on the circle: a normal law of variance π²/(4κ) lies above.
            let z: f64 = StandardNormal.sample(rng);
            z * PI / (2.0 * kappa.sqrt())
        };
        let envelope = if kappa < 2.0 { 0.0 } else { -2.0 * angle * angle / (PI * PI) };
        if angle.abs() <= PI && rng.random::<f64>() < (kappa * (angle.cos() - 1.0 - envelope)).exp() {
            return angle;
        }
    }
}

fn length(strokes: &Strokes, rng: &mut Pcg64) -> f64 {
    let relative = match strokes.lengths {
        Lengths::Fixed => 1.0,
        Lengths::Exponential => Exp1.sample(rng),
        Lengths::LogNormal(s) => {
            let z: f64 = StandardNormal.sample(rng);
            (s * z - 0.5 * s * s).exp()
        }
    };
    strokes.mean_length_px * relative
}

/// The field and what it shows of the strokes of all sets.
pub fn field(sets: &[Strokes], rng: &mut Pcg64) -> Field {
    let items = sets.iter().flat_map(|strokes| seen(strokes, rng)).collect();
    Field { station: 0, width_px: WIDTH_PX, height_px: HEIGHT_PX, um_per_px: None, items }
}

fn seen(strokes: &Strokes, rng: &mut Pcg64) -> Vec<Item> {
    let longest = match strokes.lengths {
        Lengths::Fixed => strokes.mean_length_px,
        _ => 12.0 * strokes.mean_length_px,
    };
    let along = WIDTH_PX.hypot(HEIGHT_PX) + longest;
    // A turned stroke reaches sideways too.
    let across = WIDTH_PX.hypot(HEIGHT_PX) + if strokes.kappa > 1e5 { 0.0 } else { longest };
    let count = along * across / (strokes.spacing_px * strokes.mean_length_px);
    let centres: Vec<(f64, f64)> = match strokes.layout {
        Layout::Strewn => {
            let number = Poisson::new(count).unwrap().sample(rng) as usize;
            (0..number)
                .map(|_| ((rng.random::<f64>() - 0.5) * along, (rng.random::<f64>() - 0.5) * across))
                .collect()
        }
        Layout::Feed(jitter) => {
            // Each place of the feed carries strokes end to end, so that every transect meets it once.
            let places = (across / strokes.spacing_px).ceil() as i64;
            let first = rng.random::<f64>();
            let mut centres = Vec::new();
            for place in -places / 2..=places / 2 {
                let z: f64 = StandardNormal.sample(rng);
                centres.push((0.0, (place as f64 + first + jitter * z) * strokes.spacing_px));
            }
            centres
        }
    };
    centres.into_iter().filter_map(|(along, across)| item(strokes, along, across, rng)).collect()
}

fn item(strokes: &Strokes, along: f64, across: f64, rng: &mut Pcg64) -> Option<Item> {
    let direction = AxialDeg::new(strokes.axis_deg + 0.5 * von_mises(strokes.kappa, rng).to_degrees())?;
    let (ax, ay) = AxialDeg::new(strokes.axis_deg)?.pixel_step();
    let centre = [0.5 * WIDTH_PX + along * ax - across * ay, 0.5 * HEIGHT_PX + along * ay + across * ax];
    let (dx, dy) = direction.pixel_step();
    let half = 0.5 * length(strokes, rng);
    let mut span = [-half, half];
    for (middle, step, size) in [(centre[0], dx, WIDTH_PX), (centre[1], dy, HEIGHT_PX)] {
        if step.abs() < 1e-12 {
            if middle < 0.0 || middle > size {
                return None;
            }
            continue;
        }
        let (a, b) = ((0.0 - middle) / step, (size - middle) / step);
        span = [span[0].max(a.min(b)), span[1].min(a.max(b))];
    }
    if span[1] <= span[0] {
        return None;
    }
    let at = |t: f64| [centre[0] + t * dx, centre[1] + t * dy];
    Some(Item {
        direction,
        direction_u_deg: 0.1,
        length_px: span[1] - span[0],
        curvature_per_px: Measured { value: 0.0, u: 1e-5 },
        width_px: Measured { value: 2.0, u: 0.2 },
        ends_inside: u8::from(span[0] == -half) + u8::from(span[1] == half),
        start_px: at(span[0]),
        end_px: at(span[1]),
    })
}

/// Runs `one` for `number` seeds on all cores and returns what it gave, in order.
pub fn simulate<T: Send>(number: u64, one: impl Fn(Pcg64) -> Option<T> + Sync) -> Vec<T> {
    use rayon::prelude::*;
    let all: Vec<Option<T>> = (0..number).into_par_iter().map(|seed| one(rng(0x5eed_0000 + seed))).collect();
    all.into_iter().flatten().collect()
}
