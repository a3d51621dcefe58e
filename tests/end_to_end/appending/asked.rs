//! One append, in the words of both contracts.

use baycast_grpc::proto::event::Detail;
use baycast_grpc::proto::{AppendEventsRequest, Event, EventEntry, Reading};
use serde_json::{Value, json};

use super::FARM;

/// Day of all events.
const DAY: &str = "2026-04-09";

/// One event of an append.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// The client's own id.
    pub own_id: Option<String>,
    /// The event it corrects.
    pub supersedes: Option<String>,
    /// What was read.
    pub temperature_c: f64,
}

/// An append.
#[derive(Clone, Debug)]
pub struct Asked {
    /// The batch.
    pub batch: String,
    /// The idempotency key.
    pub key: Option<String>,
    /// The events.
    pub lines: Vec<Line>,
}

impl Asked {
    /// As REST takes it.
    pub fn json(&self) -> Value {
        let entry = |line: &Line| {
            let mut event = json!({ "at": DAY, "reading": { "temperature_c": line.temperature_c } });
            if let Some(id) = &line.own_id {
                event["id"] = json!(id);
            }
            match &line.supersedes {
                Some(id) => json!({ "event": event, "supersedes": id }),
                None => json!({ "event": event }),
            }
        };
        json!({ "entries": self.lines.iter().map(entry).collect::<Vec<_>>() })
    }

    /// As gRPC takes it.
    pub fn message(&self) -> AppendEventsRequest {
        let entry = |line: &Line| {
            let reading = Reading { temperature_c: Some(line.temperature_c), ..Reading::default() };
            let event =
                Event { at: DAY.to_owned(), id: line.own_id.clone(), detail: Some(Detail::Reading(reading)) };
            EventEntry { event: Some(event), supersedes: line.supersedes.clone(), ..EventEntry::default() }
        };
        AppendEventsRequest {
            farm: FARM.to_owned(),
            batch: self.batch.clone(),
            entries: self.lines.iter().map(entry).collect(),
            request_id: self.key.clone().unwrap_or_default(),
            ..AppendEventsRequest::default()
        }
    }
}
