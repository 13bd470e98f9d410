//! How traces lie to each other: a common centre of turning, and distances between neighbours.

use super::stats::{
    bend, length, mean, median, quantile, resultant, slope, sorted, spread, turn_between, weighted_mean,
};
use super::{Field, Group, Part};
use crate::mark::Mark;
use std::f64::consts::TAU;

pub const PART: Part<13> = Part([
    ("distance of the common centre", Group::Centre, false),
    ("closeness to the common centre", Group::Centre, true),
    ("radius over distance of the centre", Group::Centre, false),
    ("turning of direction along the set", Group::Centre, true),
    ("distance of the centre most traces share", Group::Centre, false),
    ("closeness to the centre most traces share", Group::Centre, true),
    ("curvature against distance from the centre most traces share", Group::Centre, false),
    ("share of direction that place explains", Group::Centre, false),
    ("evenness of the gaps in the main set", Group::Spacing, true),
    ("smallest gaps over the mean gap", Group::Spacing, true),
    ("regular repetition of the gaps", Group::Spacing, false),
    ("median gap between parallel neighbours", Group::Spacing, false),
    ("evenness of gaps between parallel neighbours", Group::Spacing, false),
]);

pub fn observe(field: &Field<'_>) -> [f64; 13] {
    let mut o = [f64::NAN; 13];
    if field.marks.len() < 5 {
        return o;
    }
    let plain = centre(field);
    let shared = shared_centre(field);
    o[..4].copy_from_slice(&plain);
    o[4..7].copy_from_slice(&shared);
    o[7] = explained_by_place(field);
    o[8..11].copy_from_slice(&gaps(field));
    o[11..].copy_from_slice(&parallel_gaps(field));
    o
}

/// The point nearest to the normals of all traces, each with a weight; `None` if they are parallel.
fn meeting_of_normals<'a>(marks: impl Iterator<Item = (&'a Mark, f64)>) -> Option<[f64; 2]> {
    let (mut a, mut b, mut d, mut p, mut q) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for (m, weight) in marks {
        let (ty, tx) = m.direction_rad.sin_cos();
        let along = tx * m.at_mm[0] + ty * m.at_mm[1];
        a += weight * tx * tx;
        b += weight * tx * ty;
        d += weight * ty * ty;
        p += weight * tx * along;
        q += weight * ty * along;
    }
    let determinant = a * d - b * b;
    (determinant > 1e-9).then(|| [(d * p - b * q) / determinant, (a * q - b * p) / determinant])
}

/// Sine of the angle by which a trace misses being an arc about `centre`.
fn miss(m: &Mark, centre: [f64; 2]) -> f64 {
    let (dx, dy) = (m.at_mm[0] - centre[0], m.at_mm[1] - centre[1]);
    let (ty, tx) = m.direction_rad.sin_cos();
    (dx * tx + dy * ty) / length(dx, dy).max(1e-9)
}

/// Common centre by least squares; how the direction turns along the main set.
fn centre(field: &Field<'_>) -> [f64; 4] {
    let (marks, sets) = (field.marks, &field.sets);
    let mut o = [f64::NAN; 4];
    if let Some(c) = meeting_of_normals(marks.iter().map(|m| (m, 1.0))) {
        let distance = length(c[0], c[1]).clamp(0.01 * field.width_mm, 3000.0 * field.width_mm);
        let off = mean(marks.iter().map(|m| miss(m, c).powi(2)));
        let free = (0.5 * (1.0 - resultant(marks, 2.0))).max(1e-8);
        let mean_bend = weighted_mean(marks, |m| m.curvature_per_mm.abs()).max(1e-7);
        o[0] = distance.ln();
        o[1] = 0.5 * (off.max(1e-8) / free).ln();
        o[2] = (distance * mean_bend).ln().clamp(-8.0, 8.0);
    }
    // Equal to the curvature where strokes share one centre.
    let (sin, cos) = sets.main_axis_rad.sin_cos();
    let pairs = sets
        .main_marks(marks)
        .map(|m| (m.at_mm[0] * cos + m.at_mm[1] * sin, turn_between(sets.main_axis_rad, m.direction_rad)));
    let signed = weighted_mean(marks, |m| sets.signed_bend(m));
    o[3] = (slope(pairs) / (signed.abs() + 0.02 / field.width_mm) * signed.signum()).clamp(-10.0, 10.0);
    o
}

/// Rounds of reweighting; the weights hardly change after the fifth.
const ROUNDS: usize = 6;

/// The centre that most traces share, foreign traces weighted down (Cauchy weights about the median miss).
fn shared_centre(field: &Field<'_>) -> [f64; 3] {
    let marks = field.marks;
    let mut weights = vec![1.0; marks.len()];
    let mut found = None;
    for _ in 0..ROUNDS {
        let Some(c) = meeting_of_normals(marks.iter().zip(weights.iter().copied())) else { break };
        found = Some(c);
        let misses: Vec<f64> = marks.iter().map(|m| miss(m, c).abs()).collect();
        let scale = 1.5 * median(misses.iter().copied()).max(1e-3);
        for ((weight, off), m) in weights.iter_mut().zip(&misses).zip(marks) {
            // Distances to the normals grow with the distance from the centre: angles are what is even.
            let radius = length(m.at_mm[0] - c[0], m.at_mm[1] - c[1]).max(0.05 * field.width_mm);
            *weight = 1.0 / ((1.0 + (off / scale).powi(2)) * radius * radius);
        }
        let most = weights.iter().copied().fold(0.0, f64::max).max(1e-300);
        weights.iter_mut().for_each(|weight| *weight /= most);
    }
    let Some(c) = found else { return [f64::NAN; 3] };
    let distance = length(c[0], c[1]).clamp(0.01 * field.width_mm, 3000.0 * field.width_mm);
    let middle_miss = median(marks.iter().map(|m| miss(m, c).abs())).max(1e-4);
    let agreement = median(marks.iter().map(|m| {
        let radius = length(m.at_mm[0] - c[0], m.at_mm[1] - c[1]);
        (bend(m) * radius).max(1e-6).ln().clamp(-8.0, 8.0)
    }));
    [distance.ln(), middle_miss.ln(), agreement]
}

/// Share of the variance of direction in the main set that a plane over the field explains, adjusted for chance.
fn explained_by_place(field: &Field<'_>) -> f64 {
    let sets = &field.sets;
    let n = sets.main.len() as f64;
    if n < 6.0 {
        return f64::NAN;
    }
    let rows: Vec<[f64; 3]> = sets
        .main_marks(field.marks)
        .map(|m| [m.at_mm[0], m.at_mm[1], turn_between(sets.main_axis_rad, m.direction_rad)])
        .collect();
    let centre = [0, 1, 2].map(|k: usize| mean(rows.iter().map(|row| row[k])));
    let product =
        |i: usize, j: usize| rows.iter().map(|row| (row[i] - centre[i]) * (row[j] - centre[j])).sum::<f64>();
    let (xx, xy, yy, xt, yt, tt) =
        (product(0, 0), product(0, 1), product(1, 1), product(0, 2), product(1, 2), product(2, 2));
    let determinant = xx * yy - xy * xy;
    if determinant <= 1e-12 * xx * yy || tt <= 0.0 {
        return f64::NAN;
    }
    let (bx, by) = ((yy * xt - xy * yt) / determinant, (xx * yt - xy * xt) / determinant);
    let left = (tt - bx * xt - by * yt).max(0.0) / tt;
    1.0 - left * (n - 1.0) / (n - 3.0)
}

/// Gaps of the main set along its normal, and whether they repeat at an even step.
fn gaps(field: &Field<'_>) -> [f64; 3] {
    let sets = &field.sets;
    let (sin, cos) = sets.main_axis_rad.sin_cos();
    let offsets = sorted(sets.main_marks(field.marks).map(|m| m.at_mm[1] * cos - m.at_mm[0] * sin));
    if offsets.len() < 5 {
        return [f64::NAN; 3];
    }
    let gaps = sorted(offsets.windows(2).map(|pair| pair[1] - pair[0]));
    let average = mean(gaps.iter().copied()).max(1e-9);
    [
        spread(gaps.iter().copied()) / average,
        (quantile(&gaps, 0.2) / average).max(1e-3).ln(),
        repetition(&crossings(field)),
    ]
}

/// Where the traces of the main set cross its normal through their middle, each carried there along the mean arc of the set.
fn crossings(field: &Field<'_>) -> Vec<f64> {
    let sets = &field.sets;
    let (sin, cos) = sets.main_axis_rad.sin_cos();
    let bend = median(sets.main_marks(field.marks).map(|m| sets.signed_bend(m)));
    let along = |m: &Mark| m.at_mm[0] * cos + m.at_mm[1] * sin;
    let middle = median(sets.main_marks(field.marks).map(along));
    sorted(sets.main_marks(field.marks).map(|m| {
        let s = along(m) - middle;
        let across = m.at_mm[1] * cos - m.at_mm[0] * sin;
        across - turn_between(sets.main_axis_rad, m.direction_rad).tan() * s + 0.5 * bend * s * s
    }))
}

/// Fewest and most steps that fit into the span of a set, and how finely the numbers between are tried.
const CYCLES: (f64, f64, f64) = (4.0, 50.0, 0.5);

/// Strongest Rayleigh statistic of the offsets over steps from a fiftieth to a quarter of their span, log.
fn repetition(offsets: &[f64]) -> f64 {
    let (Some(first), Some(last)) = (offsets.first(), offsets.last()) else { return f64::NAN };
    let span = last - first;
    if offsets.len() < 8 || span <= 0.0 {
        return f64::NAN;
    }
    let (from, to, by) = CYCLES;
    let phase = |cycles: f64, offset: f64| (TAU * cycles * (offset - first) / span).sin_cos();
    let mut waves: Vec<(f64, f64)> = offsets.iter().map(|offset| phase(from, *offset)).collect();
    let steps: Vec<(f64, f64)> = offsets.iter().map(|offset| phase(by, *offset)).collect();
    let mut best: f64 = 0.0;
    for _ in 0..=((to - from) / by) as usize {
        let (s, c) = waves.iter().fold((0.0, 0.0), |(s, c), wave| (s + wave.0, c + wave.1));
        best = best.max(s * s + c * c);
        for (wave, step) in waves.iter_mut().zip(&steps) {
            *wave = (wave.0 * step.1 + wave.1 * step.0, wave.1 * step.1 - wave.0 * step.0);
        }
    }
    (best / offsets.len() as f64).max(1e-3).ln()
}

/// How nearly parallel neighbours must run, radians (ours).
const PARALLEL_RAD: f64 = 0.1;

/// Distance from each trace to its nearest parallel neighbour beside it: median and evenness.
fn parallel_gaps(field: &Field<'_>) -> [f64; 2] {
    let marks = field.marks;
    let gaps = sorted((0..marks.len()).filter_map(|i| {
        let m = &marks[i];
        let (sin, cos) = m.direction_rad.sin_cos();
        let beside = marks.iter().enumerate().filter(|(j, other)| {
            *j != i && turn_between(m.direction_rad, other.direction_rad).abs() < PARALLEL_RAD
        });
        beside
            .filter_map(|(_, other)| {
                let (dx, dy) = (other.at_mm[0] - m.at_mm[0], other.at_mm[1] - m.at_mm[1]);
                let (along, across) = (dx * cos + dy * sin, dy * cos - dx * sin);
                let overlap = 0.5 * (m.length_mm + other.length_mm) - along.abs();
                let turn = turn_between(m.direction_rad, other.direction_rad);
                // Carried beside the middle of the trace along the neighbour's own arc and the trace's.
                let at_middle = across - turn * along + 0.5 * m.curvature_per_mm * along * along;
                (overlap > 0.0).then(|| at_middle.abs().max(0.5 * field.mm_per_px))
            })
            .min_by(f64::total_cmp)
            .map(f64::ln)
    }));
    if gaps.len() < 5 {
        return [f64::NAN; 2];
    }
    [quantile(&gaps, 0.5), quantile(&gaps, 0.75) - quantile(&gaps, 0.25)]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Fifty positions on an even step of a tenth of their span, and fifty at random places.
    #[test]
    fn even_steps_repeat() {
        let even: Vec<f64> = (0..50).map(|k| f64::from(k * 7 % 20)).collect();
        let mut even = even;
        even.sort_by(f64::total_cmp);
        let random = sorted((0..50_u32).map(|k| f64::from(k.wrapping_mul(2_654_435_761) % 1000) / 50.0));
        assert!(repetition(&even) > 3.5, "{}", repetition(&even));
        assert!(repetition(&random) < 2.6, "{}", repetition(&random));
    }
}
