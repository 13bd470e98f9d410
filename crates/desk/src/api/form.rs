//! Form: height maps and meshes.

use archive::CaptureId;
use axum::extract::multipart::MultipartRejection;
use axum::extract::{Multipart, State};
use wire::desk::{FormAsked, FormUpload, JobForm, LandmarksAsked, MeasuredFormForm, Problem, read_asked};

use super::work::on_examination;
use super::{alter, show};
use crate::answer::Refusal;
use crate::extract::{Json, Path};
use crate::jobs::Outcome;
use crate::state::{Shared, off_thread};
use crate::upload::Upload;

/// What was measured on height maps and meshes.
#[utoipa::path(get, path = "/api/form", responses((status = 200, body = Vec<MeasuredFormForm>), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn forms(State(shared): State<Shared>) -> Result<Json<Vec<MeasuredFormForm>>, Refusal> {
    show(shared, examine::forms::measured_forms).await
}

/// Starts measuring a height map or a mesh; the file is not kept, what was measured on it is.
#[utoipa::path(post, path = "/api/form", request_body(content = FormUpload, content_type = "multipart/form-data"),
    responses((status = 200, body = JobForm), (status = 413, body = Problem), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn measure_form(
    State(shared): State<Shared>,
    upload: Result<Multipart, MultipartRejection>,
) -> Result<Json<JobForm>, Refusal> {
    let upload = Upload::take(upload).await?;
    off_thread(move || {
        let asked = read_asked::<FormAsked>(&upload.asked).map_err(Refusal::bad)?;
        // Said before minutes of work.
        examine::forms::form_options(&asked)?;
        on_examination(&shared, "Measuring form", move |examination, watch| {
            let (measured, failures) =
                examine::forms::measure_form(examination, upload.file.clone(), &asked, watch)?;
            drop(upload);
            let said = match measured {
                0 => "Nothing could be measured.".to_owned(),
                measured => format!("{measured} quantities measured."),
            };
            Ok(Outcome { said, problems: failures.into_iter().map(|failure| failure.line).collect() })
        })
    })
    .await
    .map(Json)
}

/// Measures the symmetry of pairs of landmarks on a capture.
#[utoipa::path(put, path = "/api/captures/{id}/landmarks", params(("id" = i64, Path, description = "Capture")), request_body = LandmarksAsked,
    responses((status = 200, body = Vec<MeasuredFormForm>), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn measure_landmarks(
    State(shared): State<Shared>,
    Path(id): Path<i64>,
    Json(asked): Json<LandmarksAsked>,
) -> Result<Json<Vec<MeasuredFormForm>>, Refusal> {
    alter(shared, move |examination, _| examine::forms::measure_landmarks(examination, CaptureId(id), &asked))
        .await
}

/// Forgets what was measured on one file.
#[utoipa::path(delete, path = "/api/form/{sha256}", params(("sha256" = String, Path, description = "SHA-256 of the file")),
    responses((status = 200, body = Vec<MeasuredFormForm>), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn forget_form(
    State(shared): State<Shared>,
    Path(sha256): Path<String>,
) -> Result<Json<Vec<MeasuredFormForm>>, Refusal> {
    alter(shared, move |examination, _| {
        examine::form::forget(examination, &sha256)?;
        examine::forms::measured_forms(examination)
    })
    .await
}
