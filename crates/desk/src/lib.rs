//! The workbench's server: API, image tiles and the embedded front end, on loopback alone.
//!
//! Invariant: computes nothing and writes nothing itself; everything it can do, `examine` does, and the command line can
//! do as well.

mod answer;
mod api;
mod assets;
mod extract;
mod guard;
mod jobs;
mod recent;
mod state;
mod tiles;
mod upload;

use std::net::{Ipv4Addr, SocketAddr};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use axum::extract::DefaultBodyLimit;
use axum::routing::get;
use axum::{Router, middleware};
use tokio::net::TcpListener;
use utoipa_axum::router::OpenApiRouter;

use crate::guard::Guard;
use crate::state::{Desk, Shared};

/// Largest picture that is taken in, bytes: 100 MP of 16-bit RGB with room to spare.
const UPLOAD_BYTES: usize = 1 << 30;
/// Largest other request, bytes: a long hand-drawn trace is a few kilobytes.
const REQUEST_BYTES: usize = 1 << 20;

/// Why the workbench could not be opened.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum DeskError {
    /// No port is to be had.
    #[error("port {port} of this machine cannot be used ({source}); name another, or 0 for any that is free")]
    Port {
        /// The port asked for.
        port: u16,
        /// What the system says.
        source: std::io::Error,
    },
    /// The examination cannot be opened.
    #[error(transparent)]
    Examination(#[from] archive::ArchiveError),
    /// The system has no random numbers for the keys.
    #[error("the system gives no random numbers for the session's key ({0}); start again")]
    Random(getrandom::Error),
    /// The server stopped.
    #[error("the server stopped ({0}); start it again")]
    Stopped(#[from] std::io::Error),
}

/// How the workbench is opened.
#[derive(Debug, Clone, Default)]
pub struct Options {
    /// Examination to open at once.
    pub examination: Option<PathBuf>,
    /// Port to listen on; 0 takes any that is free.
    pub port: u16,
}

/// Serves the workbench until the program is ended. `ready` is told the address that lets one browser in.
///
/// # Errors
/// The port cannot be used, the examination cannot be opened, or the server stops.
pub fn serve(options: &Options, ready: impl FnOnce(&str)) -> Result<(), DeskError> {
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build()?;
    runtime.block_on(async {
        // Loopback alone, whatever the machine's other addresses are.
        let wanted = SocketAddr::from((Ipv4Addr::LOCALHOST, options.port));
        let listener = TcpListener::bind(wanted)
            .await
            .map_err(|source| DeskError::Port { port: options.port, source })?;
        let guard = Guard::new(listener.local_addr()?.port()).map_err(DeskError::Random)?;
        let address = guard.address();
        let shared: Shared = Arc::new(Desk::new(guard));
        if let Some(folder) = &options.examination {
            open(&shared, folder)?;
        }
        let app = router(shared);
        ready(address.as_deref().unwrap_or_default());
        axum::serve(listener, app).with_graceful_shutdown(interrupted()).await?;
        Ok(())
    })
}

/// The OpenAPI document of the API, from which the front end's types are made.
#[must_use]
pub fn openapi() -> String {
    let (_, document) = api_routes().split_for_parts();
    document.to_pretty_json().unwrap_or_default() + "\n"
}

fn open(shared: &Shared, folder: &Path) -> Result<(), archive::ArchiveError> {
    let folder = std::path::absolute(folder).unwrap_or_else(|_| folder.to_path_buf());
    archive::Examination::open(&folder)?;
    shared.open(&folder);
    Ok(())
}

fn api_routes() -> OpenApiRouter<Shared> {
    api::routes(UPLOAD_BYTES)
}

fn router(shared: Shared) -> Router {
    let (api, _) = api_routes().split_for_parts();
    Router::new()
        .route("/", get(assets::page))
        .route("/assets/{name}", get(assets::asset))
        .route("/iiif/{sha256}", get(tiles::base))
        .route("/iiif/{sha256}/info.json", get(tiles::info))
        .route("/iiif/{sha256}/{region}/{size}/{rotation}/{file}", get(tiles::tile))
        .route("/api/events", get(api::events))
        .route("/api/report/{file}", get(api::report_file))
        .route("/api/visit/field-sheet.pdf", get(api::field_sheet))
        .merge(api)
        .fallback(|| async { answer::Refusal::missing("there is nothing at this address") })
        .layer(DefaultBodyLimit::max(REQUEST_BYTES))
        .layer(middleware::from_fn_with_state(Arc::clone(&shared), guard::watch))
        .with_state(shared)
}

async fn interrupted() {
    // Where the signal cannot be heard, the process is ended the hard way; nothing reported as done is lost by that.
    if tokio::signal::ctrl_c().await.is_err() {
        std::future::pending::<()>().await;
    }
}

#[cfg(test)]
mod tests {
    /// The front end's types are made from `web/openapi.json`; a change of the API must reach them.
    #[test]
    fn the_front_end_knows_this_api() {
        let kept = concat!(env!("CARGO_MANIFEST_DIR"), "/../../web/openapi.json");
        let now = super::openapi();
        if std::env::var_os("RUBSTONE_WRITE_OPENAPI").is_some() {
            std::fs::write(kept, &now).unwrap();
        }
        let written = std::fs::read_to_string(kept).unwrap_or_default();
        assert!(
            written == now,
            "web/openapi.json is out of date: run this test with RUBSTONE_WRITE_OPENAPI=1, then `npm run types` in web/"
        );
    }
}
