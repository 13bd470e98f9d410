//! `rubstone.kept/1`: one capture's measurement as the examination keeps it, with everything the report needs later.
//!
//! Scale and lens are not in it but in the examination: a scale found afterwards needs no new measuring.

use picture::{BlockGrid, Motion, Quality, SensorLines, Verdict};
use quantity::{AxialDeg, Measured};
use serde::{Deserialize, Serialize};
use trace::{Ends, Found, HiddenSector, Suspect, Trace};

use crate::measure::SuspectForm;
use crate::{FormError, from_text, to_line};

/// Name of the form.
pub const SCHEMA: &str = "rubstone.kept/1";

/// What was measured on one capture.
#[derive(Debug, Clone, PartialEq)]
pub struct Kept {
    /// Camera the file names.
    pub camera: Option<String>,
    /// Notes made while reading the file.
    pub notes: Vec<String>,
    /// Whether the picture can be trusted.
    pub quality: Quality,
    /// Expected number of false traces on this picture that the finder was set to.
    pub expected_false: f64,
    /// What the finder found.
    pub found: Found,
}

#[derive(Debug, Serialize, Deserialize)]
struct KeptForm {
    schema: String,
    camera: Option<String>,
    notes: Vec<String>,
    quality: QualityForm,
    expected_false: f64,
    refused: Option<String>,
    noise_sigma: f32,
    localisation_px: f64,
    waviness_px: f64,
    hidden: Option<HiddenForm>,
    traces: Vec<TraceForm>,
}

#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
struct ValueForm {
    value: f64,
    u: f64,
}

impl From<Measured> for ValueForm {
    fn from(measured: Measured) -> Self {
        Self { value: measured.value, u: measured.u }
    }
}

impl From<ValueForm> for Measured {
    fn from(form: ValueForm) -> Self {
        Self { value: form.value, u: form.u }
    }
}

#[derive(Debug, Serialize, Deserialize)]
struct HiddenForm {
    axis_deg: f64,
    half_width_deg: f64,
}

#[derive(Debug, Serialize, Deserialize)]
struct QualityForm {
    verdict: VerdictForm,
    reasons: Vec<String>,
    focus_sigma_px: Option<ValueForm>,
    motion: Option<MotionForm>,
    blocks: Option<BlocksForm>,
    sensor: Option<SensorForm>,
    clipped_share: f64,
    unevenness: f64,
    noise_sigma: f64,
}

#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum VerdictForm {
    Usable,
    UsableWithCare,
    NotUsable,
}

#[derive(Debug, Serialize, Deserialize)]
struct MotionForm {
    direction_deg: f64,
    length_px: f64,
}

#[derive(Debug, Serialize, Deserialize)]
struct BlocksForm {
    period_px: f64,
    phase_px: [f64; 2],
    strength: f64,
}

#[derive(Debug, Serialize, Deserialize)]
struct SensorForm {
    rows: f64,
    columns: f64,
}

/// A trace with everything known of it; also how a trace drawn by hand is kept in a reading.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(crate) struct TraceForm {
    id: u32,
    points: Vec<[f64; 2]>,
    length_px: f64,
    width_px: ValueForm,
    direction_deg: f64,
    direction_u_deg: f64,
    curvature_per_px: ValueForm,
    first_inside: bool,
    last_inside: bool,
    contrast: f64,
    log10_nfa: f64,
    suspect: Option<SuspectForm>,
}

/// A measurement as the text that is kept.
///
/// # Errors
/// [`FormError::Unwritable`], which no measurement should meet.
pub fn write(kept: &Kept) -> Result<String, FormError> {
    let found = &kept.found;
    to_line(&KeptForm {
        schema: SCHEMA.to_owned(),
        camera: kept.camera.clone(),
        notes: kept.notes.clone(),
        quality: quality_form(&kept.quality),
        expected_false: kept.expected_false,
        refused: found.refused.clone(),
        noise_sigma: found.noise_sigma,
        localisation_px: found.localisation_px,
        waviness_px: found.waviness_px,
        hidden: found.hidden.map(|hidden| HiddenForm {
            axis_deg: hidden.axis.degrees(),
            half_width_deg: hidden.half_width_deg,
        }),
        traces: found.traces.iter().map(trace_form).collect(),
    })
}

/// Reads a kept measurement.
///
/// # Errors
/// [`FormError`]; a kept text is only ever wrong if the examination was changed by hand.
pub fn read(text: &str) -> Result<Kept, FormError> {
    let form: KeptForm = from_text(text, SCHEMA)?;
    let traces = form.traces.into_iter().map(trace).collect::<Result<_, _>>()?;
    let hidden = match form.hidden {
        Some(hidden) => {
            Some(HiddenSector { axis: axis(hidden.axis_deg)?, half_width_deg: hidden.half_width_deg })
        }
        None => None,
    };
    Ok(Kept {
        camera: form.camera,
        notes: form.notes,
        quality: quality(form.quality)?,
        expected_false: form.expected_false,
        found: Found {
            traces,
            refused: form.refused,
            noise_sigma: form.noise_sigma,
            localisation_px: form.localisation_px,
            waviness_px: form.waviness_px,
            hidden,
        },
    })
}

/// One trace as a line of text, for a reading's drawn, cut and joined traces.
///
/// # Errors
/// [`FormError::Unwritable`], which no trace should meet.
pub fn write_trace(trace: &Trace) -> Result<String, FormError> {
    to_line(&trace_form(trace))
}

/// Reads one trace.
///
/// # Errors
/// [`FormError`]; a kept text is only ever wrong if the examination was changed by hand.
pub fn read_trace(text: &str) -> Result<Trace, FormError> {
    let form = serde_json::from_str(text).map_err(|e| FormError::NotJson {
        line: e.line(),
        column: e.column(),
        reason: e.to_string(),
    })?;
    trace(form)
}

fn axis(degrees: f64) -> Result<AxialDeg, FormError> {
    AxialDeg::new(degrees)
        .ok_or_else(|| FormError::Contradiction { what: format!("{degrees} is no direction in degrees") })
}

pub(crate) fn trace_form(trace: &Trace) -> TraceForm {
    TraceForm {
        id: trace.id,
        points: trace.points_px.clone(),
        length_px: trace.length_px,
        width_px: trace.width_px.into(),
        direction_deg: trace.direction.degrees(),
        direction_u_deg: trace.direction_u_deg,
        curvature_per_px: trace.curvature_per_px.into(),
        first_inside: trace.ends.first_inside,
        last_inside: trace.ends.last_inside,
        contrast: trace.contrast,
        log10_nfa: trace.log10_nfa,
        suspect: trace.suspect.map(crate::measure::suspect),
    }
}

pub(crate) fn trace(form: TraceForm) -> Result<Trace, FormError> {
    Ok(Trace {
        id: form.id,
        points_px: form.points,
        length_px: form.length_px,
        width_px: form.width_px.into(),
        direction: axis(form.direction_deg)?,
        direction_u_deg: form.direction_u_deg,
        curvature_per_px: form.curvature_per_px.into(),
        ends: Ends { first_inside: form.first_inside, last_inside: form.last_inside },
        contrast: form.contrast,
        log10_nfa: form.log10_nfa,
        suspect: form.suspect.map(|suspect| match suspect {
            SuspectForm::Lamella => Suspect::Lamella,
            SuspectForm::GrainEdge => Suspect::GrainEdge,
            SuspectForm::Compression => Suspect::Compression,
            SuspectForm::Sensor => Suspect::Sensor,
            SuspectForm::Blur => Suspect::Blur,
        }),
    })
}

fn quality_form(quality: &Quality) -> QualityForm {
    QualityForm {
        verdict: match quality.verdict {
            Verdict::Usable => VerdictForm::Usable,
            Verdict::UsableWithCare => VerdictForm::UsableWithCare,
            Verdict::NotUsable => VerdictForm::NotUsable,
        },
        reasons: quality.reasons.clone(),
        focus_sigma_px: quality.focus_sigma_px.map(ValueForm::from),
        motion: quality.motion.map(|motion| MotionForm {
            direction_deg: motion.direction.degrees(),
            length_px: motion.length_px,
        }),
        blocks: quality.blocks.map(|blocks| BlocksForm {
            period_px: blocks.period_px,
            phase_px: blocks.phase_px,
            strength: blocks.strength,
        }),
        sensor: quality.sensor_rows.map(|lines| SensorForm { rows: lines.rows, columns: lines.columns }),
        clipped_share: quality.clipped_share,
        unevenness: quality.unevenness,
        noise_sigma: quality.noise_sigma,
    }
}

fn quality(form: QualityForm) -> Result<Quality, FormError> {
    let motion = match form.motion {
        Some(motion) => Some(Motion { direction: axis(motion.direction_deg)?, length_px: motion.length_px }),
        None => None,
    };
    Ok(Quality {
        verdict: match form.verdict {
            VerdictForm::Usable => Verdict::Usable,
            VerdictForm::UsableWithCare => Verdict::UsableWithCare,
            VerdictForm::NotUsable => Verdict::NotUsable,
        },
        reasons: form.reasons,
        focus_sigma_px: form.focus_sigma_px.map(Measured::from),
        motion,
        blocks: form.blocks.map(|blocks| BlockGrid {
            period_px: blocks.period_px,
            phase_px: blocks.phase_px,
            strength: blocks.strength,
        }),
        sensor_rows: form.sensor.map(|lines| SensorLines { rows: lines.rows, columns: lines.columns }),
        clipped_share: form.clipped_share,
        unevenness: form.unevenness,
        noise_sigma: form.noise_sigma,
    })
}
