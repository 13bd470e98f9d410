//! The next visit.

use axum::extract::State;
use axum::http::header;
use axum::response::{IntoResponse, Response};
use wire::desk::{Problem, VisitForm};

use super::show;
use crate::answer::Refusal;
use crate::extract::Json;
use crate::state::{Shared, off_thread};

/// The plan as it stands, or a question to begin with.
#[utoipa::path(get, path = "/api/visit", responses((status = 200, body = VisitForm), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn visit(State(shared): State<Shared>) -> Result<Json<VisitForm>, Refusal> {
    show(shared, examine::forms::visit).await
}

/// The field sheet of the plan kept, as a PDF.
pub async fn field_sheet(State(shared): State<Shared>) -> Result<Response, Refusal> {
    let bytes =
        off_thread(move || shared.with(|examination| Ok(examine::forms::field_sheet(examination)?))).await?;
    // Shown in the browser's own reader, from where it can be saved and printed.
    let disposition = "inline; filename=\"field-sheet.pdf\"";
    Ok(([(header::CONTENT_TYPE, "application/pdf"), (header::CONTENT_DISPOSITION, disposition)], bytes)
        .into_response())
}
