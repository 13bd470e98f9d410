//! Pages of results.

use axum::extract::State;
use wire::desk::{PageForm, Problem};

use crate::answer::Refusal;
use crate::extract::{Json, Path};
use crate::state::{Shared, off_thread};

type Page = Result<Json<PageForm>, Refusal>;

async fn page(
    shared: Shared,
    make: impl FnOnce(&archive::Examination) -> Result<PageForm, examine::ExamineError> + Send + 'static,
) -> Page {
    off_thread(move || shared.with(|examination| Ok(make(examination)?))).await.map(Json)
}

/// The lay of the object, of a station (`station-N`) or of a capture (`capture-N`).
#[utoipa::path(get, path = "/api/lay/{scope}", params(("scope" = String, Path, description = "object, station-N or capture-N")),
    responses((status = 200, body = PageForm), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn lay(State(shared): State<Shared>, Path(scope): Path<String>) -> Page {
    page(shared, move |examination| examine::forms::lay(examination, &scope)).await
}

/// The test whether stations differ.
#[utoipa::path(get, path = "/api/comparison", responses((status = 200, body = PageForm), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn comparison(State(shared): State<Shared>) -> Page {
    page(shared, examine::forms::comparison).await
}
