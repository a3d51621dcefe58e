//! Handlers that take an estimate's question and return bytes: over JSON, and over gRPC's frames.

use std::convert::Infallible;

use axum::Router;
use axum::body::Body;
use axum::http::header::CONTENT_TYPE;
use axum::http::{HeaderMap, HeaderValue};
use axum::response::{IntoResponse, Response};
use axum::routing::post;
use bytes::Bytes;
use http_body_util::{BodyExt, Full};

use crate::estimates::{CALL, REST};

/// What the bench is started with to be that.
pub const ROLE: &str = "echo";

/// Reads what comes to its end and returns a message, with the trailers of a call that went well.
async fn call(body: Body, message: Bytes) -> Response {
    let _ = body.collect().await.expect("a whole message");
    let trailers = async {
        Some(Ok::<_, Infallible>(HeaderMap::from_iter([(
            "grpc-status".parse().expect("a name"),
            HeaderValue::from_static("0"),
        )])))
    };
    let body = Body::new(Full::new(message).with_trailers(trailers));
    ([(CONTENT_TYPE, "application/grpc")], body).into_response()
}

/// Serves the bytes of two files until it is ended.
pub async fn serve(json: &str, frame: &str) {
    let [json, frame] = [json, frame].map(|file| Bytes::from(std::fs::read(file).expect("the bytes")));
    let rest = async move |_whole: Bytes| ([(CONTENT_TYPE, "application/json")], json);
    let app = Router::new()
        .route(REST, post(rest))
        .route(CALL, post(async move |body: Body| call(body, frame).await));
    crate::beside::serve(app).await;
}
