//! The next visit: what could be planned, and the plan kept.

use archive::{CaptureKind, Examination, InstrumentKind};
use wire::desk::VisitForm;
use wire::plan::PlanQuestionForm;

use super::pages::page;
use super::weighing::models;
use crate::weighing::stored_weighing;
use crate::{ExamineError, SEED};

/// Size of a picture where no micrograph says better, px: that of many hand-held microscopes.
const USUAL_SIZE_PX: [u32; 2] = [1600, 1200];
/// Blur where no micrograph says better, px (ours: a sharp picture of such an instrument).
const USUAL_BLUR_PX: f64 = 1.3;

/// Blur that square pixels give by themselves, px: the standard deviation of a uniform distribution of width 1, 1/√12.
const LEAST_BLUR_PX: f64 = 0.29;

/// The plan as it stands, or a question to begin with.
///
/// # Errors
/// The examination cannot be read.
pub fn visit(examination: &Examination) -> Result<VisitForm, ExamineError> {
    let kept = crate::plan::kept(examination)?;
    let open = stored_weighing(examination)?.map(|kept| kept.weighing.cannot_tell_apart).unwrap_or_default();
    let sheet = kept.as_ref().is_some_and(|kept| {
        let file = kept.answer.sheet.as_ref();
        file.is_some_and(|file| examination.root().join(file).is_file())
    });
    Ok(VisitForm {
        models: models(),
        question: match &kept {
            Some(kept) => kept.question.clone(),
            None => beginning(examination, &open)?,
        },
        open,
        page: kept.as_ref().map(|kept| {
            page(report::chapter_page(
                "plan",
                "Plan of the next visit",
                &crate::dossier::visit::chapter(kept),
            ))
        }),
        sheet,
    })
}

/// The field sheet of the plan kept, as a PDF.
///
/// # Errors
/// Nothing was planned yet; the sheet is gone; the examination cannot be read.
pub fn field_sheet(examination: &Examination) -> Result<Vec<u8>, ExamineError> {
    let gone = || {
        ExamineError::request(
            "there is no field sheet; plan the visit, and the sheet is written with the plan",
        )
    };
    let file = crate::plan::kept(examination)?.and_then(|kept| kept.answer.sheet).ok_or_else(gone)?;
    std::fs::read(examination.root().join(file)).map_err(|_| gone())
}

/// A question from what the examination knows: its microscopes, the sharpness of its micrographs, and the groups that the
/// weighing leaves open.
fn beginning(examination: &Examination, open: &[Vec<String>]) -> Result<PlanQuestionForm, ExamineError> {
    let mut um_per_px: Vec<f64> = examination
        .instruments()?
        .iter()
        .filter(|instrument| instrument.kind == InstrumentKind::Microscope)
        .filter_map(|instrument| instrument.scale.as_ref().map(|scale| scale.um_per_px.value()))
        .collect();
    let micrographs: Vec<archive::Capture> = examination
        .captures()?
        .into_iter()
        .filter(|capture| capture.kind == CaptureKind::Micrograph && !capture.set_aside)
        .collect();
    um_per_px.extend(micrographs.iter().filter_map(|c| c.scale.as_ref().map(|s| s.um_per_px.value())));
    um_per_px.sort_by(f64::total_cmp);
    um_per_px.dedup_by(|a, b| (*a - *b).abs() < 0.01 * *b);
    let largest = micrographs.iter().map(|c| [c.width_px, c.height_px]).max();
    let mut blurs_px = Vec::new();
    for capture in &micrographs {
        let kept = crate::reading::as_found(examination, capture.id)?.kept;
        blurs_px.extend(kept.and_then(|kept| kept.quality.focus_sigma_px).map(|focus| focus.value));
    }
    blurs_px.sort_by(f64::total_cmp);
    let blur_px = blurs_px.get(blurs_px.len() / 2).copied().unwrap_or(USUAL_BLUR_PX).max(LEAST_BLUR_PX);
    Ok(PlanQuestionForm {
        pairs: open.first().map(|group| pairs_of(group)).unwrap_or_default(),
        size_px: largest.unwrap_or(USUAL_SIZE_PX),
        um_per_px,
        blur_px: (100.0 * blur_px).round() / 100.0,
        lights: vec!["one-side".to_owned(), "two-sides".to_owned()],
        minutes: 60.0,
        minutes_per_station: 6.0,
        minutes_per_picture: 1.5,
        most_stations: 6,
        probability: 0.8,
        seed: SEED,
        objects_per_finish: 600,
    })
}

/// Every two of some finishes.
fn pairs_of(finishes: &[String]) -> Vec<[String; 2]> {
    let rest = |index: usize| finishes.iter().skip(index + 1);
    let pairs = finishes.iter().enumerate();
    pairs.flat_map(|(index, a)| rest(index).map(move |b| [a.clone(), b.clone()])).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_finishes_make_three_pairs() {
        let three = ["a", "b", "c"].map(str::to_owned);
        let pairs: Vec<String> = pairs_of(&three).iter().map(|pair| pair.join("")).collect();
        assert_eq!(pairs, ["ab", "ac", "bc"]);
    }
}
