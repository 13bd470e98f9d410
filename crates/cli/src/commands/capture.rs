//! `rubstone capture`.

use archive::{Capture, CaptureKind, Examination};
use examine::forms::{Memory, capture_form};
use examine::{ExamineError, find_capture};
use quantity::Measured;
use wire::answers::CapturesAnswer;
use wire::desk::CaptureForm;

use super::json;
use crate::args::{self, Kind};
use crate::outcome::{Outcome, Stop, open};
use crate::say;

pub fn run(args: &args::Capture) -> Result<Outcome, Stop> {
    let examination = open(&args.examination)?;
    let captures = match &args.capture {
        Some(called) => {
            let capture = find_capture(&examination, called)?;
            let changed = changed(&examination, capture.clone(), args)?;
            if changed != capture {
                examination.set_capture(&changed)?;
            }
            vec![changed]
        }
        None if changes_something(args) => {
            let words = "say which capture is to be changed: its file name, number or SHA-256";
            return Err(ExamineError::request(words).into());
        }
        None => examination.captures()?,
    };
    let memory = Memory::default();
    let forms = captures
        .iter()
        .map(|capture| capture_form(&examination, capture, &memory))
        .collect::<Result<Vec<_>, _>>()?;
    if args.json {
        json!(&CapturesAnswer { schema: "rubstone.captures/1", captures: forms });
        return Ok(Outcome::default());
    }
    if forms.is_empty() {
        say::result("no captures yet; add some: rubstone add EXAMINATION PICTURE");
    }
    forms.iter().for_each(say_capture);
    Ok(Outcome::default())
}

fn changes_something(args: &args::Capture) -> bool {
    args.kind.is_some()
        || args.station.is_some()
        || args.instrument.is_some()
        || args.light.light.is_some()
        || args.light.light_azimuth.is_some()
        || args.as_instrument
        || args.set_aside
        || args.take_back
        || args.note.is_some()
}

fn changed(
    examination: &Examination,
    mut capture: Capture,
    args: &args::Capture,
) -> Result<Capture, ExamineError> {
    if let Some(kind) = args.kind {
        capture.kind = kind.into();
    }
    if let Some(name) = &args.station {
        capture.station = if name.is_empty() { None } else { Some(examination.make_station(name)?) };
    }
    if let Some(name) = &args.instrument {
        let named = || super::add::instrument(examination, name);
        capture.instrument = if name.is_empty() { None } else { Some(named()?) };
    }
    if args.as_instrument {
        (capture.scale, capture.lens, capture.light) = (None, None, None);
    }
    capture.light = super::light(&args.light)?.or(capture.light);
    capture.set_aside = (capture.set_aside || args.set_aside) && !args.take_back;
    if let Some(note) = &args.note {
        capture.note.clone_from(note);
    }
    Ok(capture)
}

fn say_capture(capture: &CaptureForm) {
    let scale = match &capture.scale {
        Some(scale) => {
            let value = Measured { value: scale.um_per_px.value, u: scale.um_per_px.u };
            let whose = if capture.scale_is_own { ", its own" } else { "" };
            format!("{value} µm/px{whose}")
        }
        None => "no scale".to_owned(),
    };
    let aside = if capture.set_aside { ", set aside" } else { "" };
    say::result(&format!(
        "{}: {}, {}{aside}; {scale}; lens {}",
        capture.id, capture.file_name, capture.kind, capture.lens
    ));
    if let Some(traces) = capture.traces {
        let verdict = capture.verdict.as_deref().unwrap_or_default();
        let due = if capture.out_of_date { "; measure it again: something changed since" } else { "" };
        say::result(&format!("    {verdict}; {traces} traces count{due}"));
    }
    if let Some(cannot) = &capture.cannot {
        say::result(&format!("    cannot be measured: {cannot}"));
    }
    if !capture.note.is_empty() {
        say::result(&format!("    note: {}", capture.note));
    }
}

impl From<Kind> for CaptureKind {
    fn from(kind: Kind) -> Self {
        match kind {
            Kind::Overview => Self::Overview,
            Kind::Micrograph => Self::Micrograph,
            Kind::Graduation => Self::Graduation,
        }
    }
}
