//! Answers that are refusals: always words, always with what to do.

use axum::Json;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use wire::desk::Problem;

/// A request that was not carried out.
#[derive(Debug, Clone)]
pub struct Refusal {
    status: StatusCode,
    message: String,
}

impl Refusal {
    /// The request asks for something that cannot be.
    pub fn bad(message: impl Into<String>) -> Self {
        Self { status: StatusCode::BAD_REQUEST, message: message.into() }
    }

    /// What the request names does not exist.
    pub fn missing(message: impl Into<String>) -> Self {
        Self { status: StatusCode::NOT_FOUND, message: message.into() }
    }

    /// Something else is in the way now.
    pub fn busy(message: impl Into<String>) -> Self {
        Self { status: StatusCode::CONFLICT, message: message.into() }
    }

    /// A refusal with a status of its own.
    pub fn with(status: u16, message: impl Into<String>) -> Self {
        Self {
            status: StatusCode::from_u16(status).unwrap_or(StatusCode::BAD_REQUEST),
            message: message.into(),
        }
    }
}

impl From<archive::ArchiveError> for Refusal {
    fn from(error: archive::ArchiveError) -> Self {
        match error {
            archive::ArchiveError::NoSuch { .. } => Self::missing(error.to_string()),
            _ => Self::bad(error.to_string()),
        }
    }
}

impl From<examine::ExamineError> for Refusal {
    fn from(error: examine::ExamineError) -> Self {
        match error {
            examine::ExamineError::Archive(error) => error.into(),
            other => Self::bad(other.to_string()),
        }
    }
}

impl IntoResponse for Refusal {
    fn into_response(self) -> Response {
        (self.status, Json(Problem { message: self.message })).into_response()
    }
}

/// A refusal as a whole answer.
pub fn refused(status: StatusCode, message: &str) -> Response {
    Refusal { status, message: message.to_owned() }.into_response()
}
