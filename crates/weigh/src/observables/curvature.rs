//! How strongly traces bend, and whether they bend alike.

use super::sets::signed_along;
use super::stats::{
    bend, correlation, excess_spread, length, mean, quantile, sorted, turn_between, weight, weighted_mean,
};
use super::{Field, Group, Part};
use crate::mark::Mark;

pub const PART: Part<21> = Part([
    ("median curvature", Group::Curvature, true),
    ("lower quartile of curvature", Group::Curvature, true),
    ("upper quartile of curvature", Group::Curvature, true),
    ("share of traces with resolved curvature", Group::Curvature, false),
    ("weighted mean curvature", Group::Curvature, true),
    ("resolution of curvature", Group::Curvature, false),
    ("median turning of a trace", Group::Curvature, true),
    ("largest turnings", Group::Curvature, true),
    ("median curvature of the main set", Group::Curvature, true),
    ("spread of curvature beyond its noise", Group::Consistency, true),
    ("bending to one side in the main set", Group::Consistency, true),
    ("spread of signed curvature in the main set", Group::Consistency, false),
    ("middle half of signed curvature in the main set", Group::Consistency, false),
    ("bending to one side in the second set", Group::Consistency, false),
    ("bending to one side overall", Group::Consistency, true),
    ("centres of bending on one side", Group::Consistency, true),
    ("change of curvature along a trace", Group::Consistency, true),
    ("largest changes of curvature along a trace", Group::Consistency, true),
    ("correlation of curvature and length", Group::Consistency, false),
    ("correlation of curvature and direction", Group::Consistency, false),
    ("curvature of the second set over that of the main set", Group::Consistency, false),
]);

pub fn observe(field: &Field<'_>) -> [f64; 21] {
    let (marks, sets) = (field.marks, &field.sets);
    let bends = sorted(marks.iter().map(|m| bend(m).ln()));
    let turns = sorted(marks.iter().map(|m| m.turn_rad));
    let resolved = marks.iter().filter(|m| m.curvature_per_mm.abs() > 3.0 * m.curvature_sd_per_mm).count();
    let mean_bend = weighted_mean(marks, |m| m.curvature_per_mm.abs());
    let main = SignedBends::of(sets.main_marks(marks), sets.main_axis_rad);
    let second = SignedBends::of(sets.second_marks(marks), sets.second_axis_rad);
    let enough = sets.main.len() >= 3;
    let if_enough = |value: f64| if enough { value } else { f64::NAN };
    let changes = sorted(marks.iter().map(change));
    let axis = sets.main_axis_rad;
    [
        quantile(&bends, 0.5),
        quantile(&bends, 0.25),
        quantile(&bends, 0.75),
        resolved as f64 / marks.len() as f64,
        mean_bend.max(1e-7).ln(),
        mean(marks.iter().map(|m| m.curvature_sd_per_mm.ln())),
        quantile(&turns, 0.5),
        quantile(&turns, 0.9),
        main.size_ln,
        excess_spread(marks.iter(), |m| m.curvature_per_mm.abs()),
        if_enough(one_sided(sets.main_marks(marks), axis)),
        excess_spread(sets.main_marks(marks), |m| sets.signed_bend(m)),
        main.half_width,
        if sets.second.len() >= 3 {
            one_sided(sets.second_marks(marks), sets.second_axis_rad)
        } else {
            f64::NAN
        },
        one_sided(marks.iter(), axis),
        centres_on_one_side(marks),
        mean(changes.iter().copied()),
        quantile(&changes, 0.9),
        correlation(marks.iter().map(|m| (bend(m).ln(), m.length_mm.ln()))),
        correlation(marks.iter().map(|m| (sets.signed_bend(m), turn_between(axis, m.direction_rad)))).abs(),
        second.size_ln - main.size_ln,
    ]
}

/// Signed curvatures of one set by their quartiles, which a few foreign traces do not move.
struct SignedBends {
    /// Log of the size of the median, held above its noise.
    size_ln: f64,
    /// Half the distance of the quartiles over the median's size and the noise.
    half_width: f64,
}

impl SignedBends {
    fn of<'a>(marks: impl Iterator<Item = &'a Mark> + Clone, axis_rad: f64) -> SignedBends {
        let bends = sorted(marks.clone().map(|m| signed_along(axis_rad, m)));
        if bends.len() < 3 {
            return SignedBends { size_ln: f64::NAN, half_width: f64::NAN };
        }
        let noise = quantile(&sorted(marks.map(|m| m.curvature_sd_per_mm)), 0.5);
        let size = quantile(&bends, 0.5).abs().max(noise / (bends.len() as f64).sqrt());
        let half = 0.5 * (quantile(&bends, 0.75) - quantile(&bends, 0.25));
        SignedBends { size_ln: size.ln(), half_width: (half / (size + noise)).max(1e-3).ln() }
    }
}

fn one_sided<'a>(marks: impl Iterator<Item = &'a Mark>, axis_rad: f64) -> f64 {
    let (sum, total) = marks.fold((0.0, 0.0), |(sum, total), m| {
        let w = weight(m);
        (sum + w * signed_along(axis_rad, m), total + w * m.curvature_per_mm.abs())
    });
    if total > 0.0 { sum.abs() / total } else { f64::NAN }
}

/// Resultant of the directions towards the centres of bending, each counted by how well its side is known.
fn centres_on_one_side(marks: &[Mark]) -> f64 {
    let (x, y, total) = marks.iter().fold((0.0, 0.0, 0.0), |(x, y, total), m| {
        let known = m.curvature_per_mm / m.curvature_sd_per_mm.max(1e-12);
        let w = (known / 3.0).clamp(-1.0, 1.0);
        let (sin, cos) = m.direction_rad.sin_cos();
        (x - w * sin, y + w * cos, total + w.abs())
    });
    if total > 0.0 { length(x, y) / total } else { f64::NAN }
}

/// The cubic against what bending alone leads one to expect, log.
fn change(m: &Mark) -> f64 {
    let sagitta_um = 125.0 * m.curvature_per_mm.abs() * m.length_mm * m.length_mm;
    (m.cubic_um.abs() / (sagitta_um + 0.5 * m.residual_um + 0.05)).ln().max(-8.0)
}
