//! An HTTP client that sends exactly what it is given.

use axum::body::Body;
use axum::http::{HeaderMap, Request, Response, StatusCode};
use bytes::Bytes;
use http_body_util::BodyExt;
use hyper_util::client::legacy::Client;
use hyper_util::rt::TokioExecutor;
use serde_json::Value;

use crate::server::Server;

/// A whole answer.
#[derive(Debug)]
pub struct Answer {
    /// Status.
    pub status: StatusCode,
    /// Headers.
    pub headers: HeaderMap,
    /// Body.
    pub body: Bytes,
}

impl Answer {
    /// The body as JSON.
    pub fn json(&self) -> Value {
        let text = String::from_utf8_lossy(&self.body);
        serde_json::from_slice(&self.body).unwrap_or_else(|error| panic!("{error} in {text}"))
    }

    /// A header as text, empty where absent.
    pub fn header(&self, name: &str) -> &str {
        self.headers.get(name).map_or("", |value| value.to_str().expect("a header is text"))
    }
}

/// Sends a request and hands back the answer's head and its body to read.
pub async fn open(
    server: &Server,
    method: &str,
    path: &str,
    headers: &[(&str, &str)],
    body: Body,
) -> Response<hyper::body::Incoming> {
    let uri = format!("http://{}{path}", server.address);
    let mut request = Request::builder().method(method).uri(uri);
    for (name, value) in headers {
        request = request.header(*name, *value);
    }
    let request = request.body(body).expect("a request can be built");
    let client = Client::builder(TokioExecutor::new()).build_http();
    client.request(request).await.unwrap_or_else(|error| panic!("{method} {path}: {error:?}"))
}

/// Sends a request and reads the whole answer.
pub async fn send(
    server: &Server,
    method: &str,
    path: &str,
    headers: &[(&str, &str)],
    body: impl Into<Body>,
) -> Answer {
    let (head, body) = open(server, method, path, headers, body.into()).await.into_parts();
    let body = body.collect().await.expect("the answer ends").to_bytes();
    Answer { status: head.status, headers: head.headers, body }
}

/// Reads a route.
pub async fn get(server: &Server, path: &str) -> Answer {
    send(server, "GET", path, &[], Body::empty()).await
}

/// Asks for the estimate of a history.
pub async fn estimate(server: &Server, history: &Value) -> Answer {
    let headers = [("content-type", "application/json")];
    send(server, "POST", "/v1/estimates", &headers, history.to_string()).await
}
