//! Traces that lie on no stroke: lines of the stone, and paths pieced together from several strokes.

use crate::geometry::FieldGeometry;
use crate::mark::resample_part;
use crate::nuisance::Nuisance;
use crate::see::Seen;
use crate::tracer::{Effects, Off, Strays, Tracer};
use finish::models::{any_angle, normal};
use rand::RngExt;
use rand_pcg::Pcg64;

/// Adds the strays of one picture at random places among what was found.
pub(crate) fn add(
    seen: &mut Vec<Seen>,
    field: &FieldGeometry,
    effects: &Effects,
    nuisance: &Nuisance,
    rng: &mut Pcg64,
) {
    let strays = &Tracer::MEASURED.strays;
    let headings: Vec<f64> = seen.iter().map(heading).collect();
    let of_stone = strays.stone[0] * (strays.stone[1] * effects.strays).exp();
    let lamellae = nuisance.lamella_share * seen.len() as f64;
    let pieced = strays.pieced_per_found * (seen.len() as f64 - FREE_OF_PIECED).max(0.0);
    let along = any_angle(rng);
    for _ in 0..poisson(of_stone, rng) {
        put(seen, stray(strays, 0, any_angle(rng), field, rng), rng);
    }
    for _ in 0..poisson(lamellae, rng) {
        let direction = along + LAMELLA_SPREAD_RAD * normal(rng);
        put(seen, stray(strays, 0, direction, field, rng), rng);
    }
    for _ in 0..poisson(pieced, rng) {
        let Some(near) = headings.get(rng.random_range(0..headings.len())) else { break };
        let direction = near + strays.off_deg.to_radians() * normal(rng);
        put(seen, stray(strays, 1, direction, field, rng), rng);
    }
}

/// Found strokes of a picture among which hardly any path is pieced together.
const FREE_OF_PIECED: f64 = 10.0;
/// Spread of the directions of lamellae of one crystal (common practice, no source).
const LAMELLA_SPREAD_RAD: f64 = 0.03;

fn heading(seen: &Seen) -> f64 {
    let (first, last) = (seen.even[0], seen.even[seen.even.len() - 1]);
    (last[1] - first[1]).atan2(last[0] - first[0])
}

fn put(seen: &mut Vec<Seen>, stray: Option<Seen>, rng: &mut Pcg64) {
    if let Some(stray) = stray {
        let place = rng.random_range(0..=seen.len());
        seen.insert(place, stray);
    }
}

/// One stray of a kind (0 of the stone, 1 pieced together) at a random place.
fn stray(
    strays: &Strays,
    kind: usize,
    direction: f64,
    field: &FieldGeometry,
    rng: &mut Pcg64,
) -> Option<Seen> {
    let [median, spread] = strays.length_px[kind];
    let whole = median * (spread * normal(rng)).exp() * field.mm_per_px;
    let (sin, cos) = direction.sin_cos();
    let half = [0.5 * field.width_mm, 0.5 * field.height_mm];
    let at = half.map(|half| (2.0 * rng.random::<f64>() - 1.0) * half);
    // From its place on either way, as far as the picture goes.
    let room = |sense: f64| {
        let to_border = |at: f64, step: f64, half: f64| (half - at * step.signum()) / step.abs().max(1e-9);
        (0.5 * whole).min(to_border(at[0], sense * cos, half[0])).min(to_border(at[1], sense * sin, half[1]))
    };
    let (back, on) = (room(-1.0), room(1.0));
    let ends = [[at[0] - back * cos, at[1] - back * sin], [at[0] + on * cos, at[1] + on * sin]];
    let (even, length_mm) = resample_part(&ends, [0.0, f64::INFINITY])?;
    let length_px = length_mm / field.mm_per_px;
    let [width, width_spread] = strays.width_px;
    let [bow, cubic] = strays.bent[kind].map(|share| share * length_px * normal(rng));
    let scatter = strays.scatter[kind] * length_px * (SCATTER_LN_SD * normal(rng)).exp();
    Some(Seen {
        even,
        length_mm,
        width_px: width * (width_spread * normal(rng)).exp(),
        off: Off { shape: [0.0, bow, cubic], scatter },
    })
}

/// Standard deviation of the logarithm of the scatter of strays, as of other traces.
const SCATTER_LN_SD: f64 = 0.7;

/// Number of a Poisson process with this mean.
fn poisson(mean: f64, rng: &mut Pcg64) -> usize {
    let mut left = mean;
    let mut n = 0;
    loop {
        left += (1.0 - rng.random::<f64>()).ln();
        if left < 0.0 {
            return n;
        }
        n += 1;
    }
}
