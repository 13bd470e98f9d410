//! Marks to observables: per field, then per object.

mod curvature;
mod directions;
mod ends;
mod layout;
mod object;
mod sets;
mod stats;
mod texture;

use crate::geometry::Geometry;
use crate::mark::Mark;
use sets::Sets;
use stats::{mean, spread};
use std::sync::LazyLock;

/// Groups of observables, for the sensitivity and for the words.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Group {
    /// How many traces there are.
    Count,
    /// Directions, sets and crossing.
    Directions,
    /// How strongly traces bend.
    Curvature,
    /// Whether they bend alike.
    Consistency,
    /// Stroke ends and lengths.
    Ends,
    /// Widths.
    Widths,
    /// Scatter of a trace about a smooth line.
    Raggedness,
    /// A common centre of turning.
    Centre,
    /// Distances between neighbours.
    Spacing,
}

impl Group {
    /// All groups in fixed order.
    pub const ALL: [Group; 9] = [
        Group::Count,
        Group::Directions,
        Group::Curvature,
        Group::Consistency,
        Group::Ends,
        Group::Widths,
        Group::Raggedness,
        Group::Centre,
        Group::Spacing,
    ];

    /// Name in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Group::Count => "number of traces",
            Group::Directions => "directions",
            Group::Curvature => "size of curvature",
            Group::Consistency => "consistency of curvature",
            Group::Ends => "ends and lengths",
            Group::Widths => "widths",
            Group::Raggedness => "raggedness of the traces",
            Group::Centre => "common centre",
            Group::Spacing => "spacing",
        }
    }
}

/// One observable: its name in words, its group, and whether its difference between fields is kept as well.
type Named = (&'static str, Group, bool);

/// The observables of one idea, in the order in which it computes them.
pub(crate) struct Part<const N: usize>([Named; N]);

/// One field as the parts look at it.
pub(crate) struct Field<'a> {
    marks: &'a [Mark],
    sets: Sets,
    width_mm: f64,
    mm_per_px: f64,
}

/// Observables of one field, in the order of [`field_observables`].
static FIELD: LazyLock<Vec<Named>> = LazyLock::new(|| {
    let parts: [&[Named]; 5] =
        [&directions::PART.0, &curvature::PART.0, &ends::PART.0, &texture::PART.0, &layout::PART.0];
    parts.concat()
});

/// Columns of [`FIELD`] whose differences between fields are kept.
static DIFFERING: LazyLock<Vec<usize>> =
    LazyLock::new(|| (0..FIELD.len()).filter(|index| FIELD[*index].2).collect());

/// Columns the pooled observables build on.
static USES: LazyLock<object::Uses> = LazyLock::new(|| {
    let column = |words: &str| FIELD.iter().position(|named| named.0 == words).unwrap_or(usize::MAX);
    object::Uses {
        median_curvature: column("median curvature"),
        lower_curvature: column("lower quartile of curvature"),
        upper_curvature: column("upper quartile of curvature"),
        one_sided: column("bending to one side overall"),
        set_spread: column("spread of the main set"),
        second_share: column("share of the second set"),
        centre_miss: column("closeness to the centre most traces share"),
    }
});

/// Number of observables of an object.
#[must_use]
pub fn n_observables() -> usize {
    FIELD.len() + DIFFERING.len() + object::PART.0.len()
}

/// What an observable of an object is.
enum Column {
    /// Mean over fields.
    Mean(usize),
    /// Difference between fields.
    Difference(usize),
    /// All fields together.
    Pooled(usize),
}

fn column(index: usize) -> Column {
    match index.checked_sub(FIELD.len()) {
        None => Column::Mean(index),
        Some(rest) => match DIFFERING.get(rest) {
            Some(of) => Column::Difference(*of),
            None => Column::Pooled(rest - DIFFERING.len()),
        },
    }
}

/// Name of an observable in words.
#[must_use]
pub fn name(index: usize) -> String {
    match column(index) {
        Column::Mean(of) => FIELD[of].0.to_string(),
        Column::Difference(of) => format!("difference between fields in {}", FIELD[of].0),
        Column::Pooled(of) => object::PART.0.get(of).map_or_else(String::new, |named| named.0.to_string()),
    }
}

/// Group of an observable.
#[must_use]
pub fn group(index: usize) -> Group {
    match column(index) {
        Column::Mean(of) | Column::Difference(of) => FIELD[of].1,
        Column::Pooled(of) => object::PART.0.get(of).map_or(Group::Count, |named| named.1),
    }
}

/// Whether an observable is a difference between fields.
#[must_use]
pub fn is_difference(index: usize) -> bool {
    matches!(column(index), Column::Difference(_))
}

/// One object's observables; `NaN` where the marks do not say.
pub type Row = Vec<f32>;

/// Observables of an object from its marks, field by field.
#[must_use]
pub fn observe(fields: &[Vec<Mark>], geometry: &Geometry) -> Row {
    let per_field: Vec<Vec<f64>> = fields
        .iter()
        .zip(&geometry.fields)
        .map(|(marks, field)| field_observables(marks, field.width_mm, field.mm_per_px))
        .collect();
    let values = |index: usize| per_field.iter().map(move |f| f[index]).filter(|v| v.is_finite());
    let mut row = Vec::with_capacity(n_observables());
    row.extend((0..FIELD.len()).map(|index| mean(values(index)) as f32));
    row.extend(DIFFERING.iter().map(|index| spread(values(*index)) as f32));
    row.extend(object::observe(fields, &per_field, &USES).map(|value| value as f32));
    row
}

fn field_observables(marks: &[Mark], width_mm: f64, mm_per_px: f64) -> Vec<f64> {
    let mut o = vec![f64::NAN; FIELD.len()];
    if marks.len() < 2 {
        o[0] = (1.0 + marks.len() as f64).ln();
        return o;
    }
    let field = Field { marks, sets: Sets::find(marks), width_mm, mm_per_px };
    let parts: [&[f64]; 5] = [
        &directions::observe(&field),
        &curvature::observe(&field),
        &ends::observe(&field),
        &texture::observe(&field),
        &layout::observe(&field),
    ];
    parts.concat()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    fn at(o: &[f64], words: &str) -> f64 {
        o[FIELD.iter().position(|named| named.0 == words).unwrap()]
    }

    fn mark(x: f64, y: f64, direction_rad: f64, curvature: f64) -> Mark {
        Mark {
            at_mm: [x, y],
            direction_rad,
            curvature_per_mm: curvature,
            curvature_sd_per_mm: 1e-4,
            cubic_um: 0.1,
            residual_um: 0.3,
            length_mm: 2.0,
            width_um: 8.0,
            ends_inside: 0,
            turn_rad: curvature * 2.0,
        }
    }

    #[test]
    fn concentric_arcs_have_a_centre() {
        let marks: Vec<Mark> = (0..30)
            .map(|i| {
                let (x, y) = (f64::from(i % 6) - 2.5, f64::from(i / 6) - 2.0);
                let (dx, dy) = (x - 20.0, y - 5.0);
                mark(x, y, (dy.atan2(dx) + 0.5 * PI).rem_euclid(PI), 1.0 / dx.hypot(dy))
            })
            .collect();
        let o = field_observables(&marks, 6.0, 0.002);
        let wanted = 20.0_f64.hypot(5.0);
        for words in ["distance of the common centre", "distance of the centre most traces share"] {
            assert!((at(&o, words).exp() - wanted).abs() < 0.5, "{words}: {}", at(&o, words).exp());
        }
        assert!(at(&o, "closeness to the common centre") < -2.0);
        assert!(at(&o, "radius over distance of the centre").abs() < 0.1);
        assert!(at(&o, "curvature against distance from the centre most traces share").abs() < 0.05);
    }

    #[test]
    fn two_sets_cross() {
        let marks: Vec<Mark> =
            (0..20).map(|i| mark(f64::from(i), 0.0, if i % 2 == 0 { 0.05 } else { 0.75 }, 1e-5)).collect();
        let o = field_observables(&marks, 30.0, 0.01);
        assert!((at(&o, "crossing angle") - 0.7_f64.to_degrees()).abs() < 1.0);
        let (main, second) = (at(&o, "share of the main set"), at(&o, "share of the second set"));
        assert!((main - 0.5).abs() < 1e-9 && (second - 0.5).abs() < 1e-9, "{main} {second}");
    }

    #[test]
    fn every_observable_has_a_name_and_its_slot() {
        let geometry = Geometry::equal(2, 2, 6.0, 2592.0);
        let marks: Vec<Mark> = (0..20).map(|i| mark(f64::from(i) * 0.2 - 2.0, 0.0, 0.3, 0.01)).collect();
        let row = observe(&[marks.clone(), marks], &geometry);
        assert_eq!(row.len(), n_observables());
        assert!((0..n_observables()).all(|index| !name(index).is_empty()));
    }
}
