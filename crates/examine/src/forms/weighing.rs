//! The weighing room: what may be weighed, and the answer kept.

use archive::Examination;
use finish::models::Finish;
use report::Dossier;
use wire::desk::{ModelForm, PageForm, PriorForm, WeighingForm};

use super::pages::{bare_stations, page};
use crate::describe::by_station;
use crate::dossier::weighed;
use crate::weighing::{cannot_weigh, kept_weighing};
use crate::{ExamineError, PublishOptions, SEED};

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
    Ok(wire::to_text(&kept.weighing)?)
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
