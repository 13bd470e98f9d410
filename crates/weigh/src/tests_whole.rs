//! A whole weighing on simulated visits, and every way in which one cannot be made.

use crate::geometry::Geometry;
use crate::mark::Mark;
use crate::panels::{Panel, PanelError, PanelUse, leave_one_out};
use crate::simulate::{generator, simulate_marks};
use crate::{CannotWeigh, Engine, Options, SeenCapture, SeenTrace, Visit, weigh};
use finish::models::{Draw, Finish};
use picture::Light;
use quantity::{AxialDeg, Measured, UmPerPx};

fn capture(name: &str, station: &str, traces: Vec<SeenTrace>) -> SeenCapture {
    SeenCapture {
        name: name.into(),
        station: station.into(),
        width_px: 2592,
        height_px: 1944,
        scale: UmPerPx::new(6000.0 / 2592.0, 0.01),
        sharpness_px: Some(1.2),
        light: Light::Ring,
        lens_residual: Some(0.0005),
        traces,
    }
}

/// A trace that the same fit reads as this mark (to the accuracy of a parabola).
fn trace_of(mark: &Mark) -> SeenTrace {
    let mm_per_px = 6.0 / 2592.0;
    let (sin, cos) = mark.direction_rad.sin_cos();
    let points_px = (0..=20)
        .map(|k| {
            let s = (f64::from(k) / 20.0 - 0.5) * mark.length_mm;
            let bow = 0.5 * mark.curvature_per_mm * s * s;
            let (x, y) = (mark.at_mm[0] + s * cos - bow * sin, mark.at_mm[1] + s * sin + bow * cos);
            [(x + 3.0) / mm_per_px, (2.25 - y) / mm_per_px]
        })
        .collect();
    SeenTrace {
        points_px,
        length_px: mark.length_mm / mm_per_px,
        width_px: mark.width_um / 1000.0 / mm_per_px,
        direction: AxialDeg::new(mark.direction_rad.to_degrees()).unwrap(),
        curvature_per_px: Measured { value: mark.curvature_per_mm * mm_per_px, u: 1e-6 },
        ends_inside: mark.ends_inside,
        suspect: false,
    }
}

fn visit_of(finish: &str, index: u64) -> Visit {
    let geometry = Geometry::equal(2, 1, 6.0, 2592.0);
    let finish = Finish::named(finish).unwrap();
    let mut rng = generator(77, 5, index);
    let (fields, _) = simulate_marks(finish, &Draw::WIDE, &geometry, &mut rng);
    let captures = fields.iter().enumerate().map(|(number, marks)| {
        capture(
            &format!("capture {number}"),
            &format!("station {number}"),
            marks.iter().map(trace_of).collect(),
        )
    });
    Visit { captures: captures.collect() }
}

fn quick() -> Options {
    Options { objects_per_finish: 80, sensitivity: true, ..Options::default() }
}

#[test]
fn a_visit_is_weighed_the_same_from_stored_bytes_and_at_any_thread_count() {
    let visit = (0..50).map(|i| visit_of("orbital-pad", i)).find(|v| v.weighable().is_ok()).unwrap();
    let run = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| Engine::train(&visit, &quick(), &|_| true).unwrap())
    };
    let engine = run(1);
    assert_eq!(engine, run(3));
    assert_eq!(engine.name(), Engine::key(&visit, &quick()));
    let stored = Engine::from_bytes(&engine.to_bytes()).unwrap();
    let weighing = engine.weigh(&visit, &quick()).unwrap();
    assert_eq!(weighing, stored.weigh(&visit, &quick()).unwrap());
    assert_eq!(weighing.pairs.len(), 21);
    assert_eq!(weighing.stations.stations.len(), 2);
    assert!(weighing.posterior.is_empty(), "no prior was typed");
    assert!(weighing.sensitivity.len() >= 13);
    for pair in &weighing.pairs {
        assert!(pair.low <= pair.log10_lr && pair.log10_lr <= pair.high, "{pair:?}");
    }
    let bytes = engine.to_bytes();
    assert!(Engine::from_bytes(&bytes[..bytes.len() / 2]).is_none());
}

#[test]
fn what_cannot_be_weighed_is_said_in_words() {
    let good = (0..50).map(|i| visit_of("guided-rub", i)).find(|v| v.weighable().is_ok()).unwrap();
    let trace = good.captures[0].traces.first().or(good.captures[1].traces.first()).unwrap().clone();
    let one = |traces: Vec<SeenTrace>| Visit { captures: vec![capture("c", "s", traces)] };
    let with = |change: &dyn Fn(&mut SeenTrace)| {
        let mut traces = vec![trace.clone(); 20];
        change(&mut traces[3]);
        one(traces)
    };
    let unscaled =
        Visit { captures: vec![SeenCapture { scale: None, ..capture("c", "s", vec![trace.clone(); 20]) }] };
    let mut contradictory = one(vec![trace.clone(); 20]);
    let other = SeenCapture {
        name: "d".into(),
        scale: UmPerPx::new(2000.0, 1.0),
        ..contradictory.captures[0].clone()
    };
    contradictory.captures.push(other);
    let suspect = SeenTrace { suspect: true, ..trace.clone() };
    for (visit, expected) in [
        (Visit::default(), "no capture"),
        (unscaled, "the capture has no scale"),
        (one(Vec::new()), "no trace"),
        (one(vec![trace.clone(); 3]), "only 3 traces"),
        (one(vec![suspect; 12]), "all 12 traces are suspect"),
        (contradictory, "contradict"),
        (with(&|t| t.length_px = f64::NAN), "not a number in trace 4"),
        (with(&|t| t.ends_inside = 7), "7 ends"),
        (with(&|t| t.points_px.truncate(1)), "fewer than two points"),
        (with(&|t| t.points_px[0] = [1e9, 0.0]), "far outside"),
    ] {
        let error = weigh(&visit, &quick(), &|_| true).unwrap_err();
        assert!(error.to_string().contains(expected), "{error} should say {expected}");
    }
    assert_eq!(weigh(&good, &quick(), &|_| false).unwrap_err(), CannotWeigh::Interrupted);
}

fn weighable(finish: &str, from: u64) -> Visit {
    (from..from + 50).map(|i| visit_of(finish, i)).find(|visit| visit.weighable().is_ok()).unwrap()
}

fn panel(finish: &str, number: u64) -> Panel {
    Panel {
        name: format!("{finish} {number}"),
        finish: Finish::named(finish).unwrap(),
        visit: weighable(finish, 100 * number),
    }
}

#[test]
fn panels_change_the_engine_and_its_name() {
    let visit = weighable("orbital-pad", 0);
    let panels = [panel("orbital-pad", 1), panel("guided-rub", 1)];
    let options = Options { objects_per_finish: 60, sensitivity: false, ..Options::default() };
    let train =
        |panel_use| Engine::train_with_panels(&visit, &panels, panel_use, &options, &|_| true).unwrap();
    let (updated, replaced) = (train(PanelUse::Update), train(PanelUse::Replace));
    assert_eq!(updated.name(), Engine::key_with_panels(&visit, &panels, PanelUse::Update, &options));
    assert_ne!(updated.name(), replaced.name());
    assert_ne!(updated.name(), Engine::key(&visit, &options));
    // The same visit, weighed with other models: another answer, and both are answers to this visit.
    let answers = [&updated, &replaced].map(|engine| engine.weigh(&visit, &options).unwrap());
    assert_ne!(answers[0].finishes, answers[1].finishes);
    let other = Options { seed: 2, ..options.clone() };
    assert_eq!(updated.weigh(&visit, &other).unwrap_err(), CannotWeigh::OtherEngine);
    let small =
        Visit { captures: vec![SeenCapture { scale: UmPerPx::new(0.5, 0.0), ..visit.captures[0].clone() }] };
    let odd = Panel { visit: small, ..panel("turning", 1) };
    let error = Engine::train_with_panels(&visit, &[odd], PanelUse::Update, &options, &|_| true).unwrap_err();
    assert!(error.to_string().contains("capture panels like the object"), "{error}");
}

#[test]
fn every_panel_is_left_out_once() {
    let panels = [panel("orbital-pad", 1), panel("guided-rub", 1), panel("orbital-pad", 2)];
    let options = Options { objects_per_finish: 60, ..Options::default() };
    let checks = leave_one_out(&panels, PanelUse::Update, &options, &|_| true).unwrap();
    assert_eq!(checks.len(), 3);
    for (check, panel) in checks.iter().zip(&panels) {
        assert_eq!((&check.name, check.finish), (&panel.name, panel.finish));
        assert_ne!(check.rival, check.finish);
        assert!(check.log10_lr > -1.0, "{check:?} misleads");
    }
    assert!(matches!(
        leave_one_out(&panels[..2], PanelUse::Update, &options, &|_| true),
        Err(PanelError::TooFew { found: 2, needed: 3 })
    ));
    assert!(leave_one_out(&panels, PanelUse::Update, &options, &|share| share < 0.4).is_err());
}

/// Progress never goes back, reaches the end, and a wish to stop is heard in every stage.
#[test]
fn progress_and_stopping_reach_every_stage() {
    let visit = weighable("orbital-pad", 0);
    let options = Options { objects_per_finish: 60, ..Options::default() };
    let seen = std::sync::Mutex::new(Vec::new());
    rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap().install(|| {
        Engine::train(&visit, &options, &|share| {
            seen.lock().unwrap().push(share);
            true
        })
        .unwrap();
    });
    let seen = seen.into_inner().unwrap();
    assert!(seen.windows(2).all(|pair| pair[0] <= pair[1] + 1e-12), "progress goes back");
    assert!((seen.last().unwrap() - 1.0).abs() < 1e-12);
    for stop in [0.3, 0.6, 0.75, 0.9] {
        assert!(seen.iter().any(|share| *share > stop), "no stage beyond {stop}");
        let stopped = Engine::train(&visit, &options, &|share| share <= stop);
        assert_eq!(stopped.unwrap_err(), CannotWeigh::Interrupted);
    }
}
