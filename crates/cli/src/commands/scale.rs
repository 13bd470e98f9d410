//! `rubstone scale`.

use std::path::{Path, PathBuf};

use archive::{Capture, CaptureKind, Examination, Scale};
use examine::{
    AddOptions, ExamineError, HoldsFor, Unwatched, find_capture, from_graduation, keep_scale,
    scale_from_points, scale_typed,
};
use picture::Distortion;
use quantity::Measured;
use wire::answers::ScaleAnswer;

use super::json;
use crate::args;
use crate::outcome::{Outcome, Stop, open};
use crate::say;

/// Name of the instrument that is made where none was named.
const ONLY_INSTRUMENT: &str = "microscope";

pub fn run(args: &args::Scale) -> Result<Outcome, Stop> {
    let examination = open(&args.examination)?;
    let target = target(&examination, args)?;
    let (scale, lens) = scale(&examination, args)?;
    let told = lens.as_ref().and_then(|lens| lens.as_ref().ok()).copied();
    let holds_for = keep_scale(&examination, target, scale.clone(), told)?;
    let um_per_px = scale.um_per_px;
    if args.json {
        json!(&ScaleAnswer {
            schema: "rubstone.scale/1",
            um_per_px: um_per_px.value(),
            u_um_per_px: um_per_px.u(),
            source: scale.source,
            holds_for,
        });
        return Ok(Outcome::default());
    }
    let value = Measured { value: um_per_px.value(), u: um_per_px.u() };
    say::result(&format!("scale:  {value} µm/px for {holds_for} ({})", scale.source));
    match lens {
        Some(Ok(lens)) => say::result(&format!("lens:   distortion k1 {} from the same graduation", lens.k1)),
        Some(Err(reason)) => say::result(&format!("lens:   not calibrated ({reason})")),
        None => {}
    }
    super::say_next(&examination)?;
    Ok(Outcome::default())
}

/// The lens that a graduation gives, or why it gives none; `None` where there was no graduation.
type Lens = Option<Result<Distortion, ExamineError>>;

/// What the scale is to hold for.
fn target(examination: &Examination, args: &args::Scale) -> Result<HoldsFor, ExamineError> {
    if let Some(called) = &args.capture {
        // With two points and a named instrument the capture only carries the points; clap keeps the two apart.
        return Ok(HoldsFor::Capture(find_capture(examination, called)?.id));
    }
    if let Some(name) = &args.instrument {
        return Ok(HoldsFor::Instrument(super::add::instrument(examination, name)?));
    }
    let instruments = examination.instruments()?;
    match instruments.as_slice() {
        [only] => Ok(HoldsFor::Instrument(only.id)),
        [] => {
            // Nobody has spoken of instruments: all micrographs were taken with the one there is.
            let id = super::add::instrument(examination, ONLY_INSTRUMENT)?;
            for mut capture in examination.captures()? {
                if capture.kind == CaptureKind::Micrograph && capture.instrument.is_none() {
                    capture.instrument = Some(id);
                    examination.set_capture(&capture)?;
                }
            }
            Ok(HoldsFor::Instrument(id))
        }
        several => {
            let names: Vec<&str> = several.iter().map(|instrument| instrument.name.as_str()).collect();
            Err(ExamineError::request(format!(
                "say for which instrument the scale is: --instrument with one of {}",
                names.join(", ")
            )))
        }
    }
}

fn scale(examination: &Examination, args: &args::Scale) -> Result<(Scale, Lens), ExamineError> {
    if let (Some(called), Some(um_per_tick)) = (&args.graduation, args.um_per_tick) {
        let capture = graduation(examination, called)?;
        let told = from_graduation(examination, &capture, Measured { value: um_per_tick, u: args.u })?;
        return Ok((told.scale, Some(told.lens)));
    }
    if let Some(value) = args.um_per_px {
        return Ok((scale_typed(Measured { value, u: args.u })?, None));
    }
    if let (Some([x1, y1, x2, y2]), Some(distance), Some(called)) =
        (args.points.as_deref(), args.distance_um, &args.capture)
    {
        let capture = find_capture(examination, called)?;
        let distance = Measured { value: distance, u: args.u };
        return Ok((scale_from_points(&capture, [*x1, *y1], [*x2, *y2], distance)?, None));
    }
    Err(ExamineError::request(
        "say where the scale comes from: --graduation with --um-per-tick, --um-per-px, or --points with --distance-um",
    ))
}

/// The capture that shows the graduation, taken in first if it is a file that is not there yet.
fn graduation(examination: &Examination, called: &str) -> Result<Capture, ExamineError> {
    if !Path::new(called).is_file() {
        return find_capture(examination, called);
    }
    let options = AddOptions { kind: CaptureKind::Graduation, station: None, instrument: None };
    let mut taken = examine::add(examination, &[PathBuf::from(called)], &options, &Unwatched)?;
    if let Some(failure) = taken.failures.pop() {
        return Err(ExamineError::request(failure.line));
    }
    let id = taken.files.first().map(|(_, added, _)| added.id());
    let id = id.ok_or_else(|| ExamineError::request(format!("{called} could not be added; add it first")))?;
    Ok(examination.capture(id)?)
}
