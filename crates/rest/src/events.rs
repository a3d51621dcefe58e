//! `/v1/farms/{farm}/batches/{batch}/events`.

#![allow(unused_qualifications, reason = "written by the routes' attributes")]

use axum::Json;
use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::Response;
use baycast_service::records::{AppendEvents, AppendOutcome, Appended, EventsShown, RecordedEvent};
use baycast_service::{Error, Service};
use serde::Serialize;
use utoipa::ToSchema;

use crate::authenticated::Authenticated;
use crate::body::JsonOf;
use crate::kept;
use crate::names::Names;
use crate::pages::RecordedEventPage;
use crate::parameters::{MAX_PAGE_SIZE, Paging, Parameters};
use crate::problem::Problem;
use crate::refusals::{Refusals, WriteRefusals};

/// What became of the entries.
#[derive(Debug, Serialize, ToSchema)]
pub struct AppendEventsResponse {
    /// What became of each, in order.
    items: Vec<AppendedEvent>,
}

/// What became of an entry.
#[derive(Debug, Serialize, ToSchema)]
pub struct AppendedEvent {
    /// Id of the recorded event; absent where it was refused.
    #[serde(skip_serializing_if = "Option::is_none")]
    id: Option<String>,
    /// What became of it.
    outcome: AppendOutcome,
    /// How many events the batch has had after it; absent where it was refused.
    #[serde(skip_serializing_if = "Option::is_none")]
    event_version: Option<u64>,
    /// Why it was refused.
    #[serde(skip_serializing_if = "Option::is_none")]
    problem: Option<Problem>,
}

impl From<Result<Appended, Error>> for AppendedEvent {
    fn from(answer: Result<Appended, Error>) -> Self {
        match answer {
            Ok(Appended { id, outcome, event_version }) => {
                Self { id: Some(id), outcome, event_version: Some(event_version), problem: None }
            }
            Err(error) => Self {
                id: None,
                outcome: AppendOutcome::Refused,
                event_version: None,
                problem: Some(error.into()),
            },
        }
    }
}

/// Record what was done and seen.
///
/// Answered once it is on disk. Events are only ever added: a correction names the event that it supersedes, and so
/// does a retraction, which has no event of its own.
#[utoipa::path(
    post,
    path = "/v1/farms/{farm}/batches/{batch}/events",
    operation_id = "append_events",
    tag = "events",
    params(
        ("farm" = String, Path, description = "The farm's id"),
        ("batch" = String, Path, description = "The batch's id"),
        ("Idempotency-Key" = Option<String>, Header, max_length = 128, pattern = "^[!#-~]([ -~]*[!-~])?$", description = "For 24 hours the same request under the same \
            key gets the same answer and records nothing again"),
    ),
    request_body(content = AppendEvents, example = json!({
        "entries": [
            { "event": { "at": "2026-04-01", "addition": { "feedstock": "grass_mowings", "mass_kg": 200 } } },
            { "event": { "at": "2026-04-08T18:00:00Z", "reading": { "temperature_c": 58.5 }, "id": "probe-17" } }
        ]
    })),
    responses(
        (status = 200, description = "What became of each", body = AppendEventsResponse),
        Refusals,
        WriteRefusals,
    ),
    security(("key" = []))
)]
pub async fn append_events(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names((farm, batch)): Names<(String, String)>,
    headers: HeaderMap,
    JsonOf(append): JsonOf<AppendEvents>,
) -> Result<Json<AppendEventsResponse>, Problem> {
    let key = idempotency_key(&headers);
    let answers = service.append_events(&caller, &farm, &batch, &append, key.as_deref()).await?;
    Ok(Json(AppendEventsResponse { items: answers.into_iter().map(AppendedEvent::from).collect() }))
}

/// The key in the header, with or without the quotes of a structured string (RFC 8941 section 3.3.3).
pub fn idempotency_key(headers: &HeaderMap) -> Option<String> {
    let text = String::from_utf8_lossy(headers.get("idempotency-key")?.as_bytes()).trim().to_owned();
    let unquoted = text.strip_prefix('"').and_then(|rest| rest.strip_suffix('"')).map(str::to_owned);
    Some(unquoted.unwrap_or(text))
}

/// List a batch's events in the order in which they were recorded.
#[utoipa::path(
    get,
    path = "/v1/farms/{farm}/batches/{batch}/events",
    operation_id = "list_events",
    tag = "events",
    params(
        ("farm" = String, Path, description = "The farm's id"),
        ("batch" = String, Path, description = "The batch's id"),
        Paging,
        ("shown" = Option<EventsShown>, Query, description = "Those that hold, or all; those that hold where absent"),
        ("since" = Option<String>, Query, description = "Only those recorded after the one with this id, for those \
            that poll: the last id of a page is where to go on. Not together with `page_token`"),
    ),
    responses((status = 200, description = "A page of events", body = RecordedEventPage), Refusals),
    security(("key" = []))
)]
pub async fn list_events(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names((farm, batch)): Names<(String, String)>,
    parameters: Parameters,
) -> Result<Json<RecordedEventPage>, Problem> {
    let (paging, shown, since) = parameters.read(|own| {
        (own.paging(MAX_PAGE_SIZE), own.word("shown", "one of current, all"), own.text("since"))
    })?;
    let Paging { page_size, page_token } = paging;
    let page = match since {
        Some(since) => service.list_events_since(&caller, &farm, &batch, shown, &since, page_size).await?,
        None => service.list_events(&caller, &farm, &batch, shown, page_size, &page_token).await?,
    };
    Ok(Json(page.into()))
}

/// Get one recorded event, superseded or not.
#[utoipa::path(
    get,
    path = "/v1/farms/{farm}/batches/{batch}/events/{event}",
    operation_id = "get_event",
    tag = "events",
    params(
        ("farm" = String, Path, description = "The farm's id"),
        ("batch" = String, Path, description = "The batch's id"),
        ("event" = String, Path, description = "The event's id"),
    ),
    responses(
        (status = 200, description = "The event", body = RecordedEvent),
        (status = 304, description = "The caller has it already"),
        Refusals,
    ),
    security(("key" = []))
)]
pub async fn get_event(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names((farm, batch, event)): Names<(String, String, String)>,
    headers: HeaderMap,
) -> Result<Response, Problem> {
    let own = service.get_event(&caller, &farm, &batch, &event).await?;
    // A recorded event never changes: its id is its version.
    Ok(kept::found(&headers, &own.id, &own))
}
