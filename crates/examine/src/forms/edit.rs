//! Changes that pages make.

use std::path::Path;

use archive::{
    Added, CaptureId, Examination, Instrument, InstrumentId, MineralShare, Object, Pin, Rock, Station,
    StationId,
};
use quantity::Measured;
use wire::desk::{
    AddQuery, AddedFile, AddedForm, CaptureChange, InstrumentText, ObjectForm, PinForm, ScaleRequest,
    SetScale, StationText, ValueForm,
};

use wire::stones::MineralShareForm;

use super::words;
use crate::{ExamineError, HoldsFor};

/// Sets what is known of the object.
///
/// # Errors
/// As [`object_of`]; the examination cannot be written.
pub fn set_object(examination: &Examination, form: &ObjectForm) -> Result<(), ExamineError> {
    Ok(examination.set_object(&object_of(form)?)?)
}

/// The object as a form describes it. Minerals that were determined go before a rock's name.
///
/// # Errors
/// A mineral or a share that is none.
pub fn object_of(form: &ObjectForm) -> Result<Object, ExamineError> {
    let rock = match form.rock.as_str() {
        _ if !form.minerals.is_empty() => {
            let shares = form.minerals.iter().map(|one| (one.mineral.clone(), one.share)).collect();
            // Said now and not when the stone is asked about.
            crate::stone::MadeOf::new(&crate::StoneKind::Minerals(shares))?;
            Rock::Minerals(form.minerals.iter().map(share).collect())
        }
        "" => Rock::Unknown,
        rock => Rock::Named(rock.to_owned()),
    };
    Ok(Object {
        name: form.name.clone(),
        rock,
        place: form.place.clone(),
        conditions: form.conditions.clone(),
        note: form.note.clone(),
    })
}

fn share(one: &MineralShareForm) -> MineralShare {
    MineralShare { mineral: one.mineral.clone(), share: one.share }
}

/// Adds a station.
///
/// # Errors
/// The name is empty or taken; the examination cannot be written.
pub fn add_station(examination: &Examination, text: &StationText) -> Result<(), ExamineError> {
    let id = examination.make_station(&text.name)?;
    change_station(examination, id, text)
}

/// Changes a station's name and note.
///
/// # Errors
/// No such station; the name is empty or taken; the examination cannot be written.
pub fn change_station(
    examination: &Examination,
    id: StationId,
    text: &StationText,
) -> Result<(), ExamineError> {
    let old = station(examination, id)?;
    Ok(examination.set_station(&Station { name: text.name.clone(), note: text.note.clone(), ..old })?)
}

/// Pins a station on an overview picture, or takes its pin off.
///
/// # Errors
/// No such station or capture; the examination cannot be written.
pub fn pin(examination: &Examination, id: StationId, pin: Option<PinForm>) -> Result<(), ExamineError> {
    let old = station(examination, id)?;
    let pin = pin.map(|pin| Pin { capture: CaptureId(pin.capture), at: [pin.x, pin.y] });
    Ok(examination.set_station(&Station { pin, ..old })?)
}

fn station(examination: &Examination, id: StationId) -> Result<Station, ExamineError> {
    let found = examination.stations()?.into_iter().find(|station| station.id == id);
    found.ok_or_else(|| archive::ArchiveError::NoSuch { what: "station", id: id.to_string() }.into())
}

/// Adds an instrument.
///
/// # Errors
/// The name is empty or taken; the examination cannot be written.
pub fn add_instrument(examination: &Examination, text: &InstrumentText) -> Result<(), ExamineError> {
    let bare = Instrument::named(&text.name, words::instrument_kind(&text.kind)?);
    examination.make_instrument(&worded(bare, text)?)?;
    Ok(())
}

/// Changes an instrument; its scale and lens stay.
///
/// # Errors
/// No such instrument; the name is empty or taken; the examination cannot be written.
pub fn change_instrument(
    examination: &Examination,
    id: InstrumentId,
    text: &InstrumentText,
) -> Result<(), ExamineError> {
    let old = examination.instrument(id)?;
    Ok(examination.set_instrument(&worded(old, text)?)?)
}

fn worded(instrument: Instrument, text: &InstrumentText) -> Result<Instrument, ExamineError> {
    Ok(Instrument {
        name: text.name.clone(),
        kind: words::instrument_kind(&text.kind)?,
        light: words::light(text.light)?,
        nominal_magnification: text.nominal_magnification.clone(),
        note: text.note.clone(),
        ..instrument
    })
}

/// Changes a capture; absent parts stay as they are.
///
/// # Errors
/// No such capture, station or instrument; the examination cannot be written.
pub fn change_capture(
    examination: &Examination,
    id: CaptureId,
    change: &CaptureChange,
) -> Result<(), ExamineError> {
    let mut capture = examination.capture(id)?;
    if let Some(kind) = &change.kind {
        capture.kind = words::kind(kind)?;
    }
    if let Some(station) = change.station {
        capture.station = (station != 0).then_some(StationId(station));
    }
    if let Some(instrument) = change.instrument {
        capture.instrument = (instrument != 0).then_some(InstrumentId(instrument));
    }
    if let Some(light) = change.light {
        capture.light = Some(words::light(light)?);
    }
    if change.as_instrument {
        (capture.scale, capture.lens, capture.light) = (None, None, None);
    }
    if let Some(set_aside) = change.set_aside {
        capture.set_aside = set_aside;
    }
    if let Some(note) = &change.note {
        capture.note.clone_from(note);
    }
    Ok(examination.set_capture(&capture)?)
}

/// Sets the scale of an instrument or of one capture.
///
/// # Errors
/// Neither or both are named; no scale can be had from what was given; the examination cannot be written.
pub fn set_scale(examination: &Examination, wanted: &SetScale) -> Result<(), ExamineError> {
    let holds_for = match (wanted.instrument, wanted.capture) {
        (Some(instrument), None) => HoldsFor::Instrument(InstrumentId(instrument)),
        (None, Some(capture)) => HoldsFor::Capture(CaptureId(capture)),
        _ => {
            let words = "say for which instrument, or for which one capture, the scale is";
            return Err(ExamineError::request(words));
        }
    };
    let (scale, lens) = scale_of(examination, &wanted.scale)?;
    crate::keep_scale(examination, holds_for, scale, lens)?;
    Ok(())
}

/// The scale that is wanted, and the lens where a graduation tells it.
fn scale_of(
    examination: &Examination,
    request: &ScaleRequest,
) -> Result<(archive::Scale, Option<picture::Distortion>), ExamineError> {
    let capture = |id: i64| examination.capture(CaptureId(id));
    Ok(match request {
        ScaleRequest::Graduation { capture: id, um_per_tick } => {
            let told = crate::from_graduation(examination, &capture(*id)?, measured(*um_per_tick)?)?;
            (told.scale, told.lens.ok())
        }
        ScaleRequest::TwoPoints { capture: id, a, b, distance_um } => {
            (crate::scale_from_points(&capture(*id)?, *a, *b, measured(*distance_um)?)?, None)
        }
        ScaleRequest::Typed { um_per_px } => (crate::scale_typed(measured(*um_per_px)?)?, None),
    })
}

fn measured(form: ValueForm) -> Result<Measured, ExamineError> {
    let usable = form.value.is_finite() && form.value > 0.0 && form.u.is_finite() && form.u >= 0.0;
    let wrong = || {
        ExamineError::request(format!(
            "{} ± {} is no length; give a positive number and its uncertainty",
            form.value, form.u
        ))
    };
    usable.then_some(Measured { value: form.value, u: form.u }).ok_or_else(wrong)
}

/// Adds one picture from a file.
///
/// # Errors
/// The kind is none; the examination cannot be written. What is wrong with the file itself is told in the answer.
pub fn add(
    examination: &Examination,
    path: &Path,
    query: &AddQuery,
    memory: &super::Memory,
) -> Result<AddedForm, ExamineError> {
    let options = crate::AddOptions {
        kind: words::kind(&query.kind)?,
        station: query.station.map(StationId),
        instrument: query.instrument.map(InstrumentId),
    };
    let taken = crate::add(examination, &[path.to_path_buf()], &options, &crate::Unwatched)?;
    let added = taken.files.iter().map(|(file, added, notes)| AddedFile {
        file_name: name_of(file),
        outcome: if matches!(added, Added::New(_)) { "added" } else { "known" }.to_owned(),
        message: match added {
            Added::New(_) => notes.join("; "),
            Added::Already(_) => {
                "this very picture is in the examination already; it was not added twice".to_owned()
            }
        },
        capture: Some(added.id().0),
    });
    let failed = taken.failures.iter().map(|failure| AddedFile {
        file_name: name_of(path),
        outcome: "failed".to_owned(),
        // The picture lies in a folder of the moment whose name says nothing to anybody.
        message: failure
            .line
            .replace(&format!("{}: ", failure.subject), "")
            .replace(&failure.subject, &name_of(path)),
        capture: None,
    });
    let files = added.chain(failed).collect();
    Ok(AddedForm { files, examination: super::examination(examination, memory)? })
}

fn name_of(path: &Path) -> String {
    crate::shown(Path::new(path.file_name().unwrap_or_default()))
}
