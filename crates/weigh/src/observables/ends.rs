//! Where strokes end, and how long they are.

use super::stats::{censored_length, mean, quantile, sorted, spread, turn_between};
use super::{Field, Group, Part};
use crate::mark::Mark;

pub const PART: Part<11> = Part([
    ("share of traces with both ends", Group::Ends, false),
    ("share of traces with no end", Group::Ends, true),
    ("mean length of complete traces", Group::Ends, false),
    ("evenness of complete lengths", Group::Ends, false),
    ("stroke length from censored lengths", Group::Ends, true),
    ("median visible length", Group::Ends, false),
    ("longest visible length", Group::Ends, true),
    ("share of short complete traces", Group::Ends, false),
    ("upper quartile of complete lengths", Group::Ends, true),
    ("longest trace over the upper quartile of complete ones", Group::Ends, false),
    ("ends that meet another trace's end", Group::Ends, true),
]);

pub fn observe(field: &Field<'_>) -> [f64; 11] {
    let marks = field.marks;
    let n = marks.len() as f64;
    let complete = sorted(marks.iter().filter(|m| m.ends_inside == 2).map(|m| m.length_mm.ln()));
    let lengths = sorted(marks.iter().map(|m| (m.length_mm / field.width_mm).ln()));
    let enough = complete.len() >= 3;
    let upper = if enough { quantile(&complete, 0.75) } else { f64::NAN };
    let longest = lengths.last().copied().unwrap_or(f64::NAN) + field.width_mm.ln();
    let short = marks.iter().filter(|m| m.ends_inside == 2 && m.length_mm < 0.15 * field.width_mm).count();
    [
        complete.len() as f64 / n,
        marks.iter().filter(|m| m.ends_inside == 0).count() as f64 / n,
        mean(complete.iter().copied()),
        if enough { spread(complete.iter().copied()) } else { f64::NAN },
        censored_length(marks.iter()),
        quantile(&lengths, 0.5),
        quantile(&lengths, 0.95),
        short as f64 / n,
        upper,
        longest - upper,
        meeting(marks, field.width_mm),
    ]
}

/// Two ends meet if they lie within this share of the field and their traces run on into each other (ours).
const MEETING_SHARE: f64 = 0.02;
/// How far the headings of meeting ends may differ, radians (ours).
const MEETING_RAD: f64 = 0.35;

/// Share of ends that meet the end of another trace in the same direction: breaks, and curves cut into pieces.
fn meeting(marks: &[Mark], width_mm: f64) -> f64 {
    let ends: Vec<[f64; 3]> = marks.iter().flat_map(ends_of).collect();
    if ends.len() < 8 {
        return f64::NAN;
    }
    let reach = MEETING_SHARE * width_mm;
    let meets = |i: usize, j: usize| {
        let (a, b) = (ends[i], ends[j]);
        (a[0] - b[0]).abs() < reach
            && (a[1] - b[1]).abs() < reach
            && turn_between(a[2], b[2]).abs() < MEETING_RAD
    };
    // Two ends of one trace lie side by side in the list and are not compared.
    let met = (0..ends.len()).filter(|i| (0..ends.len()).any(|j| j / 2 != i / 2 && meets(*i, j))).count();
    met as f64 / ends.len() as f64
}

/// Both ends of a trace with the heading there, from its fitted arc.
fn ends_of(m: &Mark) -> [[f64; 3]; 2] {
    [-0.5, 0.5].map(|side| {
        let along = side * m.length_mm;
        let turn = m.curvature_per_mm * along;
        let (sin, cos) = (m.direction_rad + 0.5 * turn).sin_cos();
        [m.at_mm[0] + along * cos, m.at_mm[1] + along * sin, m.direction_rad + turn]
    })
}
