//! Which web pages may call from a browser.

use axum::Router;
use axum::http::header::{AUTHORIZATION, CONTENT_TYPE, ETAG, IF_MATCH, IF_NONE_MATCH, LOCATION, RETRY_AFTER};
use axum::http::{HeaderName, HeaderValue, Method};
use tower_http::cors::CorsLayer;

/// Lets pages of these origins call `app`; with none, no browser is told that it may.
pub fn allow(app: Router, origins: Vec<HeaderValue>) -> Router {
    if origins.is_empty() {
        return app;
    }
    let names =
        |names: &[&'static str]| names.iter().copied().map(HeaderName::from_static).collect::<Vec<_>>();
    let mut taken = names(&["traceparent", "idempotency-key", "x-grpc-web", "x-user-agent", "grpc-timeout"]);
    taken.extend([AUTHORIZATION, CONTENT_TYPE, IF_MATCH, IF_NONE_MATCH]);
    let mut shown =
        names(&["traceparent", "x-request-id", "grpc-status", "grpc-message", "grpc-status-details-bin"]);
    shown.extend([ETAG, LOCATION, RETRY_AFTER]);
    app.layer(
        CorsLayer::new()
            .allow_origin(origins)
            .allow_methods([Method::GET, Method::POST, Method::PUT, Method::DELETE])
            .allow_headers(taken)
            .expose_headers(shown),
    )
}
