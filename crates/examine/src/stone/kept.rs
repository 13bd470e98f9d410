//! What an examination keeps about its stone.

use archive::{Examination, StoredResult};
use wire::stones::{KeptStone, StoneQuestionForm};

use super::{StoneQuestion, stone};
use crate::{ExamineError, SEED, SOFTWARE};

/// Kind under which an examination keeps its answer.
const STONE: &str = "stone";

/// Answers a question about stone and keeps question and answer in an examination, in place of the earlier ones.
///
/// # Errors
/// As [`stone`]; the examination cannot be written.
pub fn stone_examination(
    examination: &Examination,
    question: &StoneQuestionForm,
) -> Result<KeptStone, ExamineError> {
    let answer = stone(&asked(question))?;
    let kept = KeptStone { schema: wire::stones::SCHEMA.to_owned(), question: question.clone(), answer };
    examination.keep_result(
        STONE,
        &StoredResult {
            settings: SOFTWARE.to_owned(),
            payload: wire::stones::write(&kept)?,
            software: SOFTWARE.to_owned(),
            seed: SEED,
            made_at: String::new(),
        },
    )?;
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

fn asked(question: &StoneQuestionForm) -> StoneQuestion {
    let named = |text: &Option<String>| text.clone().filter(|text| !text.trim().is_empty());
    StoneQuestion {
        rock: named(&question.rock),
        tool: named(&question.tool),
        abrasive: named(&question.abrasive),
        widths_um: question.widths_um,
        width_ratio: question.width_ratio,
    }
}
