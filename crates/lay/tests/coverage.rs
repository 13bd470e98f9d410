//! Coverage by simulation: 95 % intervals hold the truth in 93–97 % of 1,000 fields, and sets are counted right.
//!
//! The seeds are fixed, so a run gives the same shares everywhere. The binomial scatter of a share of 95 % in 1,000 is 0.7 %.

#![allow(clippy::unwrap_used, reason = "inputs are made here")]

mod common;

use common::{Layout, Lengths, Strokes, field, simulate, von_mises};
use lay::sets::{self, SetsOptions};
use lay::spacing::Pattern;
use lay::{DescribeOptions, Estimate, describe};
use quantity::AxialDeg;
use rand::RngExt;
use rand_distr::{Distribution, StandardNormal};

const FIELDS: u64 = 1000;
const COVERED: std::ops::RangeInclusive<f64> = 0.93..=0.97;

fn axis(deg: f64) -> AxialDeg {
    AxialDeg::new(deg).unwrap()
}

fn share(of: &[bool]) -> f64 {
    of.iter().filter(|held| **held).count() as f64 / of.len() as f64
}

/// Axes of sets at `means_deg`, `number` of each.
fn axes(means_deg: &[f64], number: usize, kappa: f64, rng: &mut rand_pcg::Pcg64) -> Vec<AxialDeg> {
    let mut all = Vec::new();
    for &mean in means_deg {
        all.extend((0..number).map(|_| axis(mean + 0.5 * von_mises(kappa, rng).to_degrees())));
    }
    all
}

/// Whether the set nearest to `truth_deg` holds it in its interval.
fn holds(found: &sets::Sets, truth_deg: f64) -> bool {
    let truth = axis(truth_deg);
    found
        .sets
        .iter()
        .min_by(|a, b| a.direction.angle_to(truth).total_cmp(&b.direction.angle_to(truth)))
        .is_some_and(|set| set.direction.angle_to(truth) <= 0.5 * (set.interval_deg.1 - set.interval_deg.0))
}

/// Shares of fields in which one, two, … sets are found.
fn numbers_found(means_deg: &[f64], number: usize, background: usize) -> Vec<f64> {
    let found = simulate(FIELDS, |mut rng| {
        let mut all = axes(means_deg, number, 20.0, &mut rng);
        all.extend((0..background).map(|_| axis(180.0 * rng.random::<f64>())));
        Some(sets::fit(&all, &[], &[], SetsOptions::default()).sets.len())
    });
    (0..6).map(|sets| share(&found.iter().map(|&n| n == sets).collect::<Vec<_>>())).collect()
}

/// The bar: 30 traces per set, 20° apart, concentration 20.
#[test]
fn two_sets_are_counted_right() {
    let shares = numbers_found(&[170.0, 10.0], 30, 0);
    assert!(shares[2] >= 0.95, "{shares:?}");
}

#[test]
fn three_sets_are_counted_right() {
    let shares = numbers_found(&[20.0, 40.0, 60.0], 30, 0);
    assert!(shares[3] >= 0.94, "{shares:?}");
}

#[test]
fn single_sets_stay_single() {
    for number in [30, 60] {
        let shares = numbers_found(&[75.0], number, 0);
        assert!(shares[1] >= 0.95, "{number}: {shares:?}");
    }
    // A fifth of strays must not become a set.
    let shares = numbers_found(&[75.0], 48, 12);
    assert!(shares[1] >= 0.95, "{shares:?}");
}

#[test]
fn strays_alone_are_no_lay() {
    for number in [5, 20, 100] {
        let shares = numbers_found(&[], 0, number);
        assert!(shares[0] >= 0.97, "{number}: {shares:?}");
    }
}

/// One capture: every trace stands for itself.
#[test]
fn directions_and_crossing_angle() {
    let held = simulate(FIELDS, |mut rng| {
        let found = sets::fit(&axes(&[5.0, 65.0], 30, 20.0, &mut rng), &[], &[], SetsOptions::default());
        (found.sets.len() == 2)
            .then(|| (holds(&found, 5.0), holds(&found, 65.0), found.crossing.unwrap().covers(60.0)))
    });
    assert!(held.len() as f64 >= 0.97 * FIELDS as f64, "{}", held.len());
    let first = share(&held.iter().map(|h| h.0).collect::<Vec<_>>());
    let second = share(&held.iter().map(|h| h.1).collect::<Vec<_>>());
    let crossing = share(&held.iter().map(|h| h.2).collect::<Vec<_>>());
    assert!(
        [first, second, crossing].iter().all(|share| COVERED.contains(share)),
        "{first} {second} {crossing}"
    );
}

/// Four captures, each turned as a whole by 1.5° (standard deviation): traces of one capture are no independent witnesses.
#[test]
fn directions_from_several_captures() {
    let held = simulate(FIELDS, |mut rng| {
        let (mut all, mut captures) = (Vec::new(), Vec::new());
        for capture in 0..4 {
            let z: f64 = StandardNormal.sample(&mut rng);
            let turned = axes(&[5.0 + 1.5 * z], 20, 60.0, &mut rng);
            captures.extend(vec![capture; turned.len()]);
            all.extend(turned);
        }
        let found = sets::fit(&all, &[], &captures, SetsOptions::default());
        (found.sets.len() == 1).then(|| holds(&found, 5.0))
    });
    assert!(held.len() as f64 >= 0.97 * FIELDS as f64, "{}", held.len());
    assert!(COVERED.contains(&share(&held)), "{}", share(&held));
}

const STREWN: Strokes = Strokes {
    axis_deg: 30.0,
    kappa: 60.0,
    mean_length_px: 400.0,
    lengths: Lengths::Exponential,
    layout: Layout::Strewn,
    spacing_px: 60.0,
};

/// One set is enough where lengths are the question; it keeps the runs short.
fn options() -> DescribeOptions {
    DescribeOptions { resamples: 199, sets: SetsOptions { most_sets: 1 }, ..DescribeOptions::default() }
}

fn covered(estimates: &[Estimate], truth: f64) -> f64 {
    share(&estimates.iter().map(|estimate| estimate.covers(truth)).collect::<Vec<_>>())
}

/// Mean stroke length and mean spacing in fields of strewn strokes: short and long ones, three laws of length.
#[test]
fn stroke_length_and_spacing() {
    let scenes = [
        ("short, exponential", STREWN),
        ("short, equal", Strokes { lengths: Lengths::Fixed, ..STREWN }),
        ("short, log-normal", Strokes { lengths: Lengths::LogNormal(1.0), ..STREWN }),
        ("longer than the field", Strokes { mean_length_px: 1500.0, spacing_px: 30.0, ..STREWN }),
        ("longer, equal", Strokes { mean_length_px: 2000.0, lengths: Lengths::Fixed, ..STREWN }),
        ("few", Strokes { spacing_px: 150.0, ..STREWN }),
    ];
    for (name, strokes) in scenes {
        let found = simulate(FIELDS, |mut rng| {
            let description = describe(&[field(&[strokes], &mut rng)], &options());
            let length = description.stroke_length.ok().and_then(|stroke| stroke.mean.ok());
            let spacing = description.spacing.first().and_then(|spacing| spacing.mean.clone().ok());
            length.zip(spacing)
        });
        assert!(found.len() as f64 >= 0.98 * FIELDS as f64, "{name}: {}", found.len());
        let lengths: Vec<Estimate> = found.iter().map(|pair| pair.0).collect();
        let spacings: Vec<Estimate> = found.iter().map(|pair| pair.1).collect();
        let (of_length, of_spacing) =
            (covered(&lengths, strokes.mean_length_px), covered(&spacings, strokes.spacing_px));
        assert!(COVERED.contains(&of_length), "{name}: stroke length {of_length}");
        assert!((0.93..=0.975).contains(&of_spacing), "{name}: spacing {of_spacing}");
        // The mean of the estimates is off by no more than small numbers make any inverse of a count.
        let bias =
            lengths.iter().map(|e| e.value).sum::<f64>() / lengths.len() as f64 / strokes.mean_length_px;
        assert!((0.98..1.06).contains(&bias), "{name}: {bias}");
    }
}

/// The median of the survival curve, where one is named.
#[test]
fn median_stroke_length() {
    let medians = simulate(FIELDS, |mut rng| {
        describe(&[field(&[STREWN], &mut rng)], &options())
            .stroke_length
            .ok()
            .and_then(|stroke| stroke.median.ok())
    });
    assert!(medians.len() as f64 >= 0.85 * FIELDS as f64, "{}", medians.len());
    // Median of an exponential law: mean times ln 2. Half the weight of one-ended traces makes it cautious.
    let of_median = covered(&medians, 400.0 * std::f64::consts::LN_2);
    assert!((0.93..=0.99).contains(&of_median), "{of_median}");
    let none = simulate(200, |mut rng| {
        let long = Strokes { mean_length_px: 5000.0, ..STREWN };
        describe(&[field(&[long], &mut rng)], &options())
            .stroke_length
            .ok()
            .and_then(|stroke| stroke.median.ok())
    });
    assert!(none.is_empty(), "no field can name the median of strokes four times its size");
}

/// Strewn lines are called random in 95 %; a feed with places shifted by a fifth of its step is called regular; its mean
/// spacing is held at least as often as promised (a feed errs less than any interval from its gaps can know).
#[test]
fn regularity() {
    let random = simulate(FIELDS, |mut rng| {
        let description = describe(&[field(&[STREWN], &mut rng)], &options());
        description.spacing.first().and_then(|spacing| Some(spacing.regularity.as_ref().ok()?.pattern))
    });
    let called = share(&random.iter().map(|p| *p == Pattern::Random).collect::<Vec<_>>());
    assert!(COVERED.contains(&called), "{called}");
    let feed = Strokes {
        mean_length_px: 6000.0,
        lengths: Lengths::Fixed,
        layout: Layout::Feed(0.2),
        kappa: 3000.0,
        ..STREWN
    };
    let regular = simulate(300, |mut rng| {
        let description = describe(&[field(&[feed], &mut rng)], &options());
        let spacing = description.spacing.first()?;
        Some((spacing.regularity.as_ref().ok()?.pattern, spacing.mean.as_ref().ok()?.covers(feed.spacing_px)))
    });
    assert!(share(&regular.iter().map(|r| r.0 == Pattern::Regular).collect::<Vec<_>>()) >= 0.95);
    assert!(share(&regular.iter().map(|r| r.1).collect::<Vec<_>>()) >= 0.95);
}

/// Curvatures of traces that differ among themselves, seen through unequal uncertainties, one in ten of them followed wrongly.
#[test]
fn middle_and_typical_bow() {
    let spread = 3e-5;
    // Half of a normal law lies within 0.6745 standard deviations.
    let typical = 0.674_49 * spread;
    for (traces, wrong, covered) in [(25, 0, COVERED), (25, 10, 0.92..=0.98), (200, 0, COVERED)] {
        let held = simulate(FIELDS, |mut rng| {
            let mut normal = || -> f64 { StandardNormal.sample(&mut rng) };
            let u: Vec<f64> = (0..traces).map(|i| 1e-5 * (1.0 + f64::from(i % 5))).collect();
            let values: Vec<f64> = (0..traces)
                .zip(&u)
                .map(|(i, u)| {
                    let own = if wrong > 0 && i % wrong == 3 { 1e-3 } else { *u };
                    spread * normal() + own * normal()
                })
                .collect();
            let found = lay::curvature::straightness(&values, &u).unwrap();
            Some((found.middle.covers(0.0), found.typical.covers(typical)))
        });
        let of_middle = share(&held.iter().map(|h| h.0).collect::<Vec<_>>());
        let of_typical = share(&held.iter().map(|h| h.1).collect::<Vec<_>>());
        assert!(
            covered.contains(&of_middle) && covered.contains(&of_typical),
            "{traces} traces, one in {wrong} wrong: {of_middle} {of_typical}"
        );
    }
}

/// Arcs of one radius bent to either side, as of a disc that came from two sides, have that radius; straight traces have none
/// that their uncertainties would show, though one in six of them was followed wrongly.
#[test]
fn radius_of_arcs_and_of_straight_traces() {
    let bow_of = |curvature: f64| {
        simulate(300, |mut rng| {
            let mut normal = || -> f64 { StandardNormal.sample(&mut rng) };
            let u: Vec<f64> = (0..60).map(|i| 1e-5 * (1.0 + f64::from(i % 4))).collect();
            let values: Vec<f64> = (0..60)
                .zip(&u)
                .map(|(i, u)| {
                    let side = if i % 2 == 0 { curvature } else { -curvature };
                    if i % 6 == 0 { 2e-3 * normal() } else { side + u * normal() }
                })
                .collect();
            Some(lay::curvature::straightness(&values, &u).unwrap().typical)
        })
    };
    let arcs = bow_of(1.2e-4);
    let mean = arcs.iter().map(|bow| bow.value).sum::<f64>() / arcs.len() as f64;
    assert!((mean / 1.2e-4 - 1.0).abs() < 0.05, "{mean}");
    assert!(arcs.iter().all(|bow| bow.low > 6e-5 && bow.high < 3e-4));
    let straight = bow_of(0.0);
    let told = share(&straight.iter().map(|bow| bow.low > 0.0).collect::<Vec<_>>());
    assert!(told < 0.3, "{told}");
    assert!(straight.iter().all(|bow| bow.low < 2e-5 && bow.high < 6e-5));
}

/// Stations that do not differ are called different in 5 % (here: not in more than 7 %), stations whose widths differ by a
/// half are found.
#[test]
fn stations_compared() {
    let p_values = |factor: f64| {
        simulate(200, |mut rng| {
            let mut fields = Vec::new();
            for station in 0..2 {
                for _ in 0..5 {
                    let z: f64 = StandardNormal.sample(&mut rng);
                    let mut capture = field(&[Strokes { spacing_px: 100.0, ..STREWN }], &mut rng);
                    capture.station = station;
                    for item in &mut capture.items {
                        let own: f64 = StandardNormal.sample(&mut rng);
                        item.width_px.value *=
                            (0.1 * z + 0.2 * own).exp() * if station == 1 { factor } else { 1.0 };
                    }
                    fields.push(capture);
                }
            }
            let compared = lay::compare_stations(&fields, &lay::CompareOptions::default());
            let widths = compared.overall.into_iter().flatten().find(|d| d.quantity == lay::Quantity::Width);
            widths.map(|difference| difference.p)
        })
    };
    let false_alarms = share(&p_values(1.0).iter().map(|p| *p < 0.05).collect::<Vec<_>>());
    assert!(false_alarms <= 0.08, "{false_alarms}");
    let found = share(&p_values(1.5).iter().map(|p| *p < 0.05).collect::<Vec<_>>());
    assert!(found >= 0.95, "{found}");
}
