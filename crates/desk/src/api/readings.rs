//! What people accept, reject and draw.

use archive::CaptureId;
use axum::extract::State;
use wire::desk::{AgreementForm, PersonQuery, Problem, ReadingForm, ReadingRequest};

use super::alter;
use crate::answer::Refusal;
use crate::extract::{Json, Path, Query};
use crate::state::Shared;

/// One capture's traces in one person's reading.
#[utoipa::path(get, path = "/api/captures/{id}/reading", params(("id" = i64, Path, description = "Capture"), PersonQuery),
    responses((status = 200, body = ReadingForm), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn show(
    State(shared): State<Shared>,
    Path(id): Path<i64>,
    Query(query): Query<PersonQuery>,
) -> Result<Json<ReadingForm>, Refusal> {
    super::show(shared, move |examination| examine::forms::reading(examination, CaptureId(id), &query.person))
        .await
}

/// One step of a reading.
#[utoipa::path(post, path = "/api/captures/{id}/reading", params(("id" = i64, Path, description = "Capture"), PersonQuery),
    request_body = ReadingRequest, responses((status = 200, body = ReadingForm), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn step(
    State(shared): State<Shared>,
    Path(id): Path<i64>,
    Query(query): Query<PersonQuery>,
    Json(request): Json<ReadingRequest>,
) -> Result<Json<ReadingForm>, Refusal> {
    alter(shared, move |examination, _| {
        examine::forms::step(examination, CaptureId(id), &query.person, &request)
    })
    .await
}

/// How far the readings of a capture agree, pair by pair.
#[utoipa::path(get, path = "/api/captures/{id}/agreement", params(("id" = i64, Path, description = "Capture")),
    responses((status = 200, body = Vec<AgreementForm>), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn agreement(
    State(shared): State<Shared>,
    Path(id): Path<i64>,
) -> Result<Json<Vec<AgreementForm>>, Refusal> {
    super::show(shared, move |examination| examine::forms::agreement(examination, CaptureId(id))).await
}
