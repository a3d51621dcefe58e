//! A client that appends one thing after the other, and remembers what was acknowledged.

use std::error::Error;

use axum::body::Body;
use axum::http::Request;
use baycast_grpc::proto::records_service_client::RecordsServiceClient;
use fastrand::Rng;
use http_body_util::BodyExt;
use hyper_util::client::legacy;
use hyper_util::client::legacy::connect::HttpConnector;
use hyper_util::rt::TokioExecutor;
use serde_json::Value;
use tonic::Code;
use tonic::transport::Channel;
use tonic_types::StatusExt;

use super::asked::{Asked, Line};
use super::kept::Kept;
use super::{BATCHES, FARM, batch};

/// Most events of an append of several.
const MOST_AT_ONCE: usize = 40;

/// How a client speaks to the server.
enum Speech {
    /// Connections of HTTP that are kept alive.
    Rest(legacy::Client<HttpConnector, Body>),
    /// The channel to an address, once there was one.
    Grpc(Option<(String, RecordsServiceClient<Channel>)>),
}

/// Why nothing is known to be recorded.
#[derive(Debug)]
pub enum Unanswered {
    /// The server went away before its answer was whole.
    CutOff,
    /// It takes nothing now, and says why and when to come back.
    Out {
        /// Why.
        why: String,
        /// When, s.
        retry_after_s: u64,
    },
}

impl Unanswered {
    /// That it was cut off, where nothing is to be refused.
    pub fn is_cut_off(&self) {
        assert!(matches!(self, Self::CutOff), "an append is answered or cut off, never refused: {self:?}");
    }
}

/// A client.
pub struct Client {
    name: String,
    speech: Speech,
    random: Rng,
    number: usize,
    /// The event last added, which may be corrected, and its batch.
    last: Option<(String, String, Line)>,
    /// What was acknowledged.
    pub kept: Kept,
}

impl Client {
    /// The client of a number: one in four speaks gRPC.
    pub fn new(number: usize, random: Rng) -> Self {
        let rest = || Speech::Rest(legacy::Client::builder(TokioExecutor::new()).build_http());
        let speech = if number % 4 == 3 { Speech::Grpc(None) } else { rest() };
        Self { name: format!("c{number}"), speech, random, number: 0, last: None, kept: Kept::default() }
    }

    /// The next thing to append: an event with an own id, one without but under an idempotency key, several at once, or
    /// a correction of the last under an idempotency key. Each can be asked again without being recorded again.
    pub fn next(&mut self) -> Asked {
        self.number += 1;
        let key = Some(format!("{}-{}", self.name, self.number));
        let batch = batch(self.random.usize(..BATCHES));
        match (self.random.u8(..10), self.last.take()) {
            (0..=1, Some((batch, id, before))) => {
                let line = Line { supersedes: Some(id), ..self.line(before.own_id) };
                Asked { batch, key, lines: vec![line] }
            }
            (2, _) => {
                let several = self.random.usize(2..=MOST_AT_ONCE);
                let lines = (0..several).map(|place| self.line(Some(format!("{}-{place}", self.own_id()))));
                Asked { batch, key: None, lines: lines.collect() }
            }
            (3..=4, _) => Asked { batch, key, lines: vec![self.line(None)] },
            _ => Asked { batch, key: None, lines: vec![self.line(Some(self.own_id()))] },
        }
    }

    fn own_id(&self) -> String {
        format!("{}-{}", self.name, self.number)
    }

    fn line(&mut self, own_id: Option<String>) -> Line {
        let temperature_c = f64::from(self.random.u32(20_000..70_000)) / 1000.0;
        Line { own_id, supersedes: None, temperature_c }
    }

    /// Sends it, and notes what is acknowledged.
    pub async fn send(&mut self, address: &str, asked: &Asked) -> Result<(), Unanswered> {
        let ids = match &mut self.speech {
            Speech::Rest(client) => over_rest(client, address, asked).await?,
            Speech::Grpc(channel) => over_grpc(channel, address, asked).await?,
        };
        self.kept.note(asked, &ids);
        if let ([line], [id]) = (asked.lines.as_slice(), ids.as_slice()) {
            self.last = Some((asked.batch.clone(), id.clone(), line.clone()));
        }
        Ok(())
    }
}

async fn over_rest(
    client: &legacy::Client<HttpConnector, Body>,
    address: &str,
    asked: &Asked,
) -> Result<Vec<String>, Unanswered> {
    let uri = format!("http://{address}/v1/farms/{FARM}/batches/{}/events", asked.batch);
    let mut request = Request::post(uri).header("content-type", "application/json");
    if let Some(key) = &asked.key {
        request = request.header("idempotency-key", format!("\"{key}\""));
    }
    let request = request.body(Body::from(asked.json().to_string())).expect("a request can be built");
    let (head, body) = client.request(request).await.map_err(|_| Unanswered::CutOff)?.into_parts();
    let body = body.collect().await.map_err(|_| Unanswered::CutOff)?.to_bytes();
    if head.status == 503 {
        let answer: Value = serde_json::from_slice(&body).expect("JSON");
        assert_eq!(answer["type"], "urn:baycast:problem:unavailable");
        let retry_after_s = head.headers["retry-after"].to_str().expect("text").parse().expect("seconds");
        return Err(Unanswered::Out {
            why: answer["detail"].as_str().expect("text").to_owned(),
            retry_after_s,
        });
    }
    let said = || format!("{} {} to {asked:?}", head.status, String::from_utf8_lossy(&body));
    assert_eq!(head.status, 200, "an append is answered, cut off or put off: {}", said());
    let answer: Value = serde_json::from_slice(&body).expect("JSON");
    let items = answer["items"].as_array().expect("items").iter();
    Ok(items.map(|item| item["id"].as_str().expect("an id").to_owned()).collect())
}

async fn over_grpc(
    channel: &mut Option<(String, RecordsServiceClient<Channel>)>,
    address: &str,
    asked: &Asked,
) -> Result<Vec<String>, Unanswered> {
    if channel.as_ref().is_none_or(|(to, _)| to != address) {
        let endpoint = Channel::from_shared(format!("http://{address}")).expect("an address");
        let connected = endpoint.connect().await.map_err(|_| Unanswered::CutOff)?;
        *channel = Some((address.to_owned(), RecordsServiceClient::new(connected)));
    }
    let (_, client) = channel.as_mut().expect("it was just made");
    match client.append_events(asked.message()).await {
        Ok(answer) => Ok(answer.into_inner().items.into_iter().map(|item| item.id).collect()),
        // A status that the server sent has no other error behind it.
        Err(status) if status.source().is_some() => {
            *channel = None;
            Err(Unanswered::CutOff)
        }
        Err(status) if status.code() == Code::Unavailable => {
            let retry = status.get_details_retry_info().expect("a hint").retry_delay.expect("a delay");
            Err(Unanswered::Out { why: status.message().to_owned(), retry_after_s: retry.as_secs() })
        }
        Err(status) => panic!("an append is answered, cut off or put off: {status:?} to {asked:?}"),
    }
}
