//! The versioned JSON forms of the command line, the API and the disk; the only crate that knows serde.
