//! The service's errors as RFC 9457 problem documents: the one place where they are turned into them.

use axum::Json;
use axum::http::header::{CONTENT_TYPE, RETRY_AFTER, WWW_AUTHENTICATE};
use axum::http::{HeaderValue, StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use baycast_service::Error;
use serde::Serialize;
use utoipa::ToSchema;

/// Content type of a problem document.
pub const PROBLEM_JSON: &str = "application/problem+json";

/// Why a request was not answered (RFC 9457).
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct Problem {
    /// Which kind of problem, a URN that stays the same.
    #[schema(examples("urn:baycast:problem:invalid"))]
    r#type: String,
    /// The kind in a few words.
    title: String,
    /// HTTP status.
    status: u16,
    /// What happened this time.
    detail: String,
    /// Every field that cannot be used.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    errors: Vec<FieldProblem>,
    /// In a stream, the line of the request that this answers, from 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    line: Option<u64>,
    /// When to come back, s; sent as a header.
    #[serde(skip)]
    retry_after_s: Option<u64>,
}

/// One field that cannot be used.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct FieldProblem {
    /// JSON Pointer (RFC 6901) from the top of what was sent, the name of a query parameter after `/`, or the name of a
    /// sheet's column.
    #[schema(examples("/events/3/reading/temperature_c"))]
    pointer: String,
    /// The value given, as JSON or a short description where it is long.
    #[schema(examples("180"))]
    value: String,
    /// The range, set or form that is taken.
    #[schema(examples("-20 to 95"))]
    accepted: String,
}

impl From<baycast_model::problem::Problem> for FieldProblem {
    fn from(problem: baycast_model::problem::Problem) -> Self {
        let baycast_model::problem::Problem { pointer, value, accepted } = problem;
        Self { pointer, value, accepted }
    }
}

impl Problem {
    /// The problem of one line of a stream.
    #[must_use]
    pub fn at_line(error: &Error, line: u64) -> Self {
        Self { line: Some(line), ..Self::from(error) }
    }
}

impl From<&Error> for Problem {
    fn from(error: &Error) -> Self {
        let fields = error.fields().into_iter();
        Self {
            r#type: error.urn(),
            title: error.title().to_owned(),
            status: status(error).as_u16(),
            detail: error.detail(),
            errors: fields.map(FieldProblem::from).collect(),
            line: None,
            retry_after_s: error.retry_after_s(),
        }
    }
}

impl From<Error> for Problem {
    fn from(error: Error) -> Self {
        Self::from(&error)
    }
}

/// The HTTP status of each kind.
#[must_use]
pub fn status(error: &Error) -> StatusCode {
    match error {
        Error::Malformed { .. } => StatusCode::BAD_REQUEST,
        Error::Invalid(_) => StatusCode::UNPROCESSABLE_ENTITY,
        Error::TooLarge { .. } => StatusCode::PAYLOAD_TOO_LARGE,
        Error::UnsupportedMediaType { .. } => StatusCode::UNSUPPORTED_MEDIA_TYPE,
        Error::NotFound { .. } => StatusCode::NOT_FOUND,
        Error::Unauthenticated => StatusCode::UNAUTHORIZED,
        Error::Forbidden { .. } => StatusCode::FORBIDDEN,
        Error::Conflict(_) => StatusCode::CONFLICT,
        Error::Stale { .. } => StatusCode::PRECONDITION_FAILED,
        Error::Busy { .. } | Error::Unavailable { .. } => StatusCode::SERVICE_UNAVAILABLE,
        Error::TooOften { .. } => StatusCode::TOO_MANY_REQUESTS,
        Error::Deadline => StatusCode::GATEWAY_TIMEOUT,
        Error::Internal => StatusCode::INTERNAL_SERVER_ERROR,
    }
}

impl IntoResponse for Problem {
    fn into_response(self) -> Response {
        let status = StatusCode::from_u16(self.status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
        let retry_after_s = self.retry_after_s;
        let mut response = (status, Json(self)).into_response();
        let headers = response.headers_mut();
        headers.insert(CONTENT_TYPE, HeaderValue::from_static(PROBLEM_JSON));
        if let Some(seconds) = retry_after_s {
            headers.insert(RETRY_AFTER, seconds.into());
        }
        if status == StatusCode::UNAUTHORIZED {
            // RFC 9110 section 15.5.2 wants the challenge.
            headers.insert(WWW_AUTHENTICATE, HeaderValue::from_static("Bearer"));
        }
        response
    }
}

/// The problem of a change that does not say which version it changes (RFC 6585 section 3, from memory).
#[must_use]
pub fn precondition_required() -> Problem {
    Problem {
        r#type: "urn:baycast:problem:precondition_required".to_owned(),
        title: "If-Match needed".to_owned(),
        status: StatusCode::PRECONDITION_REQUIRED.as_u16(),
        detail: "name the version you have read: If-Match with the ETag that came with it".to_owned(),
        errors: Vec::new(),
        line: None,
        retry_after_s: None,
    }
}

/// A path that is no route.
pub fn no_route(uri: &Uri) -> Problem {
    Error::NotFound { what: "route", name: uri.path().to_owned() }.into()
}

/// A method that its route doesn't have. The router adds the `Allow` header that names those it has.
pub async fn no_method() -> Problem {
    Problem {
        r#type: "urn:baycast:problem:method_not_allowed".to_owned(),
        title: "Method not allowed".to_owned(),
        status: StatusCode::METHOD_NOT_ALLOWED.as_u16(),
        detail: "this route takes only the methods in the Allow header".to_owned(),
        errors: Vec::new(),
        line: None,
        retry_after_s: None,
    }
}
