//! The front end, embedded when the program is built.

use axum::extract::Path;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use rust_embed::RustEmbed;

use crate::answer::refused;

/// `web/dist`, as `cargo xtask web` builds it.
#[derive(RustEmbed)]
#[folder = "../../web/dist"]
struct Dist;

/// The page itself.
pub async fn page() -> Response {
    file("index.html", "no-store")
}

/// One of the files the page loads; their names carry a fingerprint, so they may be kept.
pub async fn asset(Path(name): Path<String>) -> Response {
    file(&format!("assets/{name}"), "private, max-age=31536000, immutable")
}

fn file(name: &str, keep: &'static str) -> Response {
    let Some(found) = Dist::get(name) else {
        return refused(StatusCode::NOT_FOUND, "there is no such file");
    };
    let kind = match name.rsplit('.').next() {
        Some("html") => "text/html; charset=utf-8",
        Some("js") => "text/javascript; charset=utf-8",
        Some("css") => "text/css; charset=utf-8",
        Some("svg") => "image/svg+xml",
        Some("png") => "image/png",
        _ => "application/octet-stream",
    };
    ([(header::CONTENT_TYPE, kind), (header::CACHE_CONTROL, keep)], found.data.into_owned()).into_response()
}
