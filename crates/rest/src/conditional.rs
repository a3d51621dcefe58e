//! Answers that change only with the program, sent once to each client.

use std::hash::{DefaultHasher, Hash, Hasher};

use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE, ETAG, IF_NONE_MATCH};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use bytes::Bytes;

/// The tag of bytes: a weak one, since a compressed answer has others.
pub fn tag(bytes: &[u8]) -> String {
    let mut hasher = DefaultHasher::new();
    bytes.hash(&mut hasher);
    format!("W/\"{:016x}\"", hasher.finish())
}

/// `json`, or 304 where the caller has it already (RFC 9110 section 13.1.2).
pub fn answer(request: &HeaderMap, json: Bytes) -> Response {
    let tag = tag(&json);
    let has_it = holds(request, &tag);
    let validators = [(ETAG, tag.as_str()), (CACHE_CONTROL, "no-cache")];
    if has_it {
        return (StatusCode::NOT_MODIFIED, validators).into_response();
    }
    (validators, [(CONTENT_TYPE, "application/json")], json).into_response()
}

/// Whether the caller says that they hold what has this tag; tags are compared weakly (RFC 9110 section 8.8.3.2).
pub fn holds(request: &HeaderMap, tag: &str) -> bool {
    let held = request.get_all(IF_NONE_MATCH).iter().filter_map(|value| value.to_str().ok());
    held.flat_map(|value| value.split(',')).any(|held| {
        let held = held.trim();
        held == "*" || held.trim_start_matches("W/") == tag.trim_start_matches("W/")
    })
}
