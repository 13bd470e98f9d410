//! The weighing room: what may be weighed, and the answer kept.

use archive::Examination;
use finish::models::Finish;
use report::Dossier;
use wire::desk::{FileWeighingForm, ModelForm, PageForm, PriorForm, WeighAsked, WeighingForm};
use wire::weigh::KeptWeighing;

use super::pages::{bare_stations, page};
use crate::describe::by_station;
use crate::dossier::weighed;
use crate::weighing::{cannot_weigh, kept_weighing};
use crate::{ExamineError, PublishOptions, SEED, WeighOptions};

/// The weighing as it stands.
///
/// # Errors
/// The examination cannot be read.
pub fn weighing(examination: &Examination) -> Result<WeighingForm, ExamineError> {
    let groups = by_station(examination)?;
    let kept = kept_weighing(examination, &groups)?;
    let dossier = Dossier {
        stations: bare_stations(examination, &groups, false)?,
        weighing: kept.as_ref().map(crate::dossier::weighing::weighing),
        ..Dossier::default()
    };
    let names = kept.as_ref().map_or_else(
        || Finish::all().map(|finish| finish.name().to_owned()).collect(),
        |kept| kept.weighing.finishes.iter().map(|row| row.name.clone()).collect(),
    );
    let priors = kept.iter().flat_map(|kept| &kept.posterior);
    Ok(WeighingForm {
        cannot: cannot_weigh(examination, &groups)?,
        models: models(),
        finishes: names,
        seed: kept.as_ref().map_or(SEED, |kept| kept.weighing.seed),
        priors: priors
            .map(|(finish, prior, _)| PriorForm { finish: finish.clone(), probability: *prior })
            .collect(),
        page: report::weighing_page(&dossier).map(page),
    })
}

/// The weighing kept, as `rubstone weigh --json` prints it.
///
/// # Errors
/// Nothing was weighed; the examination cannot be read.
pub fn weighing_text(examination: &Examination) -> Result<String, ExamineError> {
    let kept = crate::weighing::stored_weighing(examination)?;
    let kept =
        kept.ok_or_else(|| ExamineError::request("nothing was weighed yet; weigh the finishes first"))?;
    weighing_as_text(&kept)
}

/// A weighing as `rubstone weigh --json` prints it.
///
/// # Errors
/// It cannot be written as JSON, which no weighing should meet.
pub fn weighing_as_text(kept: &KeptWeighing) -> Result<String, ExamineError> {
    Ok(wire::to_text(&kept.weighing)?)
}

/// How an examination, or a file weighed beside it, is to be weighed.
///
/// # Errors
/// Panels are asked for and there are none, or to do what they cannot; the examination cannot be read.
pub fn weigh_options(
    examination: Option<&Examination>,
    asked: WeighAsked,
) -> Result<WeighOptions, ExamineError> {
    let (panels, replace) = match (asked.panels.as_deref(), examination) {
        (None, _) => (Vec::new(), false),
        (word, Some(examination)) => super::panels_to_use(examination, word)?,
        (Some(_), None) => {
            return Err(ExamineError::request("panels belong to an examination; open the one that has them"));
        }
    };
    Ok(WeighOptions {
        seed: asked.seed,
        finishes: asked.finishes,
        priors: asked.priors.into_iter().map(|prior| (prior.finish, prior.probability)).collect(),
        panels,
        replace,
        cache: if asked.anew { None } else { crate::cache_folder() },
    })
}

/// The weighing of somebody's measurements.
#[must_use]
pub fn file_weighing(file: &str, kept: &KeptWeighing) -> FileWeighingForm {
    let dossier = Dossier { weighing: Some(crate::dossier::weighing::weighing(kept)), ..Dossier::default() };
    FileWeighingForm { file: Some(file.to_owned()), page: report::weighing_page(&dossier).map(page) }
}

/// What each finish would have looked like in the widest field, rendered.
///
/// # Errors
/// Nothing was weighed, no field has a scale, or the examination cannot be read.
pub fn simulated(examination: &Examination) -> Result<PageForm, ExamineError> {
    let weighing = weighed(examination, &by_station(examination)?, &PublishOptions::default())?;
    weighing.as_ref().and_then(report::simulated_page).map(page).ok_or_else(|| {
        ExamineError::request(
            "there is nothing to render yet; weigh the finishes on captures with a scale first",
        )
    })
}

/// The finishes that are modelled.
pub(super) fn models() -> Vec<ModelForm> {
    Finish::all()
        .map(|finish| ModelForm {
            name: finish.name().to_owned(),
            title: finish.name().replace('-', " "),
            sentence: finish.model().sentence().to_owned(),
        })
        .collect()
}
