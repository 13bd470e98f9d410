//! The API: one function a request, each a call of `examine` and nothing more.

mod captures;
mod events;
mod form;
mod object;
mod pages;
mod panels;
mod readings;
mod report;
mod visit;
mod weighing;
mod work;

use archive::Examination;
use examine::ExamineError;
use examine::forms::Memory;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;
use wire::desk::ExaminationForm;

use crate::answer::Refusal;
use crate::extract::Json;
use crate::state::{Shared, off_thread};

pub use events::events;
pub use report::report_file;
pub use visit::field_sheet;

/// Every change answers with the examination as it is then.
type Changed = Result<Json<ExaminationForm>, Refusal>;

/// All routes that the OpenAPI document describes.
pub fn routes(upload_bytes: usize) -> OpenApiRouter<Shared> {
    let uploads = OpenApiRouter::new()
        .routes(routes!(captures::add))
        .routes(routes!(form::forms, form::measure_form))
        .routes(routes!(panels::panels, panels::add_panel))
        .routes(routes!(panels::score))
        .routes(routes!(weighing::weighed_file, weighing::weigh_file))
        .layer(axum::extract::DefaultBodyLimit::max(upload_bytes));
    OpenApiRouter::new()
        .routes(routes!(object::state))
        .routes(routes!(object::open))
        .routes(routes!(object::close))
        .routes(routes!(object::set))
        .routes(routes!(object::add_station))
        .routes(routes!(object::change_station, object::remove_station))
        .routes(routes!(object::pin, object::unpin))
        .routes(routes!(captures::add_instrument))
        .routes(routes!(captures::change_instrument))
        .routes(routes!(captures::change_one))
        .routes(routes!(captures::set_scale))
        .routes(routes!(readings::show, readings::step))
        .routes(routes!(readings::agreement))
        .routes(routes!(pages::lay))
        .routes(routes!(pages::comparison))
        .routes(routes!(weighing::weighing))
        .routes(routes!(pages::simulated))
        .routes(routes!(panels::add_panel_folder))
        .routes(routes!(panels::remove_panel))
        .routes(routes!(panels::seal))
        .routes(routes!(visit::visit))
        .routes(routes!(pages::stone, pages::ask_stone))
        .routes(routes!(form::forget_form))
        .routes(routes!(form::measure_landmarks))
        .routes(routes!(work::list, work::start))
        .routes(routes!(work::cancel))
        .merge(uploads)
}

/// Shows something of the examination.
async fn show<T: Send + 'static>(
    shared: Shared,
    read: impl FnOnce(&Examination) -> Result<T, ExamineError> + Send + 'static,
) -> Result<Json<T>, Refusal> {
    off_thread(move || shared.with(|examination| Ok(read(examination)?))).await.map(Json)
}

/// Changes something, tells every page of it, and answers with what came of it.
async fn alter<T: Send + 'static>(
    shared: Shared,
    job: impl FnOnce(&Examination, &Memory) -> Result<T, ExamineError> + Send + 'static,
) -> Result<Json<T>, Refusal> {
    off_thread(move || {
        let answer = shared.with(|examination| Ok(job(examination, &shared.memory)?))?;
        crate::jobs::tell(&shared.changed);
        Ok(Json(answer))
    })
    .await
}

/// Carries out a change and answers with the examination as it is then.
async fn change(
    shared: Shared,
    job: impl FnOnce(&Examination) -> Result<(), ExamineError> + Send + 'static,
) -> Changed {
    alter(shared, |examination, memory| {
        job(examination)?;
        examine::forms::examination(examination, memory)
    })
    .await
}
