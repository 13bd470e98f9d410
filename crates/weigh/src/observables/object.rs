//! Observables of a whole object: all its fields together.

use super::stats::{
    bend, censored_length, excess_spread, mean, median, quantile, sorted, spread, weighted_mean,
};
use super::{Group, Part};
use crate::mark::Mark;

pub const PART: Part<22> = Part([
    ("usable fields", Group::Count, false),
    ("lowest tenth of curvature, all fields", Group::Curvature, false),
    ("lower quartile of curvature, all fields", Group::Curvature, false),
    ("median curvature, all fields", Group::Curvature, false),
    ("upper quartile of curvature, all fields", Group::Curvature, false),
    ("highest tenth of curvature, all fields", Group::Curvature, false),
    ("weighted mean curvature, all fields", Group::Curvature, false),
    ("spread of curvature, all fields", Group::Consistency, false),
    ("bending to one side in each field, all fields", Group::Consistency, false),
    ("stroke length, all fields", Group::Ends, false),
    ("mean complete length, all fields", Group::Ends, false),
    ("evenness of complete lengths, all fields", Group::Ends, false),
    ("upper quartile of complete lengths, all fields", Group::Ends, false),
    ("middle half of complete lengths, all fields", Group::Ends, false),
    ("longest trace, all fields", Group::Ends, false),
    ("spread of widths, all fields", Group::Widths, false),
    ("raggedness over width, all fields", Group::Raggedness, false),
    ("curvature differs between fields", Group::Consistency, false),
    ("spread of the sets, all fields", Group::Directions, false),
    ("most sets seen in a field", Group::Directions, false),
    ("closest to one centre, all fields", Group::Centre, false),
    ("furthest from one centre, all fields", Group::Centre, false),
]);

/// Columns of a field's observables that the pooled ones build on.
pub struct Uses {
    pub median_curvature: usize,
    pub lower_curvature: usize,
    pub upper_curvature: usize,
    pub one_sided: usize,
    pub set_spread: usize,
    pub second_share: usize,
    pub centre_miss: usize,
}

pub fn observe(fields: &[Vec<Mark>], per_field: &[Vec<f64>], uses: &Uses) -> [f64; 22] {
    let mut o = [f64::NAN; 22];
    let all: Vec<Mark> = fields.iter().flatten().copied().collect();
    let usable = fields.iter().filter(|marks| marks.len() >= 3).count();
    o[0] = usable as f64 / fields.len().max(1) as f64;
    if all.len() < 3 {
        return o;
    }
    let column = |index: usize| {
        per_field.iter().filter_map(move |f| f.get(index).copied()).filter(|value| value.is_finite())
    };
    let bends = sorted(all.iter().map(|m| bend(m).ln()));
    for (slot, share) in [(1, 0.1), (2, 0.25), (3, 0.5), (4, 0.75), (5, 0.9)] {
        o[slot] = quantile(&bends, share);
    }
    o[6] = weighted_mean(&all, |m| m.curvature_per_mm.abs()).max(1e-7).ln();
    o[7] = excess_spread(all.iter(), |m| m.curvature_per_mm.abs());
    o[8] = mean(column(uses.one_sided).map(|v| v * v));
    o[9] = censored_length(all.iter());
    let complete = sorted(all.iter().filter(|m| m.ends_inside == 2).map(|m| m.length_mm.ln()));
    if complete.len() >= 3 {
        o[10] = mean(complete.iter().copied());
        o[11] = spread(complete.iter().copied());
        o[12] = quantile(&complete, 0.75);
        o[13] = quantile(&complete, 0.75) - quantile(&complete, 0.25);
    }
    o[14] = all.iter().map(|m| m.length_mm.ln()).fold(f64::NAN, f64::max);
    o[15] = spread(all.iter().map(|m| m.width_um.ln()));
    o[16] = median(all.iter().map(|m| (m.residual_um.max(0.01) / m.width_um).ln()));
    // Curvature between fields beyond what its scatter within them explains.
    let within = mean(column(uses.upper_curvature)) - mean(column(uses.lower_curvature));
    o[17] = spread(column(uses.median_curvature)) - 0.3 * within;
    o[18] = quantile(&sorted(column(uses.set_spread)), 0.25);
    o[19] = column(uses.second_share).fold(f64::NAN, f64::max);
    o[20] = column(uses.centre_miss).fold(f64::NAN, f64::min);
    o[21] = column(uses.centre_miss).fold(f64::NAN, f64::max);
    o
}
