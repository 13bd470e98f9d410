//! Captures and the instruments they were taken with.

use archive::{CaptureId, InstrumentId};
use axum::extract::multipart::MultipartRejection;
use axum::extract::{Multipart, State};
use wire::desk::{
    AddQuery, AddedForm, CaptureChange, ExaminationForm, InstrumentText, Problem, SetScale, UploadForm,
};

use super::{Changed, alter, change};
use crate::answer::Refusal;
use crate::extract::{Json, Path, Query};
use crate::state::Shared;
use crate::upload::Upload;

/// Adds one picture.
#[utoipa::path(post, path = "/api/captures", params(AddQuery), request_body(content = UploadForm, content_type = "multipart/form-data"),
    responses((status = 200, body = AddedForm), (status = 413, body = Problem), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn add(
    State(shared): State<Shared>,
    Query(query): Query<AddQuery>,
    upload: Result<Multipart, MultipartRejection>,
) -> Result<Json<AddedForm>, Refusal> {
    let upload = Upload::take(upload).await?;
    alter(shared, move |examination, memory| {
        let added = examine::forms::add(examination, &upload.file, &query, memory);
        drop(upload);
        added
    })
    .await
}

/// Changes a capture's kind, station, instrument, light or note, or sets it aside.
#[utoipa::path(patch, path = "/api/captures/{id}", params(("id" = i64, Path, description = "Capture")), request_body = CaptureChange,
    responses((status = 200, body = ExaminationForm), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn change_one(
    State(shared): State<Shared>,
    Path(id): Path<i64>,
    Json(wanted): Json<CaptureChange>,
) -> Changed {
    change(shared, move |examination| examine::forms::change_capture(examination, CaptureId(id), &wanted))
        .await
}

/// Adds an instrument.
#[utoipa::path(post, path = "/api/instruments", request_body = InstrumentText,
    responses((status = 200, body = ExaminationForm), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn add_instrument(State(shared): State<Shared>, Json(text): Json<InstrumentText>) -> Changed {
    change(shared, move |examination| examine::forms::add_instrument(examination, &text)).await
}

/// Changes an instrument.
#[utoipa::path(put, path = "/api/instruments/{id}", params(("id" = i64, Path, description = "Instrument")), request_body = InstrumentText,
    responses((status = 200, body = ExaminationForm), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn change_instrument(
    State(shared): State<Shared>,
    Path(id): Path<i64>,
    Json(text): Json<InstrumentText>,
) -> Changed {
    change(shared, move |examination| examine::forms::change_instrument(examination, InstrumentId(id), &text))
        .await
}

/// Sets the scale of an instrument or of one capture.
#[utoipa::path(post, path = "/api/scale", request_body = SetScale,
    responses((status = 200, body = ExaminationForm), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn set_scale(State(shared): State<Shared>, Json(wanted): Json<SetScale>) -> Changed {
    change(shared, move |examination| examine::forms::set_scale(examination, &wanted)).await
}
