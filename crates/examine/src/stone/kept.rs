//! What an examination keeps about its stone.

use archive::Examination;
use wire::stones::{KeptStone, MineralShareForm, StoneQuestionForm};

use super::{StoneKind, StoneQuestion, stone};
use crate::panels::graded_panels;
use crate::{ExamineError, SEED, SOFTWARE, results};

/// Kind under which an examination keeps its answer.
const STONE: &str = "stone";

/// Answers a question about stone and keeps question and answer in an examination, in place of the earlier ones. Panels of
/// known grit that the examination keeps tell the ratio of scratch width to grain, unless the question brings its own.
///
/// # Errors
/// As [`stone()`]; the examination cannot be written.
pub fn stone_examination(
    examination: &Examination,
    question: &StoneQuestion,
) -> Result<KeptStone, ExamineError> {
    let mut asked = question.clone();
    if asked.panels.is_empty() {
        asked.panels = graded_panels(examination)?;
    }
    let answer = stone(&asked)?;
    let kept = KeptStone { schema: wire::stones::SCHEMA.to_owned(), question: form_of(question), answer };
    results::keep(examination, STONE, SOFTWARE.to_owned(), wire::stones::write(&kept)?, SEED)?;
    Ok(kept)
}

/// What an examination keeps about its stone, if anything was asked.
///
/// # Errors
/// The examination cannot be read.
pub fn kept(examination: &Examination) -> Result<Option<KeptStone>, ExamineError> {
    let stored = examination.result(STONE)?;
    Ok(stored.map(|stored| wire::stones::read(&stored.payload)).transpose()?)
}

/// The question as it is kept.
fn form_of(question: &StoneQuestion) -> StoneQuestionForm {
    let (rock, minerals) = match &question.kind {
        None => (None, Vec::new()),
        Some(StoneKind::Rock(name)) => (Some(name.clone()), Vec::new()),
        Some(StoneKind::Minerals(shares)) => {
            let share = |(mineral, share): &(String, f64)| MineralShareForm {
                mineral: mineral.clone(),
                share: *share,
            };
            (None, shares.iter().map(share).collect())
        }
    };
    StoneQuestionForm {
        rock,
        minerals,
        tool: question.tool.clone(),
        abrasive: question.abrasive.clone(),
        widths_um: question.widths_um,
        width_ratio: question.width_ratio,
        grit: question.grit.clone(),
        volume_cm3: question.work.map(|work| [work.volume_cm3.value, work.volume_cm3.u]),
        rate_cm3_per_h: question.work.map(|work| work.rate_cm3_per_h),
        area_cm2: question.face.map(|face| [face.area_cm2.value, face.area_cm2.u]),
        rate_cm2_per_h: question.face.map(|face| face.rate_cm2_per_h),
        load_n: question.motion.map(|motion| motion.load_n),
        speed_m_per_s: question.motion.map(|motion| motion.speed_m_per_s),
    }
}
