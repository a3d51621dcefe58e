//! A handler that returns bytes, and nothing else of an axum server.

use axum::Router;
use axum::http::HeaderValue;
use axum::http::header::CONTENT_TYPE;
use axum::routing::get;
use bytes::Bytes;

/// What the bench is started with to be that.
pub const ROLE: &str = "bare";

/// Where it is: at a path as long as the feed's, so that the same is asked.
pub const PATH: &str = "/feeds/bcf_0000000000000000000000000000000000000000/readiness.txt";

/// Serves the bytes of a file until it is ended.
pub async fn serve(file: &str, content_type: &str) {
    let bytes = Bytes::from(std::fs::read(file).expect("the bytes"));
    let content_type = HeaderValue::from_str(content_type).expect("a media type");
    let app = Router::new().route(PATH, get(async move || ([(CONTENT_TYPE, content_type)], bytes)));
    crate::beside::serve(app).await;
}
