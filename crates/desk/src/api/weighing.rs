//! Weighing: the examination's own, and that of measurements which came in a file.

use std::path::Path as DiskPath;

use axum::extract::multipart::MultipartRejection;
use axum::extract::{Multipart, State};
use wire::desk::{FileWeighingForm, JobForm, Problem, WeighAsked, WeighUpload, WeighingForm, read_asked};

use super::show;
use super::work::weighed;
use crate::answer::Refusal;
use crate::extract::Json;
use crate::state::{Shared, WeighedFile, off_thread};
use crate::upload::Upload;

/// The weighing as it stands, or why there can be none.
#[utoipa::path(get, path = "/api/weighing", responses((status = 200, body = WeighingForm), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn weighing(State(shared): State<Shared>) -> Result<Json<WeighingForm>, Refusal> {
    show(shared, examine::forms::weighing).await
}

/// The last weighing of measurements that came in a file.
#[utoipa::path(get, path = "/api/weighing/file", responses((status = 200, body = FileWeighingForm)))]
pub async fn weighed_file(State(shared): State<Shared>) -> Json<FileWeighingForm> {
    Json(match shared.weighed() {
        Some(weighed) => examine::forms::file_weighing(&weighed.name, &weighed.kept),
        None => FileWeighingForm { file: None, page: None },
    })
}

/// Starts weighing somebody's measurements; the open examination is not touched.
#[utoipa::path(post, path = "/api/weighing/file", request_body(content = WeighUpload, content_type = "multipart/form-data"),
    responses((status = 200, body = JobForm), (status = 413, body = Problem), (status = 400, body = Problem), (status = 404, body = Problem), (status = 409, body = Problem)))]
pub async fn weigh_file(
    State(shared): State<Shared>,
    upload: Result<Multipart, MultipartRejection>,
) -> Result<Json<JobForm>, Refusal> {
    let upload = Upload::take(upload).await?;
    off_thread(move || {
        let asked = read_asked::<WeighAsked>(&upload.asked).map_err(Refusal::bad)?;
        let name = examine::shown(DiskPath::new(upload.file.file_name().unwrap_or_default()));
        // Said before minutes of work.
        let measure = examine::measure_in(&upload.file).map_err(|e| Refusal::bad(format!("{name} {e}")))?;
        let options = if asked.panels.is_some() {
            shared.with(|examination| Ok(examine::forms::weigh_options(Some(examination), asked)?))?
        } else {
            examine::forms::weigh_options(None, asked)?
        };
        let desk = shared.clone();
        shared.jobs.start(&format!("Weighing {name}"), move |watch| {
            let kept = examine::weigh_measure(&measure, &options, watch).map_err(|e| e.to_string())?;
            let outcome = weighed(&kept);
            desk.keep_weighed(WeighedFile { name, kept });
            Ok(outcome)
        })
    })
    .await
    .map(Json)
}
