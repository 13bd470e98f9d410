//! Pages of results.

use std::sync::Arc;

use axum::extract::State;
use wire::desk::{PageForm, Problem, StoneRoomForm};
use wire::stones::StoneQuestionForm;

use super::{alter, show};
use crate::answer::Refusal;
use crate::extract::{Json, Path};
use crate::state::{Shared, off_thread};

type Page = Result<Json<PageForm>, Refusal>;

/// A page, made once for each state of the examination: people come back to pages more often than they change something.
async fn page(
    shared: Shared,
    what: String,
    make: impl FnOnce(&archive::Examination) -> Result<PageForm, examine::ExamineError> + Send + 'static,
) -> Page {
    off_thread(move || {
        let made = shared.with(|examination| {
            let key = format!("{}/{}/{what}", examination.uuid()?, examination.revision()?);
            if let Some(there) = shared.pages.get(&key) {
                return Ok(there);
            }
            let page = Arc::new(make(examination)?);
            shared.pages.insert(key, Arc::clone(&page));
            Ok(page)
        })?;
        Ok(Json(PageForm::clone(&made)))
    })
    .await
}

/// The lay of the object, of a station (`station-N`) or of a capture (`capture-N`).
#[utoipa::path(get, path = "/api/lay/{scope}", params(("scope" = String, Path, description = "object, station-N or capture-N")),
    responses((status = 200, body = PageForm), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn lay(State(shared): State<Shared>, Path(scope): Path<String>) -> Page {
    page(shared, format!("lay/{scope}"), move |examination| examine::forms::lay(examination, &scope)).await
}

/// The test whether stations differ.
#[utoipa::path(get, path = "/api/comparison", responses((status = 200, body = PageForm), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn comparison(State(shared): State<Shared>) -> Page {
    page(shared, "comparison".to_owned(), examine::forms::comparison).await
}

/// What each finish weighed would have looked like: rendered pictures, marked as such.
#[utoipa::path(get, path = "/api/weighing/pictures", responses((status = 200, body = PageForm), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn simulated(State(shared): State<Shared>) -> Page {
    page(shared, "simulated".to_owned(), examine::forms::simulated).await
}

/// What may be asked about the object's stone, and what was answered.
#[utoipa::path(get, path = "/api/stone", responses((status = 200, body = StoneRoomForm), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn stone(State(shared): State<Shared>) -> Result<Json<StoneRoomForm>, Refusal> {
    show(shared, examine::forms::stone_room).await
}

/// Answers a question about stone and keeps it.
#[utoipa::path(put, path = "/api/stone", request_body = StoneQuestionForm,
    responses((status = 200, body = StoneRoomForm), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn ask_stone(
    State(shared): State<Shared>,
    Json(question): Json<StoneQuestionForm>,
) -> Result<Json<StoneRoomForm>, Refusal> {
    alter(shared, move |examination, _| examine::forms::ask_stone(examination, &question)).await
}
