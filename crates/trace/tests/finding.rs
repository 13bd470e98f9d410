//! What is found on pictures whose lines are known, and what is answered where there is nothing to find.

mod common;

use common::{Ridge, clean, picture};
use picture::{Grey, Motion};
use quantity::AxialDeg;
use trace::{Settings, TraceError, find};

fn ridges() -> Vec<Ridge> {
    let ridge = |x: f64, y: f64, direction_deg: f64, curvature_per_px: f64, length_px: f64| Ridge {
        middle: [x, y],
        direction_deg,
        curvature_per_px,
        length_px,
        sigma_px: 1.4,
        amplitude: 0.06,
    };
    vec![
        ridge(210.0, 150.0, 30.0, 0.0, 300.0),
        ridge(200.0, 140.0, 120.0, 0.0, 220.0),
        ridge(120.0, 220.0, 5.0, 0.002, 180.0),
    ]
}

#[test]
fn faint_lines_and_an_arc_are_found_whole() {
    // The ridges stand 1.5 noise spreads high: no single pixel shows them.
    let grey = picture(420, 300, &ridges(), 0.04, 11);
    let found = find(&grey, &clean(), &Settings::default(), &|_| true).unwrap();
    for ridge in ridges() {
        let axis = AxialDeg::new(ridge.direction_deg).unwrap();
        let best = found
            .traces
            .iter()
            .find(|t| t.direction.angle_to(axis) < 2.0)
            .unwrap_or_else(|| panic!("{ridge:?} not found"));
        assert!(
            (best.length_px - ridge.length_px).abs() < 0.2 * ridge.length_px,
            "{ridge:?}: {} px",
            best.length_px
        );
        let off = (best.curvature_per_px.value - ridge.curvature_per_px).abs();
        assert!(off < 5.0 * best.curvature_per_px.u, "{ridge:?}: {}", best.curvature_per_px);
        assert_eq!(best.ends.count(), 2);
    }
    assert!(found.traces.len() <= 4, "{} traces for three ridges", found.traces.len());
    assert!(found.traces.iter().all(|t| t.log10_nfa <= 0.0));
}

/// Grooves as broad as the background's window are seen at half resolution, where they are narrow, and told in pixels and noise of
/// the picture.
#[test]
fn a_broad_groove_is_measured_on_its_axis() {
    let ridge = Ridge {
        middle: [250.0, 200.0],
        direction_deg: 20.0,
        curvature_per_px: 0.0,
        length_px: 360.0,
        sigma_px: 5.5,
        amplitude: 0.05,
    };
    let grey = picture(500, 400, &[ridge], 0.04, 31);
    let found = find(&grey, &clean(), &Settings::default(), &|_| true).unwrap();
    let axis = AxialDeg::new(ridge.direction_deg).unwrap();
    let best = found.traces.first().unwrap();
    assert!(best.direction.angle_to(axis) < 0.5, "{best:?}");
    let (sin, cos) = ridge.direction_deg.to_radians().sin_cos();
    let off = |p: &[f64; 2]| ((p[0] - ridge.middle[0]) * sin + (p[1] - ridge.middle[1]) * cos).abs();
    let mean_off = best.points_px.iter().map(off).sum::<f64>() / best.points_px.len() as f64;
    assert!(mean_off < 0.8, "{mean_off} px off its axis");
    assert!((best.length_px - ridge.length_px).abs() < 40.0, "{} px", best.length_px);
    let step =
        best.points_px.windows(2).map(|p| (p[1][0] - p[0][0]).hypot(p[1][1] - p[0][1])).fold(0.0, f64::max);
    assert!(step < 9.0, "points {step} px apart");
    assert_eq!(best.ends.count(), 2);
    // The drop from the ridge to its flanks is 1.25 noise spreads, of which the background takes up to a half; in spreads of the
    // half level, where noise is half as strong, it would be as much again.
    assert!((0.6..0.9).contains(&best.contrast), "{} spreads", best.contrast);
    let full_width = 2.355 * ridge.sigma_px;
    assert!((best.width_px.value / full_width - 1.0).abs() < 0.35, "{} for {full_width} px", best.width_px);
}

/// Half a picture of odd size reaches half a pixel of its own beyond it.
#[test]
fn a_broad_groove_ends_at_the_border_of_an_odd_picture() {
    let ridge = Ridge {
        middle: [250.0, 166.0],
        direction_deg: 86.0,
        curvature_per_px: 0.0,
        length_px: 900.0,
        sigma_px: 7.5,
        amplitude: 0.12,
    };
    let grey = picture(501, 333, &[ridge], 0.04, 41);
    let found = find(&grey, &clean(), &Settings::default(), &|_| true).unwrap();
    let best = found.traces.first().unwrap();
    let inside = |p: &[f64; 2]| (-0.501..=500.501).contains(&p[0]) && (-0.501..=332.501).contains(&p[1]);
    assert!(best.points_px.iter().all(inside), "{:?}", best.points_px);
    assert!(best.length_px > 320.0 && best.ends.count() == 0, "{} px", best.length_px);
}

/// A long straight segment leaves a loop of this radius within its own length; short ones stay on it.
#[test]
fn a_small_loop_is_followed() {
    let radius = 70.0;
    let ridge = Ridge {
        middle: [150.0, 80.0],
        direction_deg: 0.0,
        curvature_per_px: -1.0 / radius,
        length_px: 1.6 * std::f64::consts::PI * radius,
        sigma_px: 1.4,
        amplitude: 0.1,
    };
    let grey = picture(300, 300, &[ridge], 0.04, 21);
    let found = find(&grey, &clean(), &Settings::default(), &|_| true).unwrap();
    let centre = [150.0, 80.0 + radius];
    let away = |p: &[f64; 2]| ((p[0] - centre[0]).hypot(p[1] - centre[1]) - radius).abs();
    let on_it: Vec<&trace::Trace> =
        found.traces.iter().filter(|t| t.points_px.iter().all(|p| away(p) < 2.0)).collect();
    let length: f64 = on_it.iter().map(|t| t.length_px).sum();
    assert!(length > 0.75 * ridge.length_px, "{length:.0} px of {:.0} px", ridge.length_px);
    assert!(on_it.len() <= 3, "in {} pieces", on_it.len());
}

/// Length of the traces that keep within 2 px of a row of the picture, px, and how many they are.
fn along_row(traces: &[trace::Trace], y: f64) -> (f64, usize) {
    let on_it: Vec<&trace::Trace> =
        traces.iter().filter(|t| t.points_px.iter().all(|p| (p[1] - y).abs() < 2.0)).collect();
    (on_it.iter().map(|t| t.length_px).sum(), on_it.len())
}

/// A grain that sticks and slips, and boundaries between minerals that take no mark: one stroke of changing strength with gaps.
#[test]
fn a_stroke_that_sticks_and_slips_stays_one() {
    let pieces = [(60.0, 70.0, 0.10), (145.0, 80.0, 0.05), (236.0, 84.0, 0.12), (330.0, 84.0, 0.07)];
    let ridges: Vec<Ridge> = pieces
        .into_iter()
        .map(|(x, length_px, amplitude)| Ridge {
            middle: [x, 100.0],
            direction_deg: 0.0,
            curvature_per_px: 0.0,
            length_px,
            sigma_px: 1.4,
            amplitude,
        })
        .collect();
    let grey = picture(400, 200, &ridges, 0.025, 31);
    let found = find(&grey, &clean(), &Settings::default(), &|_| true).unwrap();
    let (length, pieces) = along_row(&found.traces, 100.0);
    assert!(length > 0.8 * 347.0 && pieces <= 2, "{length:.0} px of 347 px in {pieces} pieces");
}

/// Both walls of a broad groove under light from one side, a bright and a dark strip 6 px apart: one trace between them.
#[test]
fn a_broad_groove_lit_from_one_side_is_one_trace_on_its_axis() {
    let wall = |y: f64, amplitude: f64| Ridge {
        middle: [200.0, y],
        direction_deg: 0.0,
        curvature_per_px: 0.0,
        length_px: 300.0,
        sigma_px: 2.0,
        amplitude,
    };
    let grey = picture(400, 200, &[wall(97.0, 0.12), wall(103.0, -0.12)], 0.03, 32);
    let found = find(&grey, &clean(), &Settings::default(), &|_| true).unwrap();
    let (length, pieces) = along_row(&found.traces, 100.0);
    assert!(length > 0.8 * 300.0 && pieces == 1, "{length:.0} px of 300 px in {pieces} pieces");
}

#[test]
fn noise_alone_yields_no_more_than_was_promised() {
    let traces: usize = (0..3)
        .map(|seed| {
            let grey = picture(400, 300, &[], 0.04, seed);
            find(&grey, &clean(), &Settings::default(), &|_| true).unwrap().traces.len()
        })
        .sum();
    // Fewer than the three a picture that are allowed, for plain noise looks less like grooves than stone does: at one a
    // picture, more than eight of three pictures have a chance below 1 % (Poisson, mean 3).
    assert!(traces <= 8, "{traces} traces on three pictures of noise");
}

#[test]
fn the_number_of_threads_changes_nothing() {
    let grey = picture(420, 300, &ridges(), 0.04, 12);
    let run = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| find(&grey, &clean(), &Settings::default(), &|_| true).unwrap())
    };
    assert_eq!(run(1), run(3));
}

#[test]
fn pictures_without_content_yield_nothing_and_do_not_fail() {
    for value in [0.0, 0.5, 1.0, f32::NAN] {
        let grey = Grey::new(120, 90, vec![value; 120 * 90]).unwrap();
        let found = find(&grey, &clean(), &Settings::default(), &|_| true).unwrap();
        assert!(found.traces.is_empty(), "{value}: {} traces", found.traces.len());
    }
}

#[test]
fn a_picture_too_small_says_so() {
    let grey = Grey::new(20_000, 10, vec![0.5; 200_000]).unwrap();
    let failed = find(&grey, &clean(), &Settings::default(), &|_| true).unwrap_err();
    assert!(failed.to_string().contains("20000 × 10"), "{failed}");
}

#[test]
fn a_motion_blurred_picture_is_refused_with_the_reason() {
    let grey = picture(200, 150, &[], 0.04, 1);
    let mut quality = clean();
    quality.motion = Some(Motion { direction: AxialDeg::new(40.0).unwrap(), length_px: 9.0 });
    let found = find(&grey, &quality, &Settings::default(), &|_| true).unwrap();
    assert!(found.traces.is_empty());
    assert!(found.refused.is_some_and(|why| why.contains("motion") && why.contains("40°")));
    assert!((found.noise_sigma / 0.04 - 1.0).abs() < 0.5, "{}", found.noise_sigma);
}

#[test]
fn the_watcher_can_stop_the_search() {
    let grey = picture(200, 150, &[], 0.04, 1);
    assert_eq!(find(&grey, &clean(), &Settings::default(), &|done| done < 0.3), Err(TraceError::Stopped));
}
