//! What is sent to webhooks: CloudEvents 1.0 in their JSON format.

use baycast_model::estimator::CAUTIONS;
use baycast_records::{EventId, NewDelivery};
use jiff::Timestamp;
use serde::Serialize;
use url::Url;

use crate::error::Error;
use crate::readiness::{BatchReadiness, Occurrence};
use crate::records::refusal;

/// The word that stands for a test in place of a kind of news.
const TEST: &str = "test";

/// A CloudEvent (version 1.0.2 of the specification, section "Context Attributes", from memory).
#[derive(Serialize)]
struct CloudEvent<'a, T> {
    specversion: &'static str,
    id: String,
    source: String,
    r#type: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    subject: Option<&'a str>,
    time: Timestamp,
    datacontenttype: &'static str,
    data: T,
}

/// What is told of a batch: what happened under the name of its kind, and all that is known of it now.
#[derive(Serialize)]
struct News<'a> {
    farm: &'a str,
    #[serde(flatten)]
    occurrence: &'a Occurrence,
    readiness: &'a BatchReadiness,
    cautions: &'a [&'a str],
}

/// Nothing but the farm.
#[derive(Serialize)]
struct Test<'a> {
    farm: &'a str,
}

/// The message of something that happened to a batch, after the one with the id `last`.
pub fn news(
    farm: &str,
    webhook: &str,
    occurrence: &Occurrence,
    readiness: &BatchReadiness,
    last: Option<EventId>,
    now: Timestamp,
) -> Result<NewDelivery, Error> {
    let id = EventId::after(last, now).map_err(refusal::of)?;
    let kind = occurrence.kind().as_str();
    let event = CloudEvent {
        specversion: "1.0",
        id: id.to_string(),
        source: source(farm),
        r#type: format!("baycast.batch.{kind}.v1"),
        subject: Some(&readiness.batch),
        time: now,
        datacontenttype: "application/json",
        data: News { farm, occurrence, readiness, cautions: &CAUTIONS },
    };
    let batch = Some(readiness.batch.clone());
    Ok(NewDelivery { webhook: webhook.to_owned(), id, batch, kind: kind.to_owned(), body: text(&event)? })
}

/// A message that tells nothing but that messages arrive.
pub fn test(farm: &str, webhook: &str, now: Timestamp) -> Result<NewDelivery, Error> {
    let id = EventId::after(None, now).map_err(refusal::of)?;
    let event = CloudEvent {
        specversion: "1.0",
        id: id.to_string(),
        source: source(farm),
        r#type: format!("baycast.webhook.{TEST}.v1"),
        subject: None,
        time: now,
        datacontenttype: "application/json",
        data: Test { farm },
    };
    Ok(NewDelivery {
        webhook: webhook.to_owned(),
        id,
        batch: None,
        kind: TEST.to_owned(),
        body: text(&event)?,
    })
}

/// A farm as a URI reference: its path in the REST contract.
fn source(farm: &str) -> String {
    let Ok(mut url) = Url::parse("http://localhost/v1/farms") else { return String::new() };
    if let Ok(mut segments) = url.path_segments_mut() {
        segments.push(farm);
    }
    url.path().to_owned()
}

fn text(event: &impl Serialize) -> Result<String, Error> {
    serde_json::to_string(event).map_err(|failure| {
        tracing::error!(%failure, "a message cannot be written");
        Error::Internal
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_farm_is_a_uri_reference_whatever_its_id() {
        for (farm, told) in [
            ("home", "/v1/farms/home"),
            ("a/b ü?#", "/v1/farms/a%2Fb%20%C3%BC%3F%23"),
            ("50%", "/v1/farms/50%25"),
        ] {
            assert_eq!(source(farm), told);
        }
    }
}
