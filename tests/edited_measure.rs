//! Measurements changed by hand or by chance: read or refused in words, never a panic.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test that cannot go on fails")]

use proptest::prelude::*;
use wire::measure::{CaptureForm, LayForm, Measure, QualityForm, ReachForm, SetForm, TraceForm};

fn trace(id: u32, y: f64) -> TraceForm {
    TraceForm {
        id,
        points: vec![[10.0, y], [110.0, y]],
        length_px: 100.0,
        width_px: 3.0,
        direction_deg: 0.0,
        direction_u_deg: 0.3,
        curvature_per_px: 1e-5,
        curvature_u_per_px: 2e-5,
        ends_inside: 2,
        contrast: 2.0,
        log10_nfa: -4.0,
        suspect: None,
    }
}

fn measure() -> Measure {
    Measure::new(vec![CaptureForm {
        file: "a.png".into(),
        sha256: "ab".repeat(32),
        width_px: 400,
        height_px: 300,
        um_per_px: Some(2.5),
        quality: QualityForm::default(),
        traces: vec![trace(1, 20.0), trace(2, 60.0)],
        lay: LayForm {
            count: 2,
            density_per_mm2: Some(2.7),
            intensity_per_mm: Some(0.7),
            resultant: 1.0,
            uniform_p: 0.2,
            sets: vec![SetForm { direction_deg: 0.0, direction_u_deg: 0.2, concentration: 50.0, share: 1.0 }],
            crossing_deg: None,
            crossing_u_deg: None,
        },
        reach: ReachForm { radius_mm: Some(12.0), radius_px: 4800.0, limited_by: "sharpness".into() },
    }])
}

#[test]
fn the_unchanged_one_is_read() {
    let text = wire::to_text(&measure()).unwrap();
    assert_eq!(wire::measure::read(&text).unwrap(), measure());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn a_changed_one_is_read_or_refused(at in 0usize..2000, cut in 0usize..40, put in "[-0-9a-z\"\\[\\]{},.: ]{0,12}") {
        let mut text = wire::to_text(&measure()).unwrap();
        let at = at % text.len();
        let end = (at + cut).min(text.len());
        text.replace_range(at..end, &put);
        match wire::measure::read(&text) {
            Ok(read) => prop_assert!(wire::to_text(&read).is_ok()),
            Err(refused) => prop_assert!(refused.to_string().contains(';'), "{refused}"),
        }
    }

    #[test]
    fn any_text_is_refused(text in "\\PC{0,200}") {
        prop_assert!(wire::measure::read(&text).is_err());
    }
}
