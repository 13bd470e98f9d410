//! Pictures of the captures, in tiles (IIIF Image API 3.0) and small.

use std::sync::Arc;

use archive::CaptureId;
use axum::Json;
use axum::extract::State;
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use picture::Limits;
use picture::Pyramid;
use picture::iiif::{TileRequest, image_info};
use wire::desk::ImageInfoForm;

use crate::answer::Refusal;
use crate::extract::Path;
use crate::state::{Shared, off_thread};

/// A tile never changes: it is named by its capture, whose original never changes.
const KEEP: &str = "private, max-age=86400";

/// The bare address of a service leads to its information (section 2.2 of the API).
pub async fn base(Path(capture): Path<i64>) -> Response {
    (StatusCode::SEE_OTHER, [(header::LOCATION, format!("/iiif/{capture}/info.json"))]).into_response()
}

/// Image information.
pub async fn info(
    State(shared): State<Shared>,
    Path(capture): Path<i64>,
    headers: HeaderMap,
) -> Result<Response, Refusal> {
    let known = off_thread(move || shared.capture(CaptureId(capture))).await?;
    let host = headers.get(header::HOST).and_then(|host| host.to_str().ok()).unwrap_or("127.0.0.1");
    let form = ImageInfoForm::new(
        &image_info(known.width_px, known.height_px),
        format!("http://{host}/iiif/{capture}"),
    );
    let kind =
        HeaderValue::from_static("application/ld+json;profile=\"http://iiif.io/api/image/3/context.json\"");
    Ok(([(header::CONTENT_TYPE, kind)], Json(form)).into_response())
}

/// One part of one capture at one size.
pub async fn tile(
    State(shared): State<Shared>,
    Path((capture, region, size, rotation, file)): Path<(i64, String, String, String, String)>,
) -> Result<Response, Refusal> {
    let request = TileRequest::parse(&region, &size, &rotation, &file)
        .map_err(|e| Refusal::with(e.status(), e.to_string()))?;
    let key = format!("{capture}/{region}/{size}/{rotation}/{file}");
    let media_type = request.format.media_type();
    let bytes = off_thread(move || draw(&shared, CaptureId(capture), &request, key)).await?;
    Ok(([(header::CONTENT_TYPE, media_type), (header::CACHE_CONTROL, KEEP)], bytes.as_ref().clone())
        .into_response())
}

fn draw(
    shared: &Shared,
    capture: CaptureId,
    request: &TileRequest,
    key: String,
) -> Result<Arc<Vec<u8>>, Refusal> {
    let known = shared.capture(capture)?;
    let plan = request
        .plan(known.width_px, known.height_px)
        .map_err(|e| Refusal::with(e.status(), e.to_string()))?;
    // The folder is part of the name: another examination may be opened while tiles of this one are kept.
    let key = format!("{}/{key}", known.sha256);
    if let Some(there) = shared.tiles.get(&key) {
        return Ok(there);
    }
    let pyramid = pyramid(shared, &known)?;
    let drawn = pyramid.tile(&plan).map_err(|e| Refusal::with(500, format!("{}: {e}", known.file_name)))?;
    let drawn = Arc::new(drawn);
    shared.tiles.insert(key, Arc::clone(&drawn));
    Ok(drawn)
}

fn pyramid(shared: &Shared, capture: &archive::Capture) -> Result<Arc<Pyramid>, Refusal> {
    // All tiles of a picture ask at once when it is opened: one of them decodes, the others wait.
    let decode = || -> Result<Arc<Pyramid>, Refusal> {
        let path = shared.with(|examination| Ok(examination.original_path(&capture.sha256)))?;
        let bytes = std::fs::read(&path).map_err(|e| {
            Refusal::missing(format!(
                "the original of {} cannot be read ({e}); put the file back from a copy",
                capture.file_name
            ))
        })?;
        let shown = picture::display(&bytes, &capture.file_name, &Limits::default())
            .map_err(|e| Refusal::bad(e.to_string()))?;
        Ok(Arc::new(Pyramid::new(shown)))
    };
    shared.pyramids.try_get_with(capture.sha256.clone(), decode).map_err(|e| e.as_ref().clone())
}
