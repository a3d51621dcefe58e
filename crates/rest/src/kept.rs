//! Answers with a thing that is kept, under the tag of its version.

use axum::Json;
use axum::http::header::{CACHE_CONTROL, ETAG, LOCATION};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use serde::Serialize;

use crate::conditional::holds;

/// A tag as it stands in a header.
fn quoted(tag: &str) -> String {
    format!("\"{tag}\"")
}

/// The thing, or 304 where the caller has this version of it.
pub fn found(request: &HeaderMap, tag: &str, thing: &impl Serialize) -> Response {
    if holds(request, &quoted(tag)) { unchanged(tag) } else { changed(tag, thing) }
}

/// 304: the caller has this version.
pub fn unchanged(tag: &str) -> Response {
    (StatusCode::NOT_MODIFIED, [(ETAG, quoted(tag)), (CACHE_CONTROL, "no-cache".to_owned())]).into_response()
}

/// The thing as it is now.
pub fn changed(tag: &str, thing: &impl Serialize) -> Response {
    ([(ETAG, quoted(tag)), (CACHE_CONTROL, "no-cache".to_owned())], Json(thing)).into_response()
}

/// The thing, just created at `path`.
pub fn created(path: String, tag: &str, thing: &impl Serialize) -> Response {
    (StatusCode::CREATED, [(ETAG, quoted(tag)), (LOCATION, path)], Json(thing)).into_response()
}
