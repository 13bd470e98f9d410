//! How many traces there are and which ways they run.

use super::stats::{mean, resultant, turn_between};
use super::{Field, Group, Part};

pub const PART: Part<8> = Part([
    ("log number of traces", Group::Count, true),
    ("resultant of the directions", Group::Directions, true),
    ("resultant of the doubled axes", Group::Directions, true),
    ("share of the main set", Group::Directions, true),
    ("spread of the main set", Group::Directions, true),
    ("share of the second set", Group::Directions, true),
    ("crossing angle", Group::Directions, true),
    ("likeness of neighbours' directions", Group::Directions, false),
]);

/// Neighbours each trace is compared with.
const NEIGHBOURS: usize = 3;

pub fn observe(field: &Field<'_>) -> [f64; 8] {
    let (marks, sets) = (field.marks, &field.sets);
    let n = marks.len() as f64;
    [
        (1.0 + n).ln(),
        resultant(marks, 2.0),
        resultant(marks, 4.0),
        sets.main.len() as f64 / n,
        sets.main_spread_rad.to_degrees(),
        sets.second.len() as f64 / n,
        sets.crossing_rad().to_degrees(),
        likeness(field),
    ]
}

/// Log of how much less neighbours differ in direction than any two traces do.
fn likeness(field: &Field<'_>) -> f64 {
    let marks = field.marks;
    if marks.len() < 6 {
        return f64::NAN;
    }
    let apart =
        |i: usize, j: usize| turn_between(marks[i].direction_rad, marks[j].direction_rad).abs() + 1e-3;
    let near = mean((0..marks.len()).map(|i| {
        let mut nearest = [(f64::INFINITY, i); NEIGHBOURS];
        for j in (0..marks.len()).filter(|j| *j != i) {
            let (a, b) = (marks[i].at_mm, marks[j].at_mm);
            let distance2 = (a[0] - b[0]).powi(2) + (a[1] - b[1]).powi(2);
            let place = nearest.partition_point(|kept| kept.0 <= distance2);
            if place < NEIGHBOURS {
                nearest[place..].rotate_right(1);
                nearest[place] = (distance2, j);
            }
        }
        mean(nearest.iter().map(|(_, j)| apart(i, *j)))
    }));
    let any = mean((0..marks.len()).flat_map(|i| (0..i).map(move |j| apart(i, j))));
    (near / any).ln()
}
