//! Where a scale comes from.

use archive::{Capture, CaptureId, Examination, InstrumentId, Scale};
use picture::{Distortion, Grey, Limits};
use quantity::{Measured, UmPerPx};

use crate::ExamineError;

/// Standard uncertainty of a point that somebody clicks, px (common practice, no source).
const CLICK_U_PX: f64 = 1.0;

/// What a photographed graduation gives.
#[derive(Debug)]
pub struct FromGraduation {
    /// The scale at the centre of the field. The lens is taken out where the same graduation tells it, else what it may do
    /// is added to the uncertainty.
    pub scale: Scale,
    /// The distortion of the lens; or why the graduation does not tell it, with how to photograph it.
    pub lens: Result<Distortion, ExamineError>,
}

/// The scale and the lens that a photographed graduation gives, with `um_per_tick` engraved on it.
///
/// # Errors
/// No graduation is found on the capture, or its original cannot be read.
pub fn from_graduation(
    examination: &Examination,
    capture: &Capture,
    um_per_tick: Measured,
) -> Result<FromGraduation, ExamineError> {
    let (width_px, height_px) = (f64::from(capture.width_px), f64::from(capture.height_px));
    let named = |words: String| ExamineError::request(format!("{}: {words}", capture.file_name));
    let graduation =
        picture::find_graduation(&grey(examination, capture)?).map_err(|e| named(e.to_string()))?;
    let lens = picture::distortion_from_graduation(&graduation, width_px, height_px);
    let um_per_px =
        graduation.scale(um_per_tick, lens.as_ref().ok(), width_px, height_px).ok_or_else(|| {
            ExamineError::request(format!(
                "{} µm per tick is no distance; give the pitch engraved on the graduation",
                um_per_tick.value
            ))
        })?;
    let lens_words =
        if lens.is_ok() { "lens taken out" } else { "lens not told, its part is in the uncertainty" };
    let source = format!("graduation {}, {um_per_tick} µm per tick, {lens_words}", capture.file_name);
    Ok(FromGraduation { scale: Scale { um_per_px, source }, lens: lens.map_err(|e| named(e.to_string())) })
}

/// The scale that two points and their distance give.
///
/// # Errors
/// Points that coincide, or a distance that is none.
pub fn scale_from_points(
    capture: &Capture,
    a: [f64; 2],
    b: [f64; 2],
    distance_um: Measured,
) -> Result<Scale, ExamineError> {
    let um_per_px = picture::scale_from_points(a, b, CLICK_U_PX, distance_um)
        .map_err(|e| ExamineError::request(format!("{}: {e}", capture.file_name)))?;
    Ok(Scale { um_per_px, source: format!("two points on {}, {distance_um} µm apart", capture.file_name) })
}

/// A scale somebody types.
///
/// # Errors
/// A number that is no scale.
pub fn scale_typed(um_per_px: Measured) -> Result<Scale, ExamineError> {
    let scale = UmPerPx::new(um_per_px.value, um_per_px.u).ok_or_else(|| {
        ExamineError::request(format!(
            "{} µm/px is no scale; give a number above 0, and its standard uncertainty if it is known",
            um_per_px.value
        ))
    })?;
    Ok(Scale { um_per_px: scale, source: "typed".to_owned() })
}

/// What a scale holds for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HoldsFor {
    /// All captures of an instrument, unless they have their own.
    Instrument(InstrumentId),
    /// One capture alone.
    Capture(CaptureId),
}

/// Keeps a scale, and the lens where its graduation told one: the scale had the lens taken out, so the traces must, too. A
/// lens known before stays where this scale tells none. Returns the name of what it holds for.
///
/// # Errors
/// No such instrument or capture; the examination cannot be written.
pub fn keep_scale(
    examination: &Examination,
    holds_for: HoldsFor,
    scale: Scale,
    lens: Option<Distortion>,
) -> Result<String, ExamineError> {
    match holds_for {
        HoldsFor::Instrument(id) => {
            let mut instrument = examination.instrument(id)?;
            instrument.scale = Some(scale);
            instrument.lens = lens.or(instrument.lens);
            examination.set_instrument(&instrument)?;
            Ok(instrument.name)
        }
        HoldsFor::Capture(id) => {
            let mut capture = examination.capture(id)?;
            capture.scale = Some(scale);
            capture.lens = lens.or(capture.lens);
            examination.set_capture(&capture)?;
            Ok(capture.file_name)
        }
    }
}

/// The grey plane of a capture, from its original.
pub(crate) fn grey(examination: &Examination, capture: &Capture) -> Result<Grey, ExamineError> {
    let path = examination.original_path(&capture.sha256);
    let (picture, fingerprint) = picture::open(&path, &Limits::default())?;
    if fingerprint.hex() != capture.sha256 {
        examination.check_original(capture)?;
    }
    Ok(picture.grey)
}
