//! Whether two readings of one capture name the same traces.

use crate::field::Item;

/// When two traces of two readings are the same trace.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AgreementOptions {
    /// Largest distance of one trace from the line of the other, px.
    pub apart_px: f64,
    /// Largest angle between them, degrees.
    pub turn_deg: f64,
}

impl Default for AgreementOptions {
    fn default() -> Self {
        // The tolerance the detection is judged by: what two careful readers' clicks on one groove differ by.
        Self { apart_px: 3.0, turn_deg: 5.0 }
    }
}

/// How far two readings of one capture agree.
#[derive(Debug, Clone, PartialEq)]
pub struct Agreement {
    /// Pairs of the same trace: index in the first and in the second reading.
    pub matched: Vec<(usize, usize)>,
    /// Traces of the first reading that the second has too, as a share of its own; `None` for an empty reading.
    pub share_of_first: Option<f64>,
    /// The other way round.
    pub share_of_second: Option<f64>,
    /// Twice the matched traces over the traces of both: 1 full agreement, 0 none. `None` where both are empty.
    pub agreement: Option<f64>,
}

/// Matches the traces of two readings one to one, longest shared stretch first.
#[must_use]
pub fn agreement(first: &[Item], second: &[Item], options: &AgreementOptions) -> Agreement {
    let mut candidates: Vec<(f64, usize, usize)> = Vec::new();
    for (a, one) in first.iter().enumerate() {
        candidates.extend(
            second.iter().enumerate().filter_map(|(b, other)| Some((shared(one, other, options)?, a, b))),
        );
    }
    candidates.sort_by(|x, y| y.0.total_cmp(&x.0).then(x.1.cmp(&y.1)).then(x.2.cmp(&y.2)));
    let (mut taken_first, mut taken_second) = (vec![false; first.len()], vec![false; second.len()]);
    let mut matched = Vec::new();
    for (_, a, b) in candidates {
        if let (Some(one @ false), Some(other @ false)) = (taken_first.get_mut(a), taken_second.get_mut(b)) {
            (*one, *other) = (true, true);
            matched.push((a, b));
        }
    }
    matched.sort_unstable();
    let share = |of: usize| (of > 0).then(|| matched.len() as f64 / of as f64);
    let both = first.len() + second.len();
    Agreement {
        share_of_first: share(first.len()),
        share_of_second: share(second.len()),
        agreement: (both > 0).then(|| 2.0 * matched.len() as f64 / both as f64),
        matched,
    }
}

/// Length of the stretch two traces share, px; `None` where they are not the same trace or share less than half of the
/// shorter one.
fn shared(one: &Item, other: &Item, options: &AgreementOptions) -> Option<f64> {
    if one.direction.angle_to(other.direction) > options.turn_deg {
        return None;
    }
    let (dx, dy) = one.direction.pixel_step();
    let origin = one.start_px;
    let local = |[x, y]: [f64; 2]| {
        ((x - origin[0]) * dx + (y - origin[1]) * dy, (y - origin[1]) * dx - (x - origin[0]) * dy)
    };
    let span = |item: &Item| {
        let (a, b) = (local(item.start_px), local(item.end_px));
        if a.0 <= b.0 { (a, b) } else { (b, a) }
    };
    let ((from_one, to_one), (from_other, to_other)) = (span(one), span(other));
    let (from, to) = (from_one.0.max(from_other.0), to_one.0.min(to_other.0));
    let shorter = (to_one.0 - from_one.0).min(to_other.0 - from_other.0);
    let length = to - from;
    if length.is_nan() || length <= 0.5 * shorter {
        return None;
    }
    let across = |(a, b): ((f64, f64), (f64, f64)), at: f64| a.1 + (b.1 - a.1) * (at - a.0) / (b.0 - a.0);
    let middle = 0.5 * (from + to);
    let apart = (across((from_one, to_one), middle) - across((from_other, to_other), middle)).abs();
    (apart <= options.apart_px).then_some(length)
}
