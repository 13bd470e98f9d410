//! The form room: what was measured on height maps and meshes, and what may be asked of the next.

use std::path::PathBuf;

use archive::{CaptureId, Examination};
use wire::desk::{FormAsked, LandmarksAsked, MeasuredFormForm};

use super::pages::page;
use crate::{BlockAsked, ExamineError, Failure, FormOptions, FormPart, Watch};

/// Everything kept about form, a page for each file.
///
/// # Errors
/// The examination cannot be read.
pub fn measured_forms(examination: &Examination) -> Result<Vec<MeasuredFormForm>, ExamineError> {
    let forms = crate::form::kept(examination)?;
    let one = |kept: &wire::form::KeptForm| MeasuredFormForm {
        sha256: kept.sha256.clone(),
        file: kept.form.file.clone(),
        page: page(report::chapter_page(
            &format!("form-{}", kept.sha256.get(..8).unwrap_or_default()),
            "Form",
            &crate::dossier::form::of_file(kept),
        )),
    };
    Ok(forms.iter().map(one).collect())
}

/// Measures the form of one file and keeps it; the number of quantities measured, and the file itself where it failed.
///
/// # Errors
/// What is asked makes no sense; the examination cannot be written; the watcher gave up.
pub fn measure_form(
    examination: &Examination,
    file: PathBuf,
    asked: &FormAsked,
    watch: &dyn Watch,
) -> Result<(usize, Vec<Failure>), ExamineError> {
    let (kept, failures) = crate::form_examination(examination, &[file], &form_options(asked)?, watch)?;
    Ok((kept.iter().map(|form| form.form.quantities.len()).sum(), failures))
}

/// Measures the symmetry of pairs of landmarks on a capture and keeps it.
///
/// # Errors
/// No such capture; what is asked makes no sense, in words; the examination cannot be written.
pub fn measure_landmarks(
    examination: &Examination,
    capture: CaptureId,
    asked: &LandmarksAsked,
) -> Result<Vec<MeasuredFormForm>, ExamineError> {
    let capture = examination.capture(capture)?;
    crate::form::landmarks_examination(examination, &capture.file_name, &capture.sha256, asked)?;
    measured_forms(examination)
}

/// What is asked as the measuring functions take it.
///
/// # Errors
/// A word that is not known; two block faces at once.
pub fn form_options(asked: &FormAsked) -> Result<FormOptions, ExamineError> {
    let unit = asked.unit.as_deref().filter(|sign| !sign.trim().is_empty());
    let unit = unit.map(crate::form::length_unit).transpose()?;
    let block = match (asked.block_points_mm, asked.block_raised_mm) {
        (Some(_), Some(_)) => {
            return Err(ExamineError::request(
                "give three points of the block face or a raised plane, not both",
            ));
        }
        (Some(points), None) => Some(BlockAsked::Through(points)),
        (None, raised) => raised.map(BlockAsked::Raised),
    };
    Ok(FormOptions {
        unit,
        pitch_um: asked.pitch_um,
        height_per_count: asked.height_per_count,
        u_height_um: asked.u_height_um,
        scale_u: asked.scale_u,
        s_filter_um: asked.s_filter_um,
        l_filter_um: asked.l_filter_um,
        parts: asked.parts.iter().map(|word| FormPart::of_word(word)).collect::<Result<_, _>>()?,
        region_mm: asked.region_mm.clone(),
        path_mm: asked.path_mm.clone(),
        reach_mm: asked.reach_mm,
        spacing_mm: asked.spacing_mm,
        block,
        block_u_mm: asked.block_u_mm,
    })
}
