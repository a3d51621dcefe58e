//! A client of server-sent events, and one of the gRPC stream, that tell the same.

use axum::body::Body;
use axum::http::Request;
use baycast_grpc::proto::maturity_service_client::MaturityServiceClient;
use baycast_grpc::proto::watch_readiness_response::News;
use baycast_grpc::proto::{WatchReadinessRequest, WatchReadinessResponse};
use http_body_util::BodyExt;
use hyper::body::Incoming;
use hyper_util::client::legacy::Client;
use hyper_util::rt::TokioExecutor;
use serde_json::Value;
use tonic::Streaming;
use tonic::transport::Channel;

use super::FARM;

/// What a watcher is told.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Told {
    /// The whole, up to a sequence.
    Whole(u64),
    /// A change: its sequence, the batch and when it was.
    Change(u64, String, String),
}

impl Told {
    /// Its sequence.
    pub fn sequence(&self) -> u64 {
        match self {
            Self::Whole(sequence) | Self::Change(sequence, ..) => *sequence,
        }
    }
}

/// An open stream.
pub enum Stream {
    /// Of server-sent events, with what is read of the next one.
    Events(Box<Incoming>, Vec<u8>),
    /// Of messages.
    Messages(Box<Streaming<WatchReadinessResponse>>),
}

impl Stream {
    /// Server-sent events after those seen; nothing where the server cannot be reached or has too much to do.
    pub async fn events(address: &str, key: Option<&str>, seen: Option<u64>) -> Option<Self> {
        let mut request = Request::get(format!("http://{address}/v1/farms/{FARM}/readiness:watch"));
        if let Some(key) = key {
            request = request.header("authorization", format!("Bearer {key}"));
        }
        if let Some(seen) = seen {
            request = request.header("last-event-id", seen);
        }
        // No browser would leave it out; an answer that is compressed comes late.
        let request = request.header("accept-encoding", "gzip").body(Body::empty()).expect("a request");
        let client = Client::builder(TokioExecutor::new()).build_http();
        let (head, body) = client.request(request).await.ok()?.into_parts();
        if head.status == 503 {
            // Too much at once: whoever comes back is let in.
            return None;
        }
        assert_eq!(head.status, 200, "a watcher is let in");
        assert_eq!(head.headers["content-type"], "text/event-stream");
        assert!(!head.headers.contains_key("content-encoding"));
        Some(Self::Events(Box::new(body), Vec::new()))
    }

    /// Messages after those seen; nothing where the server cannot be reached or has too much to do.
    pub async fn messages(channel: Channel, seen: Option<u64>) -> Option<Self> {
        let request = WatchReadinessRequest { farm: FARM.to_owned(), resume_after: seen };
        let answer = MaturityServiceClient::new(channel).watch_readiness(request).await.ok()?;
        Some(Self::Messages(Box::new(answer.into_inner())))
    }

    /// What is told next; nothing at the end.
    pub async fn next(&mut self) -> Option<Told> {
        match self {
            Self::Events(body, read) => loop {
                if let Some(end) = read.windows(2).position(|pair| pair == b"\n\n") {
                    let event: Vec<u8> = read.drain(..end + 2).collect();
                    match event_told(&String::from_utf8(event).expect("text")) {
                        Some(told) => return Some(told),
                        None => continue,
                    }
                }
                if let Ok(data) = body.frame().await?.ok()?.into_data() {
                    read.extend_from_slice(&data);
                }
            },
            Self::Messages(stream) => Some(match stream.message().await.ok()??.news.expect("news") {
                News::Readiness(whole) => Told::Whole(whole.sequence),
                News::Change(change) => Told::Change(change.sequence, change.batch, change.changed_at),
            }),
        }
    }
}

/// What an event tells; nothing where it is a sign of life.
fn event_told(event: &str) -> Option<Told> {
    let field = |name: &str| event.lines().find_map(|line| line.strip_prefix(name)?.strip_prefix(": "));
    let data: Value = serde_json::from_str(field("data")?).expect("JSON");
    let sequence: u64 = field("id").expect("an id").parse().expect("a sequence");
    assert_eq!(data["sequence"], sequence);
    let text = |name: &str| data[name].as_str().expect("text").to_owned();
    Some(match field("event").expect("a name") {
        "readiness" => Told::Whole(sequence),
        "change" => Told::Change(sequence, text("batch"), text("changed_at")),
        other => panic!("{other} in {event}"),
    })
}
