//! Reference panels and blind tests.

use axum::extract::multipart::MultipartRejection;
use axum::extract::{Multipart, State};
use wire::desk::{
    BlindForm, PanelAsked, PanelAt, PanelUpload, PanelsForm, Problem, ScoreRequest, SealRequest, read_asked,
};

use super::work::absolute;
use super::{alter, show};
use crate::answer::Refusal;
use crate::extract::{Json, Path};
use crate::state::{Shared, off_thread};
use crate::upload::Upload;

/// The reference panels, and what came of leaving each out.
#[utoipa::path(get, path = "/api/panels", responses((status = 200, body = PanelsForm), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn panels(State(shared): State<Shared>) -> Result<Json<PanelsForm>, Refusal> {
    show(shared, examine::forms::panels).await
}

/// Adds a panel given as the output of `rubstone measure --json`.
#[utoipa::path(post, path = "/api/panels", request_body(content = PanelUpload, content_type = "multipart/form-data"),
    responses((status = 200, body = PanelsForm), (status = 413, body = Problem), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn add_panel(
    State(shared): State<Shared>,
    upload: Result<Multipart, MultipartRejection>,
) -> Result<Json<PanelsForm>, Refusal> {
    let upload = Upload::take(upload).await?;
    let asked = read_asked::<PanelAsked>(&upload.asked).map_err(Refusal::bad)?;
    alter(shared, move |examination, _| examine::forms::add_panel_file(examination, &asked, &upload.file))
        .await
}

/// Adds a panel that is an examination of its own.
#[utoipa::path(post, path = "/api/panels/folder", request_body = PanelAt,
    responses((status = 200, body = PanelsForm), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn add_panel_folder(
    State(shared): State<Shared>,
    Json(panel): Json<PanelAt>,
) -> Result<Json<PanelsForm>, Refusal> {
    let folder = absolute(&panel.folder)?;
    alter(shared, move |examination, _| examine::forms::add_panel_at(examination, &panel.asked, &folder))
        .await
}

/// Takes a panel out; its own examination stays as it is.
#[utoipa::path(delete, path = "/api/panels/{id}", params(("id" = u32, Path, description = "Panel")),
    responses((status = 200, body = PanelsForm), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn remove_panel(
    State(shared): State<Shared>,
    Path(id): Path<u32>,
) -> Result<Json<PanelsForm>, Refusal> {
    alter(shared, move |examination, _| examine::forms::remove_panel(examination, id)).await
}

/// Seals the answers of a blind test; nothing is kept.
#[utoipa::path(post, path = "/api/blind/seal", request_body = SealRequest,
    responses((status = 200, body = BlindForm), (status = 400, body = Problem)))]
pub async fn seal(Json(request): Json<SealRequest>) -> Result<Json<BlindForm>, Refusal> {
    off_thread(move || Ok(Json(examine::forms::seal(&request)?))).await
}

/// Scores a blind test; nothing is kept.
#[utoipa::path(post, path = "/api/blind/score", request_body = ScoreRequest,
    responses((status = 200, body = BlindForm), (status = 413, body = Problem), (status = 400, body = Problem)))]
pub async fn score(Json(request): Json<ScoreRequest>) -> Result<Json<BlindForm>, Refusal> {
    off_thread(move || Ok(Json(examine::forms::score(&request)?))).await
}
