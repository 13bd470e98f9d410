//! Few captures, unequal captures, captures of another scale: intervals stay open where they must, and never shut to nothing.

#![allow(clippy::unwrap_used, reason = "inputs are made here")]

mod common;

use common::{Layout, Lengths, Strokes, field, rng, simulate, von_mises};
use lay::sets::{self, SetsOptions};
use lay::{CannotTell, DescribeOptions, Field, cluster, describe};
use quantity::{AxialDeg, UmPerPx};

fn axis(deg: f64) -> AxialDeg {
    AxialDeg::new(deg).unwrap()
}

fn options() -> DescribeOptions {
    DescribeOptions { resamples: 99, ..DescribeOptions::default() }
}

const STREWN: Strokes = Strokes {
    axis_deg: 30.0,
    kappa: 200.0,
    mean_length_px: 400.0,
    lengths: Lengths::Exponential,
    layout: Layout::Strewn,
    spacing_px: 60.0,
};

fn scaled(strokes: Strokes, um_per_px: f64, seed: u64) -> Field {
    Field { um_per_px: UmPerPx::new(um_per_px, 0.001 * um_per_px), ..field(&[strokes], &mut rng(seed)) }
}

/// One set on all three captures, a second on one of them alone: the influences of the second cancel within its capture,
/// so captures cannot give its interval; its traces do, and hold the truth as often as promised.
#[test]
fn a_set_of_one_capture_has_an_honest_interval() {
    let found = simulate(400, |mut rng| {
        let (mut axes, mut captures) = (Vec::new(), Vec::new());
        for capture in 0..3 {
            for (mean, number) in [(30.0, 15), (80.0, if capture == 1 { 14 } else { 0 })] {
                let drawn = (0..number).map(|_| axis(mean + 0.5 * von_mises(100.0, &mut rng).to_degrees()));
                axes.extend(drawn);
                captures.extend(vec![capture; number]);
            }
        }
        let found = sets::fit(&axes, &[], &captures, SetsOptions::default());
        let second = found.sets.iter().find(|set| set.direction.angle_to(axis(80.0)) < 10.0).copied()?;
        let half = 0.5 * (second.interval_deg.1 - second.interval_deg.0);
        Some((second.clusters, half, second.direction.angle_to(axis(80.0)) <= half))
    });
    assert!(found.len() >= 390, "{}", found.len());
    assert!(found.iter().all(|one| one.0 == 1), "one capture shows it");
    assert!(found.iter().all(|one| one.1 > 0.4), "{:?}", found.iter().map(|one| one.1).reduce(f64::min));
    let held = found.iter().filter(|one| one.2).count() as f64 / found.len() as f64;
    assert!((0.92..=0.98).contains(&held), "{held}");
}

/// Identical directions: what a tilted camera does to them remains.
#[test]
fn no_direction_is_known_without_end() {
    let axes: Vec<AxialDeg> = (0..20).map(|_| axis(45.0)).collect();
    let found = sets::fit(&axes, &[], &[], SetsOptions::default());
    let set = found.sets[0];
    assert!(set.direction_u_deg >= 0.06 && set.interval_deg.1 - set.interval_deg.0 > 0.2, "{set:?}");
}

/// Three captures that agree by chance do not shrink the interval below what the traces alone allow, and one capture that
/// holds nearly everything is no sample of captures.
#[test]
fn chance_agreement_is_no_certainty() {
    let influences = [0.1, -0.1, 0.1, -0.1, 0.1, -0.1];
    let even = [1.0; 6];
    let alone = cluster::spread(&influences, &even, &[0; 6]);
    let agreeing = cluster::spread(&influences, &even, &[0, 0, 1, 1, 2, 2]);
    assert_eq!(agreeing, alone);
    let nearly_all = [1.0, 1.0, 1.0, 1.0, 1.0, 0.01];
    assert_eq!(cluster::spread(&influences, &nearly_all, &[0, 0, 0, 0, 0, 1]), alone);
    // Captures that differ count as captures: by hand, sums ±0.2 and 0, times 3/2, two degrees of freedom.
    let differing = cluster::spread(&[0.1, 0.1, -0.1, -0.1, 0.0, 0.0], &even, &[0, 0, 1, 1, 2, 2]);
    assert!((differing.u - (0.08_f64 * 1.5).sqrt()).abs() < 1e-12 && (differing.degrees - 2.0).abs() < 1e-9);
}

/// A group of fewer than a tenth of the traces is no set, however parallel.
#[test]
fn a_handful_of_parallel_strays_is_no_set() {
    let mut rng = rng(5);
    let mut axes: Vec<AxialDeg> =
        (0..60).map(|_| axis(30.0 + 0.5 * von_mises(100.0, &mut rng).to_degrees())).collect();
    axes.extend((0..5).map(|i| axis(120.0 + 0.02 * f64::from(i))));
    let found = sets::fit(&axes, &[], &[], SetsOptions::default());
    assert_eq!(found.sets.len(), 1, "{:?}", found.sets);
    assert!(found.background_share > 0.03, "{}", found.background_share);
}

/// A near field shows finer and shorter marks: it takes no part in the lengths of the wide ones, and a note says so.
#[test]
fn fields_of_another_scale_do_not_mix_into_lengths() {
    let wide: Vec<Field> = (0..2).map(|seed| scaled(STREWN, 4.0, seed)).collect();
    let near = scaled(Strokes { mean_length_px: 150.0, spacing_px: 25.0, ..STREWN }, 0.8, 9);
    let alone = describe(&wide, &options());
    let together = describe(&[wide.clone(), vec![near]].concat(), &options());
    assert_eq!(alone.stroke_length, together.stroke_length);
    assert_eq!(alone.density_per_mm2, together.density_per_mm2);
    assert_eq!(alone.area, together.area);
    assert!(
        together.notes.iter().any(|note| note.contains("2 captures of the widest scale")),
        "{:?}",
        together.notes
    );
    assert!(alone.notes.is_empty(), "{:?}", alone.notes);
}

/// Captures whose strokes differ twentyfold give no mean with an interval of hundreds, but a least length.
#[test]
fn captures_that_differ_too_much_give_a_least_length() {
    let fields: Vec<Field> = [60.0, 1200.0, 90.0]
        .into_iter()
        .enumerate()
        .map(|(seed, mean_length_px)| {
            scaled(Strokes { mean_length_px, spacing_px: 40.0, ..STREWN }, 4.0, seed as u64)
        })
        .collect();
    let stroke = describe(&fields, &options()).stroke_length.unwrap();
    assert!(matches!(stroke.mean, Err(CannotTell::Open { .. })), "{:?}", stroke.mean);
    let least = stroke.at_least.unwrap();
    assert!(least > 0.0 && least < 0.004 * 400.0, "{least} mm");
}

/// Lines of one grain take no part in the sets and are counted apart.
#[test]
fn patches_of_parallel_lines_make_no_set() {
    let strewn = field(&[STREWN], &mut rng(3));
    let grain = Strokes {
        axis_deg: 110.0,
        kappa: 1e7,
        mean_length_px: 200.0,
        lengths: Lengths::Fixed,
        spacing_px: 25.0,
        ..STREWN
    };
    let mut lines = field(&[grain], &mut rng(4));
    lines.items.retain(|item| {
        [item.start_px, item.end_px]
            .iter()
            .all(|p| p[0] > 300.0 && p[0] < 750.0 && p[1] > 200.0 && p[1] < 650.0)
    });
    let number = lines.items.len();
    assert!(number >= 6, "{number}");
    let mixed = Field { items: [strewn.items.clone(), lines.items].concat(), ..strewn };
    let found = describe(&[mixed], &options());
    assert_eq!((found.in_patches, found.sets.sets.len()), (number, 1), "{:?}", found.sets.sets);
    assert!(found.notes.iter().any(|note| note.contains("patches of parallel lines")), "{:?}", found.notes);
}

/// Three captures whose one broad lay is split elsewhere by each: pooled they show no more sets than all of them support.
#[test]
fn sets_that_captures_do_not_agree_on_are_not_told_apart() {
    let numbers = simulate(100, |mut rng| {
        let (mut axes, mut captures) = (Vec::new(), Vec::new());
        for (capture, means) in [[150.0, 166.0], [158.0, 174.0], [146.0, 170.0]].into_iter().enumerate() {
            for mean in means {
                axes.extend((0..20).map(|_| axis(mean + 0.5 * von_mises(150.0, &mut rng).to_degrees())));
            }
            captures.extend(vec![capture; 40]);
        }
        let found = sets::fit(&axes, &[], &captures, SetsOptions::default());
        let apart = found.crossing.as_ref().map_or(true, |crossing| crossing.low > 0.0);
        Some((found.sets.len(), apart))
    });
    // The rule works at 95 %: that share shows no more than two, and what is named is always apart.
    assert!(numbers.iter().filter(|n| n.0 <= 2).count() >= 95 && numbers.iter().all(|n| n.1), "{numbers:?}");
}
