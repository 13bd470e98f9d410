//! Pictures of the captures, in tiles (IIIF Image API 3.0) and small.

use std::sync::Arc;

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

/// A tile never changes: it is named by the SHA-256 of its original. A number would not do: the next examination that is opened
/// has a first capture, too, and a browser that keeps tiles by address would show the wrong picture.
const KEEP: &str = "private, max-age=86400";

/// The bare address of a service leads to its information (section 2.2 of the API).
pub async fn base(Path(sha256): Path<String>) -> Response {
    if !is_hash(&sha256) {
        return Refusal::missing("pictures are named by the SHA-256 of their originals").into_response();
    }
    (StatusCode::SEE_OTHER, [(header::LOCATION, format!("/iiif/{sha256}/info.json"))]).into_response()
}

/// Image information.
pub async fn info(
    State(shared): State<Shared>,
    Path(sha256): Path<String>,
    headers: HeaderMap,
) -> Result<Response, Refusal> {
    let known = off_thread(move || shared.picture(&sha256)).await?;
    let host = headers.get(header::HOST).and_then(|host| host.to_str().ok()).unwrap_or("127.0.0.1");
    let form = ImageInfoForm::new(
        &image_info(known.width_px, known.height_px),
        format!("http://{host}/iiif/{}", known.sha256),
    );
    let kind =
        HeaderValue::from_static("application/ld+json;profile=\"http://iiif.io/api/image/3/context.json\"");
    Ok(([(header::CONTENT_TYPE, kind)], Json(form)).into_response())
}

/// One part of one capture at one size.
pub async fn tile(
    State(shared): State<Shared>,
    Path((sha256, region, size, rotation, file)): Path<(String, String, String, String, String)>,
) -> Result<Response, Refusal> {
    let request = TileRequest::parse(&region, &size, &rotation, &file)
        .map_err(|e| Refusal::with(e.status(), e.to_string()))?;
    let key = format!("{sha256}/{region}/{size}/{rotation}/{file}");
    let media_type = request.format.media_type();
    let bytes = off_thread(move || draw(&shared, &sha256, &request, key)).await?;
    Ok(([(header::CONTENT_TYPE, media_type), (header::CACHE_CONTROL, KEEP)], bytes.as_ref().clone())
        .into_response())
}

fn draw(shared: &Shared, sha256: &str, request: &TileRequest, key: String) -> Result<Arc<Vec<u8>>, Refusal> {
    let known = shared.picture(sha256)?;
    let plan = request
        .plan(known.width_px, known.height_px)
        .map_err(|e| Refusal::with(e.status(), e.to_string()))?;
    if let Some(there) = shared.tiles.get(&key) {
        return Ok(there);
    }
    let pyramid = pyramid(shared, &known)?;
    let drawn = pyramid.tile(&plan).map_err(|e| Refusal::with(500, format!("{}: {e}", known.file_name)))?;
    let drawn = Arc::new(drawn);
    shared.tiles.insert(key, Arc::clone(&drawn));
    Ok(drawn)
}

/// What may stand in an address as the name of a picture.
fn is_hash(text: &str) -> bool {
    text.len() == 64 && text.bytes().all(|byte| byte.is_ascii_hexdigit())
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
