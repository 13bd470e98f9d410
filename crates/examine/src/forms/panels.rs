//! Reference panels and blind tests: what is kept, what may be asked, what came of it.

use archive::Examination;
use report::dossier::{Chapter, Table};
use report::significant;
use wire::desk::{
    BlindAnswerForm, BlindForm, PageForm, PanelAsked, PanelItemForm, PanelsForm, ScoreRequest, SealRequest,
};
use wire::panels::{KeptCheck, KeptPanel, KeptPanels, PanelGrit, PanelSource};

use super::pages::page;
use super::weighing::models;
use crate::{ExamineError, NamedPanel, PanelInput};

/// The panels of an examination.
///
/// # Errors
/// The examination cannot be read.
pub fn panels(examination: &Examination) -> Result<PanelsForm, ExamineError> {
    let kept = crate::kept_panels(examination)?;
    Ok(PanelsForm {
        models: models(),
        panels: kept.panels.iter().map(item).collect(),
        check: kept.check.as_ref().map(|check| checked(check, &kept)),
        cannot_check: cannot_check(&kept.panels),
        caution: weigh::panels::SILICA_CAUTION.to_owned(),
    })
}

/// Adds a panel that is an examination of its own, or a file with measurements on this machine.
///
/// # Errors
/// As [`crate::add_panel`].
pub fn add_panel_at(
    examination: &Examination,
    asked: &PanelAsked,
    path: &std::path::Path,
) -> Result<PanelsForm, ExamineError> {
    add_panel(examination, asked, PanelInput::Path(path.to_path_buf()))
}

/// Adds a panel from a file with the output of `rubstone measure --json`, under the file's own name.
///
/// # Errors
/// The file is no such text; otherwise as [`crate::add_panel`].
pub fn add_panel_file(
    examination: &Examination,
    asked: &PanelAsked,
    file: &std::path::Path,
) -> Result<PanelsForm, ExamineError> {
    let name = crate::shown(std::path::Path::new(file.file_name().unwrap_or_default()));
    let measure = crate::measure_in(file).map_err(|e| ExamineError::request(format!("{name} {e}")))?;
    add_panel(examination, asked, PanelInput::Measure { name, measure: Box::new(measure) })
}

fn add_panel(
    examination: &Examination,
    asked: &PanelAsked,
    input: PanelInput,
) -> Result<PanelsForm, ExamineError> {
    let grit = asked.grit.as_deref().filter(|grit| !grit.trim().is_empty());
    crate::add_panel(examination, NamedPanel { finish: asked.finish.clone(), input }, grit)?;
    panels(examination)
}

/// Takes a panel out.
///
/// # Errors
/// As [`crate::remove_panel`].
pub fn remove_panel(examination: &Examination, id: u32) -> Result<PanelsForm, ExamineError> {
    crate::remove_panel(examination, id)?;
    panels(examination)
}

/// Seals the answers of a blind test.
///
/// # Errors
/// A finish that is not known; no answers, or no secret text.
pub fn seal(request: &SealRequest) -> Result<BlindForm, ExamineError> {
    let sealed = crate::seal_answers(&answers(&request.answers)?, secret(&request.salt)?)?;
    Ok(BlindForm { seal: sealed.seal, sentences: Vec::new() })
}

/// Scores a blind test.
///
/// # Errors
/// A finish that is not known; no answers; a weighing that is none; a weighing of a panel without an answer.
pub fn score(request: &ScoreRequest) -> Result<BlindForm, ExamineError> {
    let answers = answers(&request.answers)?;
    if request.weighings.is_empty() {
        return Err(ExamineError::request("there is nothing to score; give the weighing of each panel"));
    }
    let mut given = Vec::new();
    for one in &request.weighings {
        let about = |e: wire::FormError| ExamineError::request(format!("the weighing of {} {e}", one.name));
        if !answers.iter().any(|(name, _)| *name == one.name) {
            return Err(ExamineError::request(format!(
                "there is no answer for {}; name each weighing as its panel is named in the answers",
                one.name
            )));
        }
        given.push((one.name.clone(), wire::from_text(&one.weighing, wire::weigh::SCHEMA).map_err(about)?));
    }
    let score = crate::score_answers(&answers, secret(&request.salt)?, request.sealed.trim(), &given)?;
    Ok(BlindForm { sentences: crate::score_sentences(&score), seal: score.seal })
}

fn answers(given: &[BlindAnswerForm]) -> Result<Vec<(String, String)>, ExamineError> {
    if given.is_empty() {
        return Err(ExamineError::request("there are no answers; give each panel's name and its finish"));
    }
    Ok(given.iter().map(|one| (one.name.trim().to_owned(), one.finish.trim().to_owned())).collect())
}

fn secret(salt: &str) -> Result<&str, ExamineError> {
    if salt.is_empty() {
        let words = "give a secret text: without it anybody could find the answers by trying all of them";
        return Err(ExamineError::request(words));
    }
    Ok(salt)
}

fn item(panel: &KeptPanel) -> PanelItemForm {
    let captures =
        |count: usize| if count == 1 { "one capture".to_owned() } else { format!("{count} captures") };
    PanelItemForm {
        id: panel.id,
        name: panel.name.clone(),
        finish: panel.finish.clone(),
        grit: panel.grit.as_ref().map_or(String::new(), grit),
        source: match &panel.source {
            PanelSource::Examination(folder) => format!("the examination in {folder}"),
            PanelSource::Measure(measure) => format!("measurements of {}", captures(measure.captures.len())),
        },
    }
}

fn grit(grit: &PanelGrit) -> String {
    format!(
        "{}: grains of {} µm left scratches {} µm wide (median)",
        grit.grade,
        significant(grit.grain_um, 2),
        significant(grit.width_um, 2)
    )
}

/// Why panels cannot be left out in turn, as [`weigh::panels::leave_one_out`] would say after the fact.
fn cannot_check(panels: &[KeptPanel]) -> Option<String> {
    let one_finish =
        panels.iter().all(|panel| panels.first().is_some_and(|first| first.finish == panel.finish));
    let few = panels.len() < 3 || one_finish;
    few.then(|| "Three panels or more, of two finishes or more, are needed for that.".to_owned())
}

/// What came of leaving each panel out.
fn checked(check: &KeptCheck, kept: &KeptPanels) -> PageForm {
    let way = if check.replace { "take the place of" } else { "update" };
    let mut computed = vec![format!(
        "Each panel was left out in turn and weighed by an engine in which the other panels {way} the models of their finishes (seed {}).",
        check.seed
    )];
    let ids: Vec<u32> = kept.panels.iter().map(|panel| panel.id).collect();
    if ids != check.panels {
        computed.insert(0, "Panels have been added or taken out since this check; check again.".to_owned());
    }
    let against = check.answer.panels.iter().filter(|panel| panel.log10_lr < 0.0).count();
    let of = check.answer.panels.len();
    computed.push(match against {
        0 => format!("None of the {of} panels was taken for another finish."),
        1 => format!("One of the {of} panels was taken for another finish: its ratio is below 0."),
        more => format!("{more} of the {of} panels were taken for another finish: their ratios are below 0."),
    });
    let words = |name: &str| name.replace('-', " ");
    let table = Table {
        caption:
            "How each panel fared when it was left out. A ratio near 0 says nothing for or against the truth."
                .to_owned(),
        headings: [
            "Panel",
            "Finish",
            "Taken most for",
            "log10 LR of the truth over that",
            "Does any finish fit?",
        ]
        .map(str::to_owned)
        .to_vec(),
        rows: check
            .answer
            .panels
            .iter()
            .map(|panel| {
                vec![
                    panel.name.clone(),
                    words(&panel.finish),
                    words(&panel.rival),
                    format!("{:.1}", panel.log10_lr).replace('-', "−"),
                    if panel.none_fits { "none was found to fit" } else { "yes" }.to_owned(),
                ]
            })
            .collect(),
    };
    page(report::chapter_page(
        "panels",
        "The panels, each left out in turn",
        &Chapter { computed, tables: vec![table], ..Chapter::default() },
    ))
}

/// How a weighing uses the panels an examination keeps: which, and whether they replace the models.
///
/// # Errors
/// A word that is not known; no panels are kept; the examination cannot be read.
pub fn panels_to_use(
    examination: &Examination,
    word: Option<&str>,
) -> Result<(Vec<NamedPanel>, bool), ExamineError> {
    let replace = match word {
        None => return Ok((Vec::new(), false)),
        Some("update") => false,
        Some("replace") => true,
        Some(other) => {
            return Err(ExamineError::request(format!("panels cannot '{other}'; choose update or replace")));
        }
    };
    let panels = crate::named_panels(examination)?;
    if panels.is_empty() {
        return Err(ExamineError::request("there are no panels yet; add some, or weigh without them"));
    }
    Ok((panels, replace))
}
