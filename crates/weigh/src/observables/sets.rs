//! The main set of directions of a field and the second one, by a histogram of axes.

use super::stats::turn_between;
use crate::mark::Mark;
use std::f64::consts::PI;

/// The sets of one field, as indices of its marks.
pub struct Sets {
    pub main: Vec<usize>,
    pub main_axis_rad: f64,
    pub main_spread_rad: f64,
    pub second: Vec<usize>,
    pub second_axis_rad: f64,
}

/// Half-width of a set about its mode, radians (ours: 16°).
const SET_HALF_WIDTH_RAD: f64 = 0.28;
/// Bins of the histogram of axes.
const AXIS_BINS: usize = 36;

impl Sets {
    pub fn find(marks: &[Mark]) -> Sets {
        let all: Vec<usize> = (0..marks.len()).collect();
        let axis = mode(marks, &all);
        let (main, main_axis_rad) = gather(marks, &all, axis);
        let squares = main
            .iter()
            .filter_map(|i| marks.get(*i))
            .map(|m| turn_between(main_axis_rad, m.direction_rad).powi(2));
        let main_spread_rad = (squares.sum::<f64>() / main.len().max(1) as f64).sqrt();
        let rest: Vec<usize> = all
            .iter()
            .copied()
            .filter(|i| turn_between(main_axis_rad, marks[*i].direction_rad).abs() > 1.3 * SET_HALF_WIDTH_RAD)
            .collect();
        let (second, second_axis_rad) =
            if rest.len() >= 2 { gather(marks, &rest, mode(marks, &rest)) } else { (Vec::new(), 0.0) };
        Sets { main, main_axis_rad, main_spread_rad, second, second_axis_rad }
    }

    /// Angle between the sets, radians; `NaN` with fewer than three traces in the second.
    pub fn crossing_rad(&self) -> f64 {
        if self.second.len() < 3 {
            return f64::NAN;
        }
        turn_between(self.main_axis_rad, self.second_axis_rad).abs()
    }

    /// Marks of the main set.
    pub fn main_marks<'a>(&'a self, marks: &'a [Mark]) -> impl Iterator<Item = &'a Mark> + Clone {
        self.main.iter().filter_map(|index| marks.get(*index))
    }

    /// Marks of the second set.
    pub fn second_marks<'a>(&'a self, marks: &'a [Mark]) -> impl Iterator<Item = &'a Mark> + Clone {
        self.second.iter().filter_map(|index| marks.get(*index))
    }

    /// Curvature with its sign counted along the main axis.
    pub fn signed_bend(&self, mark: &Mark) -> f64 {
        signed_along(self.main_axis_rad, mark)
    }
}

/// Curvature with its sign counted along an axis: traces nearly opposite in heading bend the same way.
pub fn signed_along(axis_rad: f64, mark: &Mark) -> f64 {
    let apart = (mark.direction_rad - axis_rad).abs();
    if apart > 0.5 * PI { -mark.curvature_per_mm } else { mark.curvature_per_mm }
}

fn mode(marks: &[Mark], chosen: &[usize]) -> f64 {
    let mut histogram = [0.0; AXIS_BINS];
    for index in chosen {
        let bin = (marks[*index].direction_rad / PI * AXIS_BINS as f64) as usize;
        histogram[bin.min(AXIS_BINS - 1)] += 1.0;
    }
    let smooth = |k: usize| {
        let at = |shift: usize| histogram[(k + shift + AXIS_BINS - 2) % AXIS_BINS];
        at(0) + 2.0 * at(1) + 3.0 * at(2) + 2.0 * at(3) + at(4)
    };
    let best = (0..AXIS_BINS).fold(0, |best, k| if smooth(k) > smooth(best) { k } else { best });
    (best as f64 + 0.5) * PI / AXIS_BINS as f64
}

/// Members of the set about an axis and the set's own mean axis.
fn gather(marks: &[Mark], chosen: &[usize], mut axis: f64) -> (Vec<usize>, f64) {
    let mut members = Vec::new();
    for _ in 0..2 {
        members = chosen
            .iter()
            .copied()
            .filter(|i| turn_between(axis, marks[*i].direction_rad).abs() <= SET_HALF_WIDTH_RAD)
            .collect();
        if members.is_empty() {
            return (members, axis);
        }
        let turn = members.iter().map(|i| turn_between(axis, marks[*i].direction_rad)).sum::<f64>();
        axis = (axis + turn / members.len() as f64).rem_euclid(PI);
    }
    (members, axis)
}
