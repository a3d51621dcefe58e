//! `GET /v1/farms/{farm}/readiness:watch`: server-sent events (WHATWG HTML, section 9.2).

use std::convert::Infallible;
use std::time::Duration;

use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::sse::{Event, KeepAlive, Sse};
use axum::response::{IntoResponse, Response};
use baycast_model::problem::Problems;
use baycast_service::readiness::ReadinessNews;
use baycast_service::{Error, Service};
use futures::{StreamExt, future};

use crate::authenticated::Authenticated;
use crate::names::Names;
use crate::parameters::{Parameters, Place};
use crate::problem::Problem;
use crate::readiness_changes::PLACE;
use crate::refusals::Refusals;

/// Time between two signs of life where nothing changes: shorter than what takes a silent connection for a dead one.
const KEEP_ALIVE: Duration = Duration::from_secs(15);

/// After what time a browser connects again.
const RETRY: Duration = Duration::from_secs(1);

/// Watch a farm's readiness.
///
/// Tells every change as it happens, once and in order. An event `readiness` holds a `Readiness`, all that is told of the
/// farm; an event `change` a `ReadinessChange`. The `id` of each is its sequence, from which `Last-Event-ID` goes on. The
/// stream ends when the server stops, and within 20 seconds after the key was revoked.
#[utoipa::path(
    get,
    path = "/v1/farms/{farm}/readiness:watch",
    operation_id = "watch_readiness",
    tag = "readiness",
    params(
        ("farm" = String, Path, description = "The farm's id"),
        ("after" = Option<u64>, Query, description = "The `sequence` of a readiness that the caller has; where absent, \
            or where the changes since are no longer kept, the whole comes first"),
        ("Last-Event-ID" = Option<u64>, Header, description = "The `id` of the last event that the caller has seen, in \
            place of `after`"),
    ),
    responses(
        (status = 200, description = "The events, as long as the caller listens", body = String,
            content_type = "text/event-stream"),
        Refusals,
    ),
    security(("key" = []))
)]
pub async fn watch_readiness(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names(farm): Names<String>,
    headers: HeaderMap,
    parameters: Parameters,
) -> Result<Response, Problem> {
    let after = parameters.read(|own| own.parsed("after", PLACE).map(|Place(after)| after))?;
    let after = last_seen(&headers)?.or(after);
    let news = service.watch_readiness(&caller, &farm, after).await?;
    // An event stream has no place for a reason: it ends, and whoever comes back is told.
    let events = news.scan((), |(), news| {
        let event = news.ok().and_then(|news| event(&news));
        future::ready(event.map(Ok::<_, Infallible>))
    });
    let events = Sse::new(events).keep_alive(KeepAlive::new().interval(KEEP_ALIVE));
    // Known to reverse proxies that would collect an answer before they pass it on.
    Ok(([("x-accel-buffering", "no")], events).into_response())
}

/// The last event that the caller has seen, where a header says so.
fn last_seen(headers: &HeaderMap) -> Result<Option<u64>, Error> {
    let Some(given) = headers.get("last-event-id").map(|value| value.to_str().unwrap_or_default()) else {
        return Ok(None);
    };
    given.parse().map(|Place(seen)| Some(seen)).map_err(|()| {
        let mut problems = Problems::default();
        problems.add("/Last-Event-ID", format!("{given:?}"), PLACE);
        Error::Invalid(problems)
    })
}

/// The event that tells the news.
fn event(news: &ReadinessNews) -> Option<Event> {
    let (name, json) = match news {
        ReadinessNews::Whole(readiness) => ("readiness", serde_json::to_string(readiness.as_ref())),
        ReadinessNews::Change(change) => ("change", serde_json::to_string(change.as_ref())),
    };
    Some(Event::default().event(name).id(news.sequence().to_string()).retry(RETRY).data(json.ok()?))
}
