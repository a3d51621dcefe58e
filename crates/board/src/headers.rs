//! What every answer tells a browser not to do.

use std::sync::LazyLock;

use axum::extract::Request;
use axum::http::HeaderValue;
use axum::http::header::{CONTENT_SECURITY_POLICY, REFERRER_POLICY, X_CONTENT_TYPE_OPTIONS};
use axum::middleware::Next;
use axum::response::Response;

use crate::assets::ASSETS;

/// What a page may load and where it may send: its own origin, and nothing that stands inline but the one style sheet.
static POLICY: LazyLock<HeaderValue> = LazyLock::new(|| {
    let policy = format!(
        "default-src 'none'; script-src 'self'; style-src {}; img-src 'self'; connect-src 'self'; \
         worker-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'",
        ASSETS.style_source()
    );
    HeaderValue::try_from(policy).expect("words and a hash in base64")
});

/// Adds them.
pub async fn guard(request: Request, next: Next) -> Response {
    let mut response = next.run(request).await;
    let headers = response.headers_mut();
    headers.insert(CONTENT_SECURITY_POLICY, POLICY.clone());
    headers.insert(X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff"));
    headers.insert(REFERRER_POLICY, HeaderValue::from_static("no-referrer"));
    response
}
