//! Local HTTP server: API, image tiles and the embedded front end; no computation.
