//! Reference panels: stone finished in a known way, which checks the engine or stands in for a model.

mod grit;
mod kept;

use archive::{DATABASE, Examination};
use finish::models::Finish;
use std::path::{Path, PathBuf};
use weigh::Visit;
use weigh::panels::{Panel, PanelError, PanelUse, SILICA_CAUTION, leave_one_out, score_blind, seal};
use wire::measure::Measure;
use wire::plan::{BlindAnswer, PanelForm, PanelsAnswer};
use wire::weigh::WeighForm;

pub use grit::graded_panel;
pub(crate) use grit::{graded_panels, rule_of, width_rule};
pub use kept::{add_panel, check_kept_panels, kept_panels, named_panels, remove_panel};

use crate::describe::by_station;
use crate::weighing::{finish_named, visit, visit_of};
use crate::{ExamineError, Watch, shown};

/// A panel as somebody names it: its finish, and what was measured on it.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedPanel {
    /// Its finish, by name.
    pub finish: String,
    /// What was measured on it.
    pub input: PanelInput,
}

/// Where the measurements of a panel are.
#[derive(Debug, Clone, PartialEq)]
pub enum PanelInput {
    /// An examination's folder, or a file with the output of `rubstone measure --json`.
    Path(PathBuf),
    /// Measurements at hand.
    Measure {
        /// What the panel is called.
        name: String,
        /// The measurements.
        measure: Box<Measure>,
    },
}

impl From<PanelError> for ExamineError {
    fn from(error: PanelError) -> Self {
        match error {
            PanelError::Visit(weigh::CannotWeigh::Interrupted)
            | PanelError::Panel { why: weigh::CannotWeigh::Interrupted, .. } => Self::Stopped,
            other => Self::Request(other.to_string()),
        }
    }
}

/// Leaves each panel out in turn and weighs it with an engine that knows the others.
///
/// # Errors
/// Too few panels or panels that cannot be weighed, in words; or the watcher gave up.
pub fn check_panels(
    named: &[NamedPanel],
    replace: bool,
    seed: u64,
    watch: &dyn Watch,
) -> Result<PanelsAnswer, ExamineError> {
    let panels = named.iter().map(panel).collect::<Result<Vec<_>, _>>()?;
    let panel_use = if replace { PanelUse::Replace } else { PanelUse::Update };
    let options = weigh::Options { seed, ..weigh::Options::default() };
    let checks = leave_one_out(&panels, panel_use, &options, &|done| watch.at(done, "leaving panels out"))?;
    let form = |check: &weigh::panels::PanelCheck| PanelForm {
        name: check.name.clone(),
        finish: check.finish.name().to_owned(),
        rival: check.rival.name().to_owned(),
        log10_lr: check.log10_lr,
        none_fits: check.none_fits,
    };
    Ok(PanelsAnswer {
        schema: "rubstone.panels/1".to_owned(),
        panels: checks.iter().map(form).collect(),
        caution: SILICA_CAUTION.to_owned(),
    })
}

/// What was measured on a panel.
pub(crate) fn panel(named: &NamedPanel) -> Result<Panel, ExamineError> {
    let finish = finish_named(&named.finish)?;
    Ok(match &named.input {
        PanelInput::Path(path) => Panel { name: shown(path), finish, visit: visit_at(path)? },
        PanelInput::Measure { name, measure } => {
            Panel { name: name.clone(), finish, visit: visit_of(measure)? }
        }
    })
}

/// What lies at a path, as something to weigh.
fn visit_at(input: &Path) -> Result<Visit, ExamineError> {
    if input.join(DATABASE).is_file() {
        let examination = Examination::open(input)?;
        return visit(&examination, &by_station(&examination)?);
    }
    let text = std::fs::read_to_string(input).map_err(|e| {
        ExamineError::request(format!(
            "{}: cannot be read as text ({e}); give an examination or a measurement",
            shown(input)
        ))
    })?;
    visit_of(&wire::measure::read(&text)?)
}

/// Seals the answers of a blind test: names with their finishes.
///
/// # Errors
/// A finish that is not known.
pub fn seal_answers(answers: &[(String, String)], salt: &str) -> Result<BlindAnswer, ExamineError> {
    Ok(BlindAnswer {
        schema: "rubstone.blind/1".to_owned(),
        seal: seal(&known(answers)?, salt),
        seal_holds: None,
        comparisons: 0,
        right_ten: 0,
        wrong_ten: 0,
        silent: 0,
        cllr: None,
    })
}

/// Scores a blind test: the weighings given for each name against the sealed answers.
///
/// # Errors
/// A finish that is not known.
pub fn score_answers(
    answers: &[(String, String)],
    salt: &str,
    sealed: &str,
    given: &[(String, WeighForm)],
) -> Result<BlindAnswer, ExamineError> {
    let answers = known(answers)?;
    let mut ratios = Vec::new();
    for (name, weighing) in given {
        let pairs = weighing
            .pairs
            .iter()
            .map(|pair| Ok((finish_named(&pair.a)?, finish_named(&pair.b)?, pair.log10_lr)));
        ratios.push((name.clone(), pairs.collect::<Result<Vec<_>, ExamineError>>()?));
    }
    let score = score_blind(&ratios, &answers, salt, sealed);
    Ok(BlindAnswer {
        schema: "rubstone.blind/1".to_owned(),
        seal: seal(&answers, salt),
        seal_holds: Some(score.seal_holds),
        comparisons: score.comparisons,
        right_ten: score.right_ten,
        wrong_ten: score.wrong_ten,
        silent: score.silent,
        cllr: Some(score.cllr).filter(|cllr| cllr.is_finite()),
    })
}

/// The score of a blind test in sentences.
#[must_use]
pub fn score_sentences(score: &BlindAnswer) -> Vec<String> {
    let seal = if score.seal_holds == Some(true) {
        "the seal holds"
    } else {
        "the answers are NOT those that were sealed"
    };
    let counts = format!(
        "{} comparisons: {} ratios of ten or more for the truth, {} against it, {} silent",
        score.comparisons, score.right_ten, score.wrong_ten, score.silent
    );
    let cost =
        score.cllr.map(|cllr| format!("cost of the log-likelihood ratios: {cllr:.3} (1 is worth nothing)"));
    [format!("{seal} ({})", score.seal), counts].into_iter().chain(cost).collect()
}

fn known(answers: &[(String, String)]) -> Result<Vec<(String, Finish)>, ExamineError> {
    answers.iter().map(|(name, finish)| Ok((name.clone(), finish_named(finish)?))).collect()
}
