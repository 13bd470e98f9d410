//! Work that takes long: measuring, weighing, reporting, packing, the sample.

use std::path::PathBuf;

use archive::Examination;
use axum::extract::State;
use examine::{PublishOptions, Watch};
use wire::desk::{JobForm, JobRequest, Problem};
use wire::weigh::KeptWeighing;

use crate::answer::Refusal;
use crate::extract::{Json, Path};
use crate::jobs::{JobWatch, Outcome};
use crate::state::{Shared, off_thread};

impl Watch for JobWatch {
    fn at(&self, done: f64, doing: &str) -> bool {
        self.report(done, doing)
    }
}

/// All work of this run of the program.
#[utoipa::path(get, path = "/api/jobs", responses((status = 200, body = Vec<JobForm>)))]
pub async fn list(State(shared): State<Shared>) -> Json<Vec<JobForm>> {
    Json(shared.jobs.forms())
}

/// Starts a piece of work.
#[utoipa::path(post, path = "/api/jobs", request_body = JobRequest,
    responses((status = 200, body = JobForm), (status = 400, body = Problem), (status = 409, body = Problem)))]
pub async fn start(
    State(shared): State<Shared>,
    Json(request): Json<JobRequest>,
) -> Result<Json<JobForm>, Refusal> {
    off_thread(move || begin(&shared, request)).await.map(Json)
}

/// Asks a piece of work to stop; what it has done stays.
#[utoipa::path(delete, path = "/api/jobs/{id}", params(("id" = u64, Path, description = "Work")),
    responses((status = 200, body = Vec<JobForm>), (status = 400, body = Problem), (status = 404, body = Problem)))]
pub async fn cancel(
    State(shared): State<Shared>,
    Path(id): Path<u64>,
) -> Result<Json<Vec<JobForm>>, Refusal> {
    shared.jobs.cancel(id)?;
    Ok(Json(shared.jobs.forms()))
}

fn begin(shared: &Shared, request: JobRequest) -> Result<JobForm, Refusal> {
    match request {
        JobRequest::Measure { expected_false } => {
            on_examination(shared, "Measuring", move |examination, watch| {
                if let Some(expected_false) = expected_false {
                    examine::set_expected_false(examination, expected_false)?;
                }
                let (measured, failures) = examine::measure_examination(examination, watch)?;
                let said = if measured == 1 {
                    "One picture measured.".to_owned()
                } else {
                    format!("{measured} pictures measured.")
                };
                Ok(Outcome { said, problems: failures.into_iter().map(|failure| failure.line).collect() })
            })
        }
        JobRequest::CheckOriginals => {
            on_examination(shared, "Checking the originals", |examination, watch| {
                let (checked, failures) = examine::check_originals(examination, watch)?;
                let said = match failures.len() {
                    0 => format!("{checked} originals are as they were added."),
                    1 => format!("One of {checked} originals is missing or altered."),
                    lost => format!("{lost} of {checked} originals are missing or altered."),
                };
                Ok(Outcome { said, problems: failures.into_iter().map(|failure| failure.line).collect() })
            })
        }
        JobRequest::Weigh(asked) => {
            let options =
                shared.with(|examination| Ok(examine::forms::weigh_options(Some(examination), asked)?))?;
            on_examination(shared, "Weighing the finishes", move |examination, watch| {
                Ok(weighed(&examine::weigh_examination(examination, &options, watch)?))
            })
        }
        JobRequest::CheckPanels { replace, seed } => {
            on_examination(shared, "Checking the panels", move |examination, watch| {
                let check = examine::check_kept_panels(examination, replace, seed, watch)?;
                let said = format!("{} panels checked, each left out in turn.", check.panels.len());
                Ok(Outcome { said, ..Outcome::default() })
            })
        }
        JobRequest::Plan { question } => {
            on_examination(shared, "Planning the next visit", move |examination, watch| {
                let kept = examine::plan_examination(examination, &question, watch)?;
                Ok(Outcome { said: kept.answer.words, ..Outcome::default() })
            })
        }
        JobRequest::Report { without, made_at } => {
            on_examination(shared, "Writing the report", move |examination, watch| {
                let made_at = made_at.filter(|day| !day.trim().is_empty());
                let options = PublishOptions { made_at, without, ..PublishOptions::default() };
                let published = examine::publish(examination, &options, watch)?;
                let said = format!(
                    "Written: {}, {} and {} tables.",
                    published.pdf.display(),
                    published.html.display(),
                    published.tables.len()
                );
                Ok(Outcome { said, ..Outcome::default() })
            })
        }
        JobRequest::Package { folder, license } => {
            let folder = absolute(&folder)?;
            on_examination(shared, "Writing the archive package", move |examination, watch| {
                let license = license.filter(|words| !words.trim().is_empty());
                examine::package(examination, &folder, license.as_deref(), watch)?;
                Ok(Outcome {
                    said: format!("Written: {} (BagIt, begins with bagit.txt).", folder.display()),
                    ..Outcome::default()
                })
            })
        }
        JobRequest::Sample { folder } => sample(shared, absolute(&folder)?),
    }
}

/// What a weighing says in a line.
pub fn weighed(kept: &KeptWeighing) -> Outcome {
    let said = match kept.weighing.cannot_tell_apart.len() {
        0 => "Weighed; every pair is told apart.".to_owned(),
        1 => "Weighed; one group of finishes cannot be told apart.".to_owned(),
        more => format!("Weighed; {more} groups of finishes cannot be told apart."),
    };
    Outcome { said, ..Outcome::default() }
}

pub fn absolute(folder: &str) -> Result<PathBuf, Refusal> {
    let folder = PathBuf::from(folder.trim());
    if folder.is_absolute() {
        Ok(folder)
    } else {
        Err(Refusal::bad("give the whole path of the folder, from the root of the disk"))
    }
}

/// Starts work on the open examination.
pub fn on_examination(
    shared: &Shared,
    title: &str,
    work: impl FnOnce(&Examination, &JobWatch) -> Result<Outcome, examine::ExamineError> + Send + 'static,
) -> Result<JobForm, Refusal> {
    let folder =
        shared.folder().ok_or_else(|| Refusal::busy("no examination is open; open or begin one first"))?;
    shared.jobs.start(title, move |watch| {
        let examination = Examination::open(&folder).map_err(|e| e.to_string())?;
        work(&examination, watch).map_err(|e| e.to_string())
    })
}

fn sample(shared: &Shared, folder: PathBuf) -> Result<JobForm, Refusal> {
    let desk = shared.clone();
    shared.jobs.start("Making the sample examination", move |watch| {
        let made = examine::sample(&folder, watch).map_err(|e| e.to_string())?;
        desk.open(&folder);
        let said = format!(
            "{} pictures measured; the sample is open, its report is {}.",
            made.n_measured,
            made.report.pdf.display()
        );
        Ok(Outcome { said, problems: made.failures.into_iter().map(|failure| failure.line).collect() })
    })
}
