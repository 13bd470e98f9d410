//! Whether the numbers of a `rubstone.measure/1` text can all be true.
//!
//! Anyone may write such a text, or change one. What follows from it must not rest on numbers that exclude each other.

use std::collections::BTreeSet;

use super::{CaptureForm, Measure, SCHEMA, TraceForm};
use crate::{FormError, from_text};

/// A point may lie this far outside the picture: the axis of a groove at the very edge is refined beyond it.
const OUTSIDE_PX: f64 = 8.0;
/// Length along the points and the stated length may differ by this much of the length: the points are a thinned polyline.
const LENGTH_SHARE: f64 = 0.1;
/// …and by this much, whatever the length.
const LENGTH_PX: f64 = 3.0;
/// The chord of a trace and its direction at mid-length may differ by this much beyond the stated uncertainty: the
/// direction is fitted, the end points wander.
const DIRECTION_DEG: f64 = 10.0;

/// Reads the output of `rubstone measure --json`, perhaps edited since or made elsewhere.
///
/// # Errors
/// [`FormError`] in words fit for the examiner, naming the capture and the trace.
pub fn read(text: &str) -> Result<Measure, FormError> {
    let measure: Measure = from_text(text, SCHEMA)?;
    let mut seen = BTreeSet::new();
    for capture in &measure.captures {
        check_capture(capture)?;
        if !seen.insert(&capture.sha256) {
            return contradiction(
                capture,
                "the same picture (SHA-256) is listed twice and would count twice".into(),
            );
        }
    }
    Ok(measure)
}

fn contradiction<T>(capture: &CaptureForm, what: String) -> Result<T, FormError> {
    Err(FormError::Contradiction { what: format!("in {}, {what}", capture.file) })
}

fn check_capture(capture: &CaptureForm) -> Result<(), FormError> {
    let fail = |what: String| contradiction(capture, what);
    if capture.width_px == 0 || capture.height_px == 0 {
        return fail(format!("the picture has the size {} × {} px", capture.width_px, capture.height_px));
    }
    if capture.sha256.len() != 64 || !capture.sha256.bytes().all(|b| b.is_ascii_hexdigit()) {
        return fail(format!("\"{}\" is no SHA-256 (64 hexadecimal digits)", capture.sha256));
    }
    if let Some(scale) = capture.um_per_px
        && !(scale.is_finite() && scale > 0.0)
    {
        return fail(format!("the scale is {scale} µm/px"));
    }
    if capture.um_per_px.is_none()
        && (capture.lay.density_per_mm2.is_some() || capture.reach.radius_mm.is_some())
    {
        return fail("lengths in millimetres are given although there is no scale".into());
    }
    if capture.quality.refused.is_some() && !capture.traces.is_empty() {
        return fail(format!("{} traces are given although tracing was refused", capture.traces.len()));
    }
    let mut ids = BTreeSet::new();
    for trace in &capture.traces {
        if !ids.insert(trace.id) {
            return fail(format!("trace {} is listed twice", trace.id));
        }
        if let Err(what) = check_trace(capture, trace) {
            return fail(format!("trace {} {what}", trace.id));
        }
    }
    let counted = capture.traces.iter().filter(|trace| trace.suspect.is_none()).count();
    if capture.lay.count != counted {
        return fail(format!(
            "the lay counts {} traces, but {counted} of those listed are not suspect",
            capture.lay.count
        ));
    }
    Ok(())
}

fn check_trace(capture: &CaptureForm, trace: &TraceForm) -> Result<(), String> {
    let numbers = [
        ("length_px", trace.length_px),
        ("width_px", trace.width_px),
        ("direction_deg", trace.direction_deg),
        ("direction_u_deg", trace.direction_u_deg),
        ("curvature_per_px", trace.curvature_per_px),
        ("curvature_u_per_px", trace.curvature_u_per_px),
    ];
    for (name, value) in numbers {
        let may_be_negative = name == "curvature_per_px";
        if !value.is_finite() || (value < 0.0 && !may_be_negative) {
            return Err(format!("has {name} {value}"));
        }
    }
    if !(0.0..180.0).contains(&trace.direction_deg) {
        return Err(format!("has the direction {}°, outside 0° to 180°", trace.direction_deg));
    }
    if trace.ends_inside > 2 {
        return Err(format!("has {} ends", trace.ends_inside));
    }
    let (Some(first), Some(last)) = (trace.points.first(), trace.points.last()) else {
        return Err("has no points".into());
    };
    if trace.points.len() < 2 {
        return Err("has a single point".into());
    }
    let (right, bottom) =
        (f64::from(capture.width_px) + OUTSIDE_PX, f64::from(capture.height_px) + OUTSIDE_PX);
    for [x, y] in &trace.points {
        let inside = (-OUTSIDE_PX..right).contains(x) && (-OUTSIDE_PX..bottom).contains(y);
        if !inside {
            return Err(format!("has the point ({x}, {y}), outside the picture"));
        }
    }
    let along: f64 = trace.points.windows(2).map(step).sum();
    if (along - trace.length_px).abs() > LENGTH_SHARE * along + LENGTH_PX {
        return Err(format!(
            "is said to be {:.1} px long, but its points are {along:.1} px apart",
            trace.length_px
        ));
    }
    check_direction(trace, *first, *last)
}

fn step(pair: &[[f64; 2]]) -> f64 {
    match pair {
        [[ax, ay], [bx, by]] => (bx - ax).hypot(by - ay),
        _ => 0.0,
    }
}

/// An arc's chord runs parallel to its direction at mid-length, so the two may be compared whatever the curvature. What
/// closes on itself has no chord.
fn check_direction(trace: &TraceForm, first: [f64; 2], last: [f64; 2]) -> Result<(), String> {
    let (dx, dy) = (last[0] - first[0], last[1] - first[1]);
    if dx.hypot(dy) < 0.5 * trace.length_px {
        return Ok(());
    }
    let chord = quantity::AxialDeg::from_pixel_step(dx, dy);
    let Some((chord, stated)) = chord.zip(quantity::AxialDeg::new(trace.direction_deg)) else {
        return Ok(());
    };
    let apart = chord.angle_to(stated);
    if apart > DIRECTION_DEG + 3.0 * trace.direction_u_deg {
        return Err(format!(
            "is said to run at {:.1}°, but its points run at {:.1}°",
            stated.degrees(),
            chord.degrees()
        ));
    }
    Ok(())
}
