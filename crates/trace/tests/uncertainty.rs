//! Whether directions and curvatures scatter as far as the bound allows and as far as they say.

mod common;

use common::{Ridge, picture};
use picture::Distortion;
use quantity::Measured;
use trace::{TraceError, refit};

/// Cases `crlb.ridge` of the reference sheet: amplitude 50, width 1.5 px, length 100 px, white noise 8 per pixel give a
/// Cramér–Rao bound of 0.041 315° for the direction and 5.5855e-5 /px for the curvature (derived there, and checked there
/// against the Fisher information of the pixel grid).
#[test]
fn a_strong_ridge_is_measured_near_the_bound() {
    const BOUND_DEG: f64 = 0.041_315;
    const BOUND_PER_PX: f64 = 5.585_5e-5;
    let n = 40;
    let (mut direction, mut curvature, mut direction_u, mut curvature_u) = (0.0, 0.0, 0.0, 0.0);
    for k in 0..n {
        let truth = 17.0 + 4.1 * f64::from(k);
        let ridge = Ridge {
            middle: [80.3, 79.6],
            direction_deg: truth,
            curvature_per_px: 0.0,
            length_px: 100.0,
            sigma_px: 1.5,
            amplitude: 0.2,
        };
        let grey = picture(160, 160, &[ridge], 0.2 * 8.0 / 50.0, 100 + k as u64);
        let (sin, cos) = truth.to_radians().sin_cos();
        // A hand-drawn line misses the groove by a pixel or two.
        let at = |t: f64| [80.3 + t * cos + 1.5 * sin, 79.6 - t * sin + 1.5 * cos];
        let trace = refit(&grey, &[at(-48.0), at(48.0)], None).unwrap();
        direction +=
            ((trace.direction.degrees() - truth + 90.0).rem_euclid(180.0) - 90.0).powi(2) / f64::from(n);
        curvature += trace.curvature_per_px.value.powi(2) / f64::from(n);
        direction_u += trace.direction_u_deg.powi(2) / f64::from(n);
        curvature_u += trace.curvature_per_px.u.powi(2) / f64::from(n);
    }
    // 40 trials know a standard deviation to 11 %; three times that, and a quarter for blocks at the ends.
    let report = format!(
        "direction {:.4}° u {:.4}°, curvature {:.2e} u {:.2e}",
        direction.sqrt(),
        direction_u.sqrt(),
        curvature.sqrt(),
        curvature_u.sqrt()
    );
    assert!(direction.sqrt() < 1.6 * BOUND_DEG && direction.sqrt() > 0.65 * BOUND_DEG, "{report}");
    assert!(curvature.sqrt() < 1.6 * BOUND_PER_PX && curvature.sqrt() > 0.65 * BOUND_PER_PX, "{report}");
    // Stated uncertainties are never smaller than the scatter, and here, where little is known of the stone, larger.
    assert!((0.9..3.0).contains(&(direction_u / direction).sqrt()), "{report}");
    assert!((0.9..3.0).contains(&(curvature_u / curvature).sqrt()), "{report}");
}

#[test]
fn a_line_too_short_to_fit_says_so() {
    let grey = picture(120, 120, &[], 0.04, 1);
    let failed = refit(&grey, &[[10.0, 10.0], [30.0, 10.0]], None).unwrap_err();
    assert_eq!(failed, TraceError::TooShort { length_px: 20.0, needed_px: 40.0 });
    assert!(refit(&grey, &[], None).is_err());
}

#[test]
fn a_line_drawn_out_of_the_picture_is_cut_at_its_border() {
    let ridge = Ridge {
        middle: [60.0, 60.0],
        direction_deg: 0.0,
        curvature_per_px: 0.0,
        length_px: 200.0,
        sigma_px: 1.5,
        amplitude: 0.2,
    };
    let grey = picture(120, 120, &[ridge], 0.03, 3);
    let trace = refit(&grey, &[[30.0, 60.5], [150.0, 60.5]], None).unwrap();
    assert!(trace.length_px >= 80.0, "{}", trace.length_px);
    let inside = |p: &[f64; 2]| (-0.5..=119.5).contains(&p[0]) && (-0.5..=119.5).contains(&p[1]);
    assert!(trace.points_px.iter().all(inside), "{:?}", trace.points_px);
}

/// Reckoned outside from the lens model r·(1 + k1·(r/h)²), h² = 12,800 px², k1 = 0.05: the points drawn at y = 60 px below the
/// centre, x from −49.5 to 49.5 px, are taken back by Newton's method; the parabola of least squares through them (NumPy) has a
/// curvature of 4.41e-4 /px. To the first order it is 2·k1·y/h² = 4.69e-4 /px.
#[test]
fn a_line_drawn_by_hand_has_the_lens_taken_out() {
    let ridge = Ridge {
        middle: [79.5, 139.5],
        direction_deg: 0.0,
        curvature_per_px: 0.0,
        length_px: 110.0,
        sigma_px: 1.5,
        amplitude: 0.2,
    };
    let grey = picture(160, 160, &[ridge], 0.01, 5);
    let line = [[30.0, 139.5], [129.0, 139.5]];
    let lens = Distortion { k1: Measured { value: 0.05, u: 0.001 }, centre_px: None };
    let drawn = refit(&grey, &line, None).unwrap();
    let freed = refit(&grey, &line, Some(&lens)).unwrap();
    let bent = freed.curvature_per_px.value - drawn.curvature_per_px.value;
    assert!((bent / 4.41e-4 - 1.0).abs() < 0.02, "{bent:.3e} /px");
}
