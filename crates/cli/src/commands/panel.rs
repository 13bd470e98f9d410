//! `rubstone panel`.

use std::path::{Path, PathBuf};

use examine::{
    ExamineError, NamedPanel, PanelInput, check_panels, score_answers, score_sentences, seal_answers,
};
use wire::plan::PanelsAnswer;
use wire::weigh::WeighForm;

use super::json;
use super::panel_set::{self, Wanted};
use crate::args::{Panel, PanelCommand};
use crate::outcome::{About, Outcome, Stop};
use crate::progress::Progress;
use crate::say;

pub fn run(args: &Panel) -> Result<Outcome, Stop> {
    match &args.command {
        PanelCommand::Check { panels, replace, seed, json } => {
            let named = panels.iter().map(|text| named_panel(text)).collect::<Result<Vec<_>, _>>()?;
            let answer = check_panels(&named, *replace, *seed, &Progress::new())?;
            if *json {
                json!(&answer);
                return Ok(Outcome::default());
            }
            say_check(&answer);
        }
        PanelCommand::Set { examination, add, grit, remove, check, replace, seed, json } => {
            let check = check.then_some((*replace, *seed));
            return panel_set::run(&Wanted {
                examination,
                add,
                grit: grit.as_deref(),
                remove,
                check,
                json: *json,
            });
        }
        PanelCommand::Seal { answers, salt, json } => {
            let sealed = seal_answers(&read_answers(answers)?, salt)?;
            if *json {
                json!(&sealed);
            } else {
                say::result(&sealed.seal);
            }
        }
        PanelCommand::Score { answers, salt, sealed, weighings, json } => {
            let given = weighings.iter().map(|text| weighing(text)).collect::<Result<Vec<_>, _>>()?;
            let score = score_answers(&read_answers(answers)?, salt, sealed, &given)?;
            if *json {
                json!(&score);
            } else {
                score_sentences(&score).iter().for_each(|sentence| say::result(sentence));
            }
        }
    }
    Ok(Outcome::default())
}

pub(super) fn split<'a>(text: &'a str, example: &str) -> Result<(&'a str, &'a str), ExamineError> {
    text.split_once('=')
        .ok_or_else(|| ExamineError::request(format!("'{text}' has no '='; write it like {example}")))
}

pub(super) fn say_check(answer: &PanelsAnswer) {
    for panel in &answer.panels {
        let fits = if panel.none_fits { "; none of the finishes was found to fit" } else { "" };
        say::result(&format!(
            "{} ({}): log10 LR of the truth over {} is {:.1}{fits}",
            panel.name, panel.finish, panel.rival, panel.log10_lr
        ));
    }
    say::result(&answer.caution);
}

/// A panel as it is typed: FINISH=INPUT.
pub(super) fn named_panel(text: &str) -> Result<NamedPanel, ExamineError> {
    let (finish, input) = split(text, "guided-rub=panel-3")?;
    Ok(NamedPanel { finish: finish.to_owned(), input: PanelInput::Path(PathBuf::from(input)) })
}

/// The answers of a blind test: one `name,finish` per line.
fn read_answers(path: &Path) -> Result<Vec<(String, String)>, Stop> {
    let text = std::fs::read_to_string(path)
        .map_err(|e| {
            ExamineError::request(format!("cannot be read as text ({e}); write one 'name,finish' per line"))
        })
        .about(path)?;
    let mut answers = Vec::new();
    for line in text.lines().filter(|line| !line.trim().is_empty()) {
        let (name, finish) = line
            .split_once(',')
            .ok_or_else(|| {
                ExamineError::request(format!("the line '{line}' has no comma; write 'name,finish'"))
            })
            .about(path)?;
        answers.push((name.trim().to_owned(), finish.trim().to_owned()));
    }
    Ok(answers)
}

fn weighing(text: &str) -> Result<(String, WeighForm), Stop> {
    let (name, path) = split(text, "panel-3=weigh-3.json")?;
    let path = Path::new(path);
    let words = std::fs::read_to_string(path)
        .map_err(|e| {
            ExamineError::request(format!(
                "cannot be read as text ({e}); give the output of `rubstone weigh --json`"
            ))
        })
        .about(path)?;
    Ok((name.to_owned(), wire::from_text(&words, wire::weigh::SCHEMA).about(path)?))
}
