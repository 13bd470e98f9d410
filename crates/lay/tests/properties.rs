//! What must hold for any traces: turning the camera, mirroring it and shuffling the list change nothing but names; few, no
//! and many traces get answers or reasons, never a value that is no number.

#![allow(clippy::unwrap_used, reason = "inputs are made here")]

mod common;

use common::{Layout, Lengths, Strokes, field, rng};
use lay::{CompareOptions, DescribeOptions, Description, Field, Item, agreement, compare_stations, describe};
use proptest::prelude::*;
use quantity::{AxialDeg, Measured, UmPerPx};

const SHAPE_PX: (f64, f64) = (800.0, 600.0);

prop_compose! {
    fn any_item()(
        deg in 0.0..180.0_f64,
        x in 0.0..800.0_f64,
        y in 0.0..600.0_f64,
        length in 1.0..400.0_f64,
        bow in -1e-3..1e-3_f64,
        width in 0.5..9.0_f64,
        ends in 0_u8..3,
    ) -> Item {
        let direction = AxialDeg::new(deg).unwrap();
        let (dx, dy) = direction.pixel_step();
        Item {
            direction,
            direction_u_deg: 0.3,
            length_px: length,
            curvature_per_px: Measured { value: bow, u: 1e-4 },
            width_px: Measured { value: width, u: 0.2 },
            ends_inside: ends,
            start_px: [x - 0.5 * length * dx, y - 0.5 * length * dy],
            end_px: [x + 0.5 * length * dx, y + 0.5 * length * dy],
        }
    }
}

/// Traces about one axis and strays, so that sets come up.
fn any_items(most: usize) -> impl Strategy<Value = Vec<Item>> {
    (prop::collection::vec(any_item(), 0..most), 0.0..180.0_f64).prop_map(|(mut items, axis)| {
        let number = items.len();
        for (index, item) in items.iter_mut().enumerate().take(2 * number / 3) {
            let spread = 4.0 * ((index * 7919 % 101) as f64 / 101.0 - 0.5);
            item.direction = AxialDeg::new(axis + spread).unwrap();
        }
        items
    })
}

fn one_field(items: Vec<Item>) -> Field {
    Field {
        station: 0,
        width_px: SHAPE_PX.0,
        height_px: SHAPE_PX.1,
        um_per_px: UmPerPx::new(2.0, 0.01),
        items,
    }
}

fn options() -> DescribeOptions {
    DescribeOptions { resamples: 99, ..DescribeOptions::default() }
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-6 * (1.0 + a.abs().max(b.abs()))
}

fn same_apart_from_names(a: &Description, b: &Description) -> Result<(), TestCaseError> {
    prop_assert_eq!(a.count, b.count);
    prop_assert_eq!(a.sets.sets.len(), b.sets.sets.len());
    for (left, right) in
        [(a.resultant, b.resultant), (a.uniform_p, b.uniform_p), (a.density_per_mm2, b.density_per_mm2)]
    {
        prop_assert!(left.zip(right).is_none_or(|(x, y)| near(x, y)), "{:?} {:?}", left, right);
    }
    if let (Ok(x), Ok(y)) = (&a.stroke_length, &b.stroke_length) {
        prop_assert_eq!(x.counts, y.counts);
        prop_assert!(
            x.mean
                .as_ref()
                .ok()
                .zip(y.mean.as_ref().ok())
                .is_none_or(|(x, y)| near(x.value, y.value) && near(x.u, y.u))
        );
    }
    if let (Ok(x), Ok(y)) = (&a.widths, &b.widths) {
        prop_assert!(near(x.median.value, y.median.value) && near(x.factor, y.factor));
    }
    Ok(())
}

fn turned(items: &[Item], by_deg: f64) -> Vec<Item> {
    items
        .iter()
        .map(|item| Item { direction: AxialDeg::new(item.direction.degrees() + by_deg).unwrap(), ..*item })
        .collect()
}

fn every_number(d: &Description) -> Vec<f64> {
    let mut all: Vec<f64> =
        [d.density_per_mm2, d.intensity_per_mm, d.centres_per_area, d.resultant, d.uniform_p]
            .into_iter()
            .flatten()
            .collect();
    all.push(d.area);
    all.push(d.sets.background_share);
    for set in &d.sets.sets {
        all.extend([
            set.direction.degrees(),
            set.direction_u_deg,
            set.interval_deg.0,
            set.interval_deg.1,
            set.concentration,
            set.spread_deg,
            set.share,
        ]);
    }
    let estimates = d.sets.crossing.iter().chain(d.spacing.iter().flat_map(|s| s.mean.iter()));
    all.extend(estimates.flat_map(|e| [e.value, e.u, e.low, e.high]));
    if let Ok(stroke) = &d.stroke_length {
        all.extend(stroke.mean.iter().chain(&stroke.median).flat_map(|e| [e.value, e.u, e.low, e.high]));
        all.extend(
            [stroke.at_least, stroke.mean_from_counts, stroke.mean_if_exponential].into_iter().flatten(),
        );
        all.extend(stroke.curve.steps.iter().flat_map(|s| [s.survival, s.u, s.low, s.high]));
    }
    if let Ok(widths) = &d.widths {
        all.extend([
            widths.median.value,
            widths.median.low,
            widths.median.high,
            widths.factor,
            widths.geometric_mean.u,
        ]);
    }
    if let Ok(bow) = &d.straightness {
        all.extend([
            bow.middle.value,
            bow.middle.u,
            bow.typical.value,
            bow.typical.high,
            bow.typical_radius_limit,
        ]);
    }
    for regularity in d.spacing.iter().flat_map(|s| &s.regularity) {
        all.extend([
            regularity.p,
            regularity.p_shape,
            regularity.p_moran,
            regularity.gaps.variation,
            regularity.variation_if_random,
        ]);
    }
    all
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, max_shrink_iters: 30, failure_persistence: None, ..ProptestConfig::default() })]

    /// Only the directions turn: lengths and ends stay as the field showed them.
    #[test]
    fn turning_all_axes_turns_the_sets(items in any_items(40), by_deg in 0.0..180.0_f64) {
        let (before, after) = (describe(&[one_field(items.clone())], &options()), describe(&[one_field(turned(&items, by_deg))], &options()));
        prop_assert!(before.resultant.zip(after.resultant).is_none_or(|(x, y)| near(x, y)));
        prop_assert!(before.uniform_p.zip(after.uniform_p).is_none_or(|(x, y)| near(x, y)));
        // The strongest set of one is found again, turned, in the other, if both name the same number.
        if let (1, [set], [other]) = (before.sets.sets.len(), before.sets.sets.as_slice(), after.sets.sets.as_slice()) {
            let expected = AxialDeg::new(set.direction.degrees() + by_deg).unwrap();
            prop_assert!(expected.angle_to(other.direction) < 0.01, "{} {}", expected.degrees(), other.direction.degrees());
        }
    }

    #[test]
    fn order_does_not_matter(items in any_items(40), first in 0_usize..40) {
        let mut shuffled = items.clone();
        shuffled.reverse();
        let length = shuffled.len().max(1);
        shuffled.rotate_left(first % length);
        let (before, after) = (describe(&[one_field(items)], &options()), describe(&[one_field(shuffled)], &options()));
        same_apart_from_names(&before, &after)?;
        for (x, y) in before.sets.sets.iter().zip(&after.sets.sets) {
            prop_assert!(x.direction.angle_to(y.direction) < 1e-3);
        }
    }

    /// A mirrored picture has mirrored directions and the same sizes.
    #[test]
    fn mirroring_mirrors(items in any_items(40)) {
        let mirror = |item: &Item| Item {
            direction: AxialDeg::new(-item.direction.degrees()).unwrap(),
            curvature_per_px: item.curvature_per_px.scaled(-1.0),
            start_px: [SHAPE_PX.0 - item.start_px[0], item.start_px[1]],
            end_px: [SHAPE_PX.0 - item.end_px[0], item.end_px[1]],
            ..*item
        };
        let mirrored: Vec<Item> = items.iter().map(mirror).collect();
        let (before, after) = (describe(&[one_field(items)], &options()), describe(&[one_field(mirrored)], &options()));
        prop_assert!(before.resultant.zip(after.resultant).is_none_or(|(x, y)| near(x, y)));
        if let (Ok(x), Ok(y)) = (&before.straightness, &after.straightness) {
            prop_assert!(near(x.middle.low, -y.middle.high) && near(x.typical.value, y.typical.value));
            prop_assert_eq!((x.resolved_signs.0, x.resolved_signs.1), (y.resolved_signs.1, y.resolved_signs.0));
        }
    }

    #[test]
    fn every_answer_is_a_number_or_a_reason(items in any_items(12), captures in 1_usize..4) {
        let fields: Vec<Field> = (0..captures).map(|station| Field { station, ..one_field(items.clone()) }).collect();
        let description = describe(&fields, &options());
        for number in every_number(&description) {
            prop_assert!(number.is_finite(), "{:?}", description);
        }
        let compared = compare_stations(&fields, &CompareOptions { resamples: 99, ..CompareOptions::default() });
        for difference in compared.overall.iter().flatten().chain(&compared.pairs) {
            prop_assert!(difference.statistic.is_finite() && (0.0..=1.0).contains(&difference.p), "{:?}", difference);
            prop_assert!(difference.p_holm >= difference.p - 1e-12);
        }
    }

    #[test]
    fn a_reading_agrees_with_itself(items in any_items(20)) {
        let own = agreement(&items, &items, &lay::AgreementOptions::default());
        prop_assert!(own.agreement.is_none_or(|share| share == 1.0), "{:?}", own);
        let none = agreement(&items, &[], &lay::AgreementOptions::default());
        prop_assert!(none.matched.is_empty() && none.share_of_second.is_none());
    }
}

#[test]
fn none_one_two_and_ten_thousand() {
    let strokes = Strokes {
        axis_deg: 30.0,
        kappa: 60.0,
        mean_length_px: 300.0,
        lengths: Lengths::Exponential,
        layout: Layout::Strewn,
        spacing_px: 0.5,
    };
    let crowd = field(&[strokes, Strokes { axis_deg: 110.0, ..strokes }], &mut rng(3));
    assert!(crowd.items.len() > 10_000, "{}", crowd.items.len());
    for number in [0, 1, 2, 10_000] {
        let taken =
            Field { items: crowd.items.iter().rev().take(number).copied().collect(), ..crowd.clone() };
        let description = describe(&[taken], &DescribeOptions::default());
        assert_eq!(description.count, number);
        assert!(
            every_number(&description).iter().all(|value| value.is_finite()),
            "{number}: {description:?}"
        );
        assert_eq!(description.sets.sets.is_empty(), number < 4);
        assert_eq!(description.sets.none_because.is_some(), number < 4);
        assert!(number > 0 || description.stroke_length.is_err() && description.widths.is_err());
    }
    let nothing = describe(&[], &DescribeOptions::default());
    assert_eq!((nothing.count, nothing.captures, nothing.density_per_mm2), (0, 0, None));
    assert!(every_number(&nothing).iter().all(|value| value.is_finite()));
}

/// A field without a scale among fields with one counts for directions, not for lengths, and the note says so.
#[test]
fn mixed_scales_are_said() {
    let items: Vec<Item> = field(&[STROKES], &mut rng(1)).items;
    let scaled = one_field(items.clone());
    let bare = Field { um_per_px: None, ..scaled.clone() };
    let mixed = describe(&[scaled.clone(), bare.clone()], &options());
    let alone = describe(&[scaled], &options());
    assert_eq!(mixed.notes.len(), 1);
    assert_eq!(mixed.density_per_mm2, alone.density_per_mm2);
    assert_eq!(mixed.count, 2 * alone.count);
    let pixels = describe(&[bare], &options());
    assert_eq!((pixels.unit, pixels.density_per_mm2), (lay::Unit::Pixel, None));
}

/// Same input, same digits on one thread and on many.
#[test]
fn threads_do_not_matter() {
    let fields: Vec<Field> =
        (0..6).map(|i| Field { station: i % 2, ..field(&[STROKES], &mut rng(i as u64)) }).collect();
    let run = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| {
            (describe(&fields, &options()), compare_stations(&fields, &CompareOptions::default()))
        })
    };
    assert_eq!(run(1), run(4));
}

const STROKES: Strokes = Strokes {
    axis_deg: 30.0,
    kappa: 60.0,
    mean_length_px: 400.0,
    lengths: Lengths::Exponential,
    layout: Layout::Strewn,
    spacing_px: 60.0,
};
