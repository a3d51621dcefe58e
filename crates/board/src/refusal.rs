//! Why a page is not shown: the one place where the service's errors become pages.

use askama::Template;
use axum::http::header::{CACHE_CONTROL, RETRY_AFTER};
use axum::http::{HeaderValue, StatusCode};
use axum::response::{Html, IntoResponse, Response};
use baycast_service::Error;

use crate::assets::{ASSETS, Assets};
use crate::words;

/// Why a page is not shown.
#[derive(Debug)]
pub enum Refusal {
    /// A key is needed, and none or none that is good was shown.
    SignIn {
        /// The farm asked for; empty where none was.
        farm: String,
    },
    /// The key that was typed does not open it.
    WrongKey {
        /// The farm asked for; empty where none was.
        farm: String,
    },
    /// Nothing is there, or nothing within reach.
    NotThere {
        /// The farm asked for; empty where none was.
        farm: String,
    },
    /// A form was sent from somewhere else than the board.
    Elsewhere,
    /// The service declines.
    Service(Error),
}

impl From<Error> for Refusal {
    fn from(error: Error) -> Self {
        match error {
            Error::NotFound { .. } => Self::NotThere { farm: String::new() },
            other => Self::Service(other),
        }
    }
}

/// The page that says so.
#[derive(Template)]
#[template(path = "refusal.html")]
struct Page {
    assets: &'static Assets,
    title: &'static str,
    text: String,
    /// The farm that signing in leads to, where that may help.
    sign_in: Option<String>,
}

impl Refusal {
    /// The status and the page.
    fn told(self) -> (StatusCode, &'static str, String, Option<String>) {
        match self {
            Self::SignIn { farm } => {
                (StatusCode::UNAUTHORIZED, words::SIGN_IN, words::KEY_NEEDED.to_owned(), Some(farm))
            }
            Self::WrongKey { farm } => {
                (StatusCode::UNAUTHORIZED, words::SIGN_IN, words::WRONG_KEY.to_owned(), Some(farm))
            }
            Self::NotThere { farm } => {
                (StatusCode::NOT_FOUND, words::NOT_THERE, words::NOT_THERE_TEXT.to_owned(), Some(farm))
            }
            Self::Elsewhere => (StatusCode::FORBIDDEN, words::NOT_TAKEN, words::ELSEWHERE.to_owned(), None),
            Self::Service(error) => {
                (status(&error), words::NOT_SHOWN, words::sentence(&error.to_string()), None)
            }
        }
    }
}

/// The status of each kind of error.
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

impl IntoResponse for Refusal {
    fn into_response(self) -> Response {
        let retry_after_s = match &self {
            Self::Service(error) => error.retry_after_s(),
            _ => None,
        };
        let (status, title, text, sign_in) = self.told();
        let page = Page { assets: &ASSETS, title, text, sign_in };
        let mut response = (status, [(CACHE_CONTROL, "no-store")], html(&page)).into_response();
        if let Some(seconds) = retry_after_s {
            response.headers_mut().insert(RETRY_AFTER, HeaderValue::from(seconds));
        }
        response
    }
}

/// A template's text as a page.
pub fn html(page: &impl Template) -> Response {
    match page.render() {
        Ok(text) => Html(text).into_response(),
        Err(error) => {
            tracing::error!(%error, "a page could not be written");
            StatusCode::INTERNAL_SERVER_ERROR.into_response()
        }
    }
}
