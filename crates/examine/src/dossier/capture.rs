//! One micrograph as the report prints it.

use ::stone::WidthRule;
use archive::Examination;
use report::dossier::{self, Capture, HiddenSector, Image, Quality, Reading, Scale, ShownTrace, Verdict};

use crate::ExamineError;
use crate::describe::Read;
use crate::reach::reach;
use crate::reading::{ReadTrace, Standing, State};

/// Everything the report prints of one micrograph.
pub(super) fn capture(
    examination: &Examination,
    read: &Read,
    label: &str,
    picture: Option<Image>,
    rule: &WidthRule,
) -> Result<Capture, ExamineError> {
    Ok(Capture {
        picture,
        traces: read.standing.traces.iter().map(shown_trace).collect(),
        lay: super::lay_of(std::iter::once(read), rule),
        ..bare(examination, read, label)?
    })
}

/// One micrograph without picture, traces and lay: what pages about many of them need.
pub(crate) fn bare(examination: &Examination, read: &Read, label: &str) -> Result<Capture, ExamineError> {
    let capture = &read.capture;
    let setting = examination.setting(capture)?;
    let instrument = capture.instrument.map(|id| examination.instrument(id)).transpose()?;
    let kept = read.standing.kept.as_ref();
    let reach = reach_of(capture, read.scale, setting.lens, &read.standing);
    Ok(Capture {
        label: label.to_owned(),
        file_name: capture.file_name.clone(),
        sha256: capture.sha256.clone(),
        bytes: capture.bytes,
        width_px: capture.width_px as usize,
        height_px: capture.height_px as usize,
        format: capture.format.clone(),
        taken_at: capture.taken_at.clone(),
        camera: kept.and_then(|kept| kept.camera.clone()),
        instrument: setting.instrument,
        scale: setting.scale.map(|scale| Scale { um_per_px: scale.um_per_px, origin: scale.source }),
        nominal_magnification: instrument.map(|i| i.nominal_magnification).filter(|text| !text.is_empty()),
        light: setting.light,
        lens: lens_words(capture, setting.lens),
        quality: quality(kept),
        picture: None,
        traces: Vec::new(),
        refused: kept.and_then(|kept| kept.found.refused.clone()),
        hidden: kept
            .and_then(|kept| kept.found.hidden)
            .map(|hidden| HiddenSector { axis: hidden.axis, half_width_deg: hidden.half_width_deg }),
        expected_false: kept.map(|kept| kept.expected_false),
        reach,
        lay: None,
        notes: kept.map(|kept| kept.notes.clone()).unwrap_or_default(),
    })
}

/// What is known of the lens that a capture was taken through.
pub(crate) fn lens_words(capture: &archive::Capture, lens: Option<picture::Distortion>) -> String {
    let Some(lens) = lens else { return "not calibrated".to_owned() };
    let share = lens.residual_sagitta_share(f64::from(capture.width_px), f64::from(capture.height_px));
    let whose = if capture.lens.is_some() { "calibrated for this capture alone" } else { "calibrated" };
    format!("{whose}: a straight line may still bow by {:.3} % of the width", 100.0 * share)
}

/// The reach of one micrograph; `None` where nothing was measured or no trace counts.
pub(crate) fn reach_of(
    capture: &archive::Capture,
    scale: Option<quantity::UmPerPx>,
    lens: Option<picture::Distortion>,
    standing: &Standing,
) -> Option<dossier::Reach> {
    let kept = standing.kept.as_ref().filter(|kept| kept.found.refused.is_none())?;
    let accepted: Vec<&trace::Trace> = standing.accepted().collect();
    let size_px = (capture.width_px, capture.height_px);
    let (reach, chord_px) = reach(size_px, scale, &kept.found, &accepted, lens)?;
    Some(dossier::Reach {
        radius_px: reach.radius_px,
        radius_mm: reach.radius_mm,
        limited_by: reach.limited_by.word().to_owned(),
        chord_px,
    })
}

fn quality(kept: Option<&wire::kept::Kept>) -> Quality {
    let Some(kept) = kept else {
        let reasons = vec!["not measured yet".to_owned()];
        return Quality { verdict: Verdict::NotUsable, reasons };
    };
    Quality { verdict: kept.quality.verdict, reasons: kept.quality.reasons.clone() }
}

fn shown_trace(read: &ReadTrace) -> ShownTrace {
    let reading = match read.state {
        State::Accepted => Reading::Accepted,
        State::Suspect => Reading::Suspect,
        State::Rejected => Reading::Rejected,
    };
    ShownTrace { trace: read.trace.clone(), reading, by_hand: read.by_hand }
}
