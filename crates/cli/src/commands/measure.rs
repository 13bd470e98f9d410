//! `rubstone measure`.

use archive::{DATABASE, Examination};
use examine::{
    ExamineError, MeasureOptions, measure_examination, measure_files, measurements, set_expected_false,
    usable_expected_false,
};
use picture::Light;
use quantity::{UmPerPx, counted};
use wire::measure::{CaptureForm, Measure};

use super::json;
use crate::args;
use crate::outcome::{Outcome, Stop, open};
use crate::progress::Progress;
use crate::say;

pub fn run(args: &args::Measure) -> Result<Outcome, Stop> {
    if let [only] = args.inputs.as_slice()
        && only.join(DATABASE).is_file()
    {
        let given =
            args.um_per_px.is_some() || args.light.light.is_some() || args.light.light_azimuth.is_some();
        if given {
            let words = "an examination knows its scales and lights; set them with `rubstone scale` and `rubstone instrument`";
            return Err(ExamineError::request(words).into());
        }
        let examination = open(only)?;
        if let Some(expected) = args.expected_false {
            set_expected_false(&examination, expected)?;
        }
        return of_examination(&examination, args.json);
    }
    let measures = measure_files(&args.inputs, &options(args)?, &Progress::new())?;
    if args.json {
        json!(&Measure::new(measures.captures));
    } else {
        measures.captures.iter().for_each(say_capture);
    }
    Ok(Outcome { failures: measures.failures })
}

fn options(args: &args::Measure) -> Result<MeasureOptions, ExamineError> {
    let um_per_px = match args.um_per_px {
        None => None,
        Some(value) => Some(UmPerPx::new(value, args.u_um_per_px).ok_or_else(|| {
            ExamineError::request(format!(
                "{value} ± {} µm/px is no scale; give a number above 0",
                args.u_um_per_px
            ))
        })?),
    };
    let expected_false = match args.expected_false {
        Some(expected) => usable_expected_false(expected)?,
        None => MeasureOptions::default().expected_false,
    };
    Ok(MeasureOptions {
        um_per_px,
        light: super::light(&args.light)?.unwrap_or(Light::Unknown),
        lens: None,
        expected_false,
    })
}

fn of_examination(examination: &Examination, json: bool) -> Result<Outcome, Stop> {
    let (n_measured, failures) = measure_examination(examination, &Progress::new())?;
    let measure = measurements(examination)?;
    if json {
        json!(&measure);
    } else {
        measure.captures.iter().for_each(say_capture);
        say::result(&format!("measured: {n_measured} now, {} in all", measure.captures.len()));
        super::say_next(examination)?;
    }
    Ok(Outcome { failures })
}

fn say_capture(capture: &CaptureForm) {
    say::result(&format!("{}: {}", capture.file, capture.quality.verdict));
    for reason in &capture.quality.reasons {
        say::result(&format!("    {reason}"));
    }
    if let Some(refused) = &capture.quality.refused {
        say::result(&format!("    no traces: {refused}"));
        return;
    }
    let suspects = capture.traces.len() - capture.lay.count.min(capture.traces.len());
    say::result(&format!("    {}, {suspects} suspect besides", counted(capture.lay.count, "trace")));
    for set in &capture.lay.sets {
        say::result(&format!(
            "    set at {:.1}° ± {:.1}°, {:.0} % of the traces",
            set.direction_deg,
            set.direction_u_deg,
            100.0 * set.share
        ));
    }
    if let (Some(crossing), Some(u)) = (capture.lay.crossing_deg, capture.lay.crossing_u_deg) {
        say::result(&format!("    crossing at {crossing:.1}° ± {u:.1}°"));
    }
    for note in &capture.quality.notes {
        say::result(&format!("    note: {note}"));
    }
    if capture.lay.count == 0 {
        return;
    }
    let reach = match capture.reach.radius_mm {
        Some(radius) => format!("{radius:.0} mm"),
        None => format!("{:.0} px (no scale)", capture.reach.radius_px),
    };
    say::result(&format!(
        "    straight can be told from radii up to {reach}, limited by {}",
        capture.reach.limited_by
    ));
}
