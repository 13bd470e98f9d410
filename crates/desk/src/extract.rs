//! Parts of a request, refused in words where they are not what they should be.

use axum::extract::rejection::{JsonRejection, PathRejection, QueryRejection};
use axum::extract::{FromRequest, FromRequestParts};
use axum::response::{IntoResponse, Response};

use crate::answer::Refusal;

/// A body in JSON, taken in or given out.
#[derive(FromRequest)]
#[from_request(via(axum::Json), rejection(Refusal))]
pub struct Json<T>(pub T);

/// Values after the question mark.
#[derive(FromRequestParts)]
#[from_request(via(axum::extract::Query), rejection(Refusal))]
pub struct Query<T>(pub T);

/// Values in the path.
#[derive(FromRequestParts)]
#[from_request(via(axum::extract::Path), rejection(Refusal))]
pub struct Path<T>(pub T);

impl<T> IntoResponse for Json<T>
where
    axum::Json<T>: IntoResponse,
{
    fn into_response(self) -> Response {
        axum::Json(self.0).into_response()
    }
}

impl From<JsonRejection> for Refusal {
    fn from(rejection: JsonRejection) -> Self {
        Self::bad(format!("the request is not of the form it should have: {}", rejection.body_text()))
    }
}

impl From<QueryRejection> for Refusal {
    fn from(rejection: QueryRejection) -> Self {
        Self::bad(format!("the part after the question mark is not right: {}", rejection.body_text()))
    }
}

impl From<PathRejection> for Refusal {
    fn from(rejection: PathRejection) -> Self {
        Self::bad(format!("the address is not right: {}", rejection.body_text()))
    }
}
