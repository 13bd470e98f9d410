//! The whole examination at a glance, and what to do next.

use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};

use archive::{Capture, CaptureKind, Examination, Instrument, Rock, Scale, Setting, Station};
use trace::{LEAST_SIDE_PX, TraceError};
use wire::desk::{
    CaptureForm, ExaminationForm, InstrumentForm, NextStep, ObjectForm, PinForm, ScaleForm, StationForm,
    ValueForm,
};

use wire::stones::MineralShareForm;

use super::words;
use crate::ExamineError;
use crate::measure::is_due;
use crate::reading::standing;

/// What the pages show of each capture's traces, at hand while these do not change: reading thousands of traces again for
/// every page would make the pages slow.
#[derive(Debug, Default)]
pub struct Memory(Mutex<HashMap<String, Summary>>);

/// What a page shows of a capture's traces.
#[derive(Debug, Clone, Default)]
struct Summary {
    verdict: Option<String>,
    reasons: Vec<String>,
    traces: Option<usize>,
    reach: Option<String>,
}

/// Summaries kept before all are forgotten (ours: some ten megabytes).
const REMEMBERED: usize = 20_000;

impl Memory {
    fn summary(
        &self,
        examination: &Examination,
        capture: &Capture,
        setting: &Setting,
    ) -> Result<Summary, ExamineError> {
        let scale = setting.scale.as_ref().map(|scale| scale.um_per_px);
        let key = format!(
            "{}/{}/{:?}/{scale:?}/{:?}",
            examination.uuid()?,
            capture.id,
            examination.traces_stamp(capture.id)?,
            setting.lens
        );
        if let Some(there) = self.0.lock().unwrap_or_else(PoisonError::into_inner).get(&key) {
            return Ok(there.clone());
        }
        let made = summary(examination, capture, setting)?;
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if all.len() >= REMEMBERED {
            all.clear();
        }
        all.insert(key, made.clone());
        Ok(made)
    }
}

fn summary(examination: &Examination, capture: &Capture, setting: &Setting) -> Result<Summary, ExamineError> {
    let standing = standing(examination, capture.id)?;
    let Some(kept) = standing.kept.as_ref() else { return Ok(Summary::default()) };
    let accepted = standing.accepted().count();
    let scale = setting.scale.as_ref().map(|scale| scale.um_per_px);
    let reach = crate::dossier::capture::reach_of(capture, scale, setting.lens, &standing);
    Ok(Summary {
        verdict: Some(kept.quality.verdict.words().to_owned()),
        reasons: kept.quality.reasons.clone(),
        traces: Some(accepted),
        reach: reach.map(|reach| reach.words()),
    })
}

/// Everything the pages show around the rooms.
///
/// # Errors
/// The examination cannot be read.
pub fn examination(examination: &Examination, memory: &Memory) -> Result<ExaminationForm, ExamineError> {
    // Before everything it counts: a change while this is read makes the form newer than it says, never older, so that
    // pages ask again.
    let revision = examination.revision()?;
    let captures = examination.captures()?;
    let stations = examination.stations()?;
    let capture_forms = captures
        .iter()
        .map(|capture| capture_form(examination, capture, memory))
        .collect::<Result<Vec<_>, _>>()?;
    let object = object_form(examination)?;
    let read = examination.readings()?.iter().map(|reading| reading.capture.0).collect::<Vec<_>>();
    let weighed = examination.result(crate::weighing::WEIGHING)?.is_some();
    let next_steps = next_steps(&object, &capture_forms, &read, weighed);
    Ok(ExaminationForm {
        folder: examination.root().display().to_string(),
        revision,
        object,
        stations: stations.iter().map(|station| station_form(station, &captures)).collect(),
        instruments: examination.instruments()?.into_iter().map(instrument_form).collect(),
        captures: capture_forms,
        next_steps,
        unfinished: examination.unfinished().iter().map(ToString::to_string).collect(),
        rocks: stone::ROCKS.iter().map(|rock| rock.name.to_owned()).collect(),
        minerals: stone::MINERALS.iter().map(|mineral| mineral.name.to_owned()).collect(),
        expected_false: crate::expected_false(examination)?,
    })
}

/// What is known of the object.
///
/// # Errors
/// The examination cannot be read.
pub fn object_form(examination: &Examination) -> Result<ObjectForm, ExamineError> {
    let object = examination.object()?;
    let (rock, shares) = match object.rock {
        Rock::Named(name) => (name, Vec::new()),
        Rock::Unknown => (String::new(), Vec::new()),
        Rock::Minerals(shares) => (String::new(), shares),
    };
    Ok(ObjectForm {
        name: object.name,
        rock,
        minerals: shares
            .into_iter()
            .map(|one| MineralShareForm { mineral: one.mineral, share: one.share })
            .collect(),
        place: object.place,
        conditions: object.conditions,
        note: object.note,
    })
}

fn station_form(station: &Station, captures: &[Capture]) -> StationForm {
    StationForm {
        id: station.id.0,
        name: station.name.clone(),
        note: station.note.clone(),
        pin: station.pin.map(|pin| PinForm { capture: pin.capture.0, x: pin.at[0], y: pin.at[1] }),
        captures: captures.iter().filter(|capture| capture.station == Some(station.id)).count(),
    }
}

fn instrument_form(instrument: Instrument) -> InstrumentForm {
    InstrumentForm {
        id: instrument.id.0,
        scale: instrument.scale.as_ref().map(scale_form),
        lens: instrument
            .lens
            .map_or("not calibrated".to_owned(), |lens| format!("distortion k1 {}", lens.k1)),
        name: instrument.name,
        kind: words::instrument_word(instrument.kind).to_owned(),
        light: words::light_form(instrument.light),
        nominal_magnification: instrument.nominal_magnification,
        note: instrument.note,
    }
}

fn scale_form(scale: &Scale) -> ScaleForm {
    let um_per_px = ValueForm { value: scale.um_per_px.value(), u: scale.um_per_px.u() };
    ScaleForm { um_per_px, source: scale.source.clone() }
}

/// One capture, with what holds for it and what was found on it.
///
/// # Errors
/// The examination cannot be read.
pub fn capture_form(
    examination: &Examination,
    capture: &Capture,
    memory: &Memory,
) -> Result<CaptureForm, ExamineError> {
    let setting = examination.setting(capture)?;
    let summary = memory.summary(examination, capture, &setting)?;
    Ok(CaptureForm {
        id: capture.id.0,
        kind: words::kind_word(capture.kind).to_owned(),
        station: capture.station.map(|station| station.0),
        instrument: capture.instrument.map(|instrument| instrument.0),
        file_name: capture.file_name.clone(),
        sha256: capture.sha256.clone(),
        width_px: capture.width_px,
        height_px: capture.height_px,
        taken_at: capture.taken_at.clone(),
        scale: setting.scale.as_ref().map(scale_form),
        scale_is_own: capture.scale.is_some(),
        light: words::light_form(setting.light),
        light_is_own: capture.light.is_some(),
        lens: crate::dossier::capture::lens_words(capture, setting.lens),
        set_aside: capture.set_aside,
        note: capture.note.clone(),
        cannot: cannot_measure(capture),
        out_of_date: summary.traces.is_some() && is_due(examination, capture)?,
        verdict: summary.verdict,
        reasons: summary.reasons,
        traces: summary.traces,
        reach: summary.reach,
    })
}

/// Why a capture cannot be measured whatever is set: what measuring it would say.
fn cannot_measure(capture: &Capture) -> Option<String> {
    let (width_px, height_px) = (capture.width_px as usize, capture.height_px as usize);
    let small = capture.kind == CaptureKind::Micrograph && width_px.min(height_px) < LEAST_SIDE_PX;
    small.then(|| TraceError::TooSmall { width_px, height_px, needed_px: LEAST_SIDE_PX }.to_string())
}

/// What to do next, most pressing first. Only what measuring cannot start without is `needed`.
fn next_steps(object: &ObjectForm, captures: &[CaptureForm], read: &[i64], weighed: bool) -> Vec<NextStep> {
    let step = |room: &str, needed: bool, text: String| NextStep { room: room.to_owned(), text, needed };
    let micrographs: Vec<&CaptureForm> =
        captures.iter().filter(|capture| capture.kind == "micrograph" && !capture.set_aside).collect();
    let count =
        |test: &dyn Fn(&CaptureForm) -> bool| micrographs.iter().filter(|capture| test(capture)).count();
    let mut steps = Vec::new();
    if micrographs.is_empty() {
        steps.push(step("captures", true, "add the micrographs of at least one station.".to_owned()));
    }
    let without_scale = count(&|capture| capture.scale.is_none());
    if without_scale > 0 {
        let text = format!(
            "{} no scale, so lengths stay in pixels: add a photograph of a graduation taken at the same setting, and set the instrument's scale from it.",
            pictures(without_scale, "has", "have")
        );
        steps.push(step("captures", false, text));
    }
    let without_station = count(&|capture| capture.station.is_none());
    if without_station > 0 {
        let text = format!(
            "say at which station {} taken, so that places can be compared.",
            pictures(without_station, "was", "were")
        );
        steps.push(step("captures", false, text));
    }
    let without_light = count(&|capture| matches!(capture.light, wire::desk::LightForm::Unknown));
    if without_light > 0 {
        let text = format!(
            "record the light of {}: one-sided light hides scratches that run along it.",
            pictures(without_light, "", "")
        );
        steps.push(step("captures", false, text));
    }
    let due = count(&|capture| capture.cannot.is_none() && (capture.traces.is_none() || capture.out_of_date));
    if due > 0 {
        steps.push(step("captures", false, format!("measure {}.", pictures(due, "", ""))));
    }
    let unread = count(&|capture| capture.traces.is_some() && !read.contains(&capture.id));
    if due == 0 && unread > 0 {
        let text = format!(
            "look over the traces of {}: accept, reject or draw what the finder got wrong.",
            pictures(unread, "", "")
        );
        steps.push(step("tracing", false, text));
    }
    if due == 0 && !weighed && micrographs.iter().any(|capture| capture.scale.is_some()) {
        let text =
            "weigh the finishes: which of them the marks present support, and which they cannot tell apart.";
        steps.push(step("weighing", false, text.to_owned()));
    }
    if due == 0 && !micrographs.is_empty() {
        steps.push(step("report", false, "write the report.".to_owned()));
    }
    if object.name.is_empty() {
        steps.push(step("object", false, "give the object a name for the report's title.".to_owned()));
    }
    steps
}

fn pictures(count: usize, one: &str, more: &str) -> String {
    let words = if count == 1 { format!("one picture {one}") } else { format!("{count} pictures {more}") };
    words.trim_end().to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn object() -> ObjectForm {
        ObjectForm {
            name: "bowl".to_owned(),
            rock: String::new(),
            minerals: Vec::new(),
            place: String::new(),
            conditions: String::new(),
            note: String::new(),
        }
    }

    fn capture(traces: Option<usize>) -> CaptureForm {
        CaptureForm {
            id: 1,
            kind: "micrograph".to_owned(),
            station: Some(1),
            instrument: Some(1),
            file_name: "a.jpg".to_owned(),
            sha256: String::new(),
            width_px: 10,
            height_px: 10,
            taken_at: None,
            scale: Some(ScaleForm {
                um_per_px: ValueForm { value: 1.0, u: 0.1 },
                source: "typed".to_owned(),
            }),
            scale_is_own: false,
            light: wire::desk::LightForm::Ring,
            light_is_own: false,
            lens: "not calibrated".to_owned(),
            set_aside: false,
            note: String::new(),
            cannot: None,
            verdict: None,
            reasons: Vec::new(),
            traces,
            out_of_date: false,
            reach: None,
        }
    }

    #[test]
    fn the_first_step_follows_the_state_of_the_work() {
        let rooms = |captures: &[CaptureForm], read: &[i64]| {
            next_steps(&object(), captures, read, true)
                .iter()
                .map(|step| (step.room.clone(), step.needed))
                .collect::<Vec<_>>()
        };
        assert_eq!(rooms(&[], &[]), [("captures".to_owned(), true)]);
        assert_eq!(rooms(&[capture(None)], &[]), [("captures".to_owned(), false)]);
        assert_eq!(rooms(&[capture(Some(3))], &[])[0].0, "tracing");
        assert_eq!(rooms(&[capture(Some(3))], &[1]), [("report".to_owned(), false)]);
        let unweighed = next_steps(&object(), &[capture(Some(3))], &[1], false);
        assert_eq!(unweighed[0].room, "weighing");
    }

    #[test]
    fn a_form_never_says_it_is_newer_than_it_is() {
        let folder = std::env::temp_dir().join(format!("rubstone-overview-{}", std::process::id()));
        let _ = std::fs::remove_dir_all(&folder);
        let read = Examination::begin(&folder, crate::SOFTWARE).unwrap();
        let before = read.revision().unwrap();
        std::thread::scope(|scope| {
            let folder = &folder;
            let writer = scope.spawn(move || {
                let write = Examination::open(folder).unwrap();
                for n in 0..60 {
                    write.make_station(&format!("station {n}")).unwrap();
                }
            });
            while !writer.is_finished() {
                let form = examination(&read, &Memory::default()).unwrap();
                // Each station is one change.
                let least = usize::try_from(form.revision - before).unwrap();
                assert!(form.stations.len() >= least, "{} of {least}", form.stations.len());
            }
        });
        assert_eq!(examination(&read, &Memory::default()).unwrap().stations.len(), 60);
        std::fs::remove_dir_all(&folder).unwrap();
    }

    #[test]
    fn a_missing_scale_is_said_but_stops_nothing() {
        let steps = next_steps(&object(), &[CaptureForm { scale: None, ..capture(None) }], &[], true);
        assert!(steps[0].text.contains("one picture has no scale"), "{}", steps[0].text);
        assert!(steps.iter().all(|step| !step.needed));
    }
}
