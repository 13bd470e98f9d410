//! Light and kinds, between forms and what they mean.

use archive::{CaptureKind, InstrumentKind};
use picture::Light;
use quantity::AxialDeg;
use wire::desk::LightForm;

use crate::ExamineError;

/// Light as a form.
pub fn light_form(light: Light) -> LightForm {
    match light {
        Light::Azimuth(axis) => LightForm::Azimuth { azimuth_deg: axis.degrees() },
        Light::Ring => LightForm::Ring,
        Light::Coaxial => LightForm::Coaxial,
        Light::Unknown => LightForm::Unknown,
    }
}

/// Light from a form. An azimuth and its opposite hide the same directions, so both are one axis.
pub fn light(form: LightForm) -> Result<Light, ExamineError> {
    Ok(match form {
        LightForm::Azimuth { azimuth_deg } => {
            let axis = AxialDeg::new(azimuth_deg);
            Light::Azimuth(axis.ok_or_else(|| {
                ExamineError::request(format!("{azimuth_deg} is no direction; give degrees from 0 to 360"))
            })?)
        }
        LightForm::Ring => Light::Ring,
        LightForm::Coaxial => Light::Coaxial,
        LightForm::Unknown => Light::Unknown,
    })
}

/// Kind of a capture as a word.
pub fn kind_word(kind: CaptureKind) -> &'static str {
    match kind {
        CaptureKind::Overview => "overview",
        CaptureKind::Micrograph => "micrograph",
        CaptureKind::Graduation => "graduation",
    }
}

/// Kind of a capture from its word.
pub fn kind(word: &str) -> Result<CaptureKind, ExamineError> {
    match word {
        "overview" => Ok(CaptureKind::Overview),
        "micrograph" => Ok(CaptureKind::Micrograph),
        "graduation" => Ok(CaptureKind::Graduation),
        _ => Err(ExamineError::request(format!(
            "'{word}' is no kind of capture; choose overview, micrograph or graduation"
        ))),
    }
}

/// Kind of an instrument as a word.
pub fn instrument_word(kind: InstrumentKind) -> &'static str {
    match kind {
        InstrumentKind::Camera => "camera",
        InstrumentKind::Microscope => "microscope",
    }
}

/// Kind of an instrument from its word.
pub fn instrument_kind(word: &str) -> Result<InstrumentKind, ExamineError> {
    match word {
        "camera" => Ok(InstrumentKind::Camera),
        "microscope" => Ok(InstrumentKind::Microscope),
        _ => Err(ExamineError::request(format!(
            "'{word}' is no kind of instrument; choose camera or microscope"
        ))),
    }
}
