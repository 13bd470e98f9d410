//! Widths and raggedness of the traces.

use super::stats::{length, mean, median, quantile, sorted, spread};
use super::{Field, Group, Part};
use crate::geometry::USUAL_WOBBLE;
use crate::mark::Mark;

pub const PART: Part<9> = Part([
    ("median width", Group::Widths, true),
    ("spread of widths", Group::Widths, false),
    ("main set wider than the rest", Group::Widths, false),
    ("median raggedness", Group::Raggedness, false),
    ("largest raggedness", Group::Raggedness, false),
    ("raggedness over width", Group::Raggedness, false),
    ("raggedness beyond what optics and waviness give", Group::Raggedness, false),
    ("largest raggedness beyond what optics and waviness give", Group::Raggedness, false),
    ("bending back and forth", Group::Raggedness, false),
]);

pub fn observe(field: &Field<'_>) -> [f64; 9] {
    let marks = field.marks;
    let floor = 50.0 * field.mm_per_px;
    let widths = sorted(marks.iter().map(|m| m.width_um.ln()));
    let ragged = sorted(marks.iter().map(|m| m.residual_um.max(floor).ln()));
    let relative = sorted(marks.iter().map(|m| (m.residual_um.max(floor) / m.width_um).ln()));
    let beyond = sorted(marks.iter().map(|m| (m.residual_um / expected_um(m, field)).ln().max(-4.0)));
    let outside = (0..marks.len()).filter(|i| !field.sets.main.contains(i)).filter_map(|i| marks.get(i));
    let rest = if field.sets.main.len() + 3 <= marks.len() {
        median(outside.map(|m| m.width_um.ln()))
    } else {
        f64::NAN
    };
    [
        quantile(&widths, 0.5),
        spread(widths.iter().copied()),
        median(field.sets.main_marks(marks).map(|m| m.width_um.ln())) - rest,
        quantile(&ragged, 0.5),
        quantile(&ragged, 0.9),
        quantile(&relative, 0.5),
        quantile(&beyond, 0.5),
        quantile(&beyond, 0.9),
        mean(marks.iter().map(|m| {
            let sagitta_um = 125.0 * m.curvature_per_mm.abs() * m.length_mm * m.length_mm;
            (m.residual_um / (sagitta_um + floor)).ln().clamp(-8.0, 8.0)
        })),
    ]
}

/// Scatter about a smooth line that localisation and the usual waviness lead one to expect, µm.
fn expected_um(m: &Mark, field: &Field<'_>) -> f64 {
    length(length(500.0 * field.mm_per_px, 0.3), USUAL_WOBBLE * m.width_um)
}
