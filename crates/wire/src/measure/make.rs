//! From measured things to the forms of `rubstone.measure/1`.

use picture::{Light, Quality};
use quantity::UmPerPx;
use trace::{Found, Suspect, Trace};

use super::{LayForm, QualityForm, SetForm, SuspectForm, TraceForm};
use crate::text::finite;

/// The form of a judgement and of the circumstances of the measuring.
#[must_use]
pub fn quality(quality: &Quality, found: &Found, light: Light, scale: Option<UmPerPx>) -> QualityForm {
    let (light, light_azimuth_deg) = crate::text::light(light);
    QualityForm {
        verdict: quality.verdict.words().to_owned(),
        reasons: quality.reasons.clone(),
        focus_sigma_px: quality.focus_sigma_px.and_then(|focus| finite(focus.value)),
        focus_sigma_u_px: quality.focus_sigma_px.and_then(|focus| finite(focus.u)),
        motion_deg: quality.motion.map(|motion| motion.direction.degrees()),
        motion_px: quality.motion.and_then(|motion| finite(motion.length_px)),
        blocks_px: quality.blocks.and_then(|blocks| finite(blocks.period_px)),
        clipped_share: finite(quality.clipped_share),
        unevenness: finite(quality.unevenness),
        noise_sigma: finite(quality.noise_sigma),
        um_per_px_u: scale.map(UmPerPx::u),
        light: light.to_owned(),
        light_azimuth_deg,
        hidden_deg: found.hidden.map(|hidden| hidden.axis.degrees()),
        hidden_half_width_deg: found.hidden.map(|hidden| hidden.half_width_deg),
        refused: found.refused.clone(),
        localisation_px: finite(found.localisation_px),
        waviness_px: finite(found.waviness_px),
        expected_false: None,
        notes: Vec::new(),
    }
}

/// The form of one trace.
#[must_use]
pub fn trace(trace: &Trace) -> TraceForm {
    TraceForm {
        id: trace.id,
        points: trace.points_px.clone(),
        length_px: trace.length_px,
        width_px: trace.width_px.value,
        direction_deg: trace.direction.degrees(),
        direction_u_deg: trace.direction_u_deg,
        curvature_per_px: trace.curvature_per_px.value,
        curvature_u_per_px: trace.curvature_per_px.u,
        ends_inside: trace.ends.count(),
        contrast: trace.contrast,
        log10_nfa: trace.log10_nfa,
        suspect: trace.suspect.map(suspect),
    }
}

/// The form of a suspicion.
#[must_use]
pub fn suspect(suspect: Suspect) -> SuspectForm {
    match suspect {
        Suspect::Lamella => SuspectForm::Lamella,
        Suspect::GrainEdge => SuspectForm::GrainEdge,
        Suspect::Compression => SuspectForm::Compression,
        Suspect::Sensor => SuspectForm::Sensor,
        Suspect::Blur => SuspectForm::Blur,
    }
}

/// The form of a description of traces.
#[must_use]
pub fn lay(description: &lay::Description) -> LayForm {
    let crossing = description.crossing_deg();
    LayForm {
        count: description.count,
        density_per_mm2: description.density_per_mm2.and_then(finite),
        intensity_per_mm: description.intensity_per_mm.and_then(finite),
        resultant: description.resultant.and_then(finite).unwrap_or(0.0),
        uniform_p: description.uniform_p.and_then(finite).unwrap_or(1.0),
        sets: description.sets.sets.iter().map(set).collect(),
        crossing_deg: crossing.map(|crossing| crossing.value),
        crossing_u_deg: crossing.and_then(|crossing| finite(crossing.u)),
    }
}

fn set(set: &lay::sets::Set) -> SetForm {
    SetForm {
        direction_deg: set.direction.degrees(),
        direction_u_deg: set.direction_u_deg,
        concentration: set.concentration,
        share: set.share,
    }
}
