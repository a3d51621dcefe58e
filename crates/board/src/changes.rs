//! Word of each change, as server-sent events: pages ask for themselves anew when one comes.
//!
//! The id of an event is its place in the farm's changes, so that who reconnects misses none.

use std::convert::Infallible;
use std::time::Duration;

use axum::extract::{Query, State};
use axum::http::header::CACHE_CONTROL;
use axum::http::{HeaderMap, HeaderName};
use axum::response::Sse;
use axum::response::sse::{Event, KeepAlive};
use baycast_service::readiness::ReadinessNews;
use futures::{Stream, StreamExt};
use serde::Deserialize;

use crate::access::Access;
use crate::refusal::Refusal;
use crate::router::Board;

/// Time between two signs of life, so that a connection through a proxy stays.
const SIGN_OF_LIFE: Duration = Duration::from_secs(15);

/// Where to begin.
#[derive(Deserialize)]
pub struct Asked {
    /// The last change that the page shows.
    after: Option<u64>,
}

/// The changes after the last one that a page shows or, on a reconnect, has heard of.
pub async fn changes(
    State(board): State<Board>,
    access: Access,
    Query(Asked { after }): Query<Asked>,
    headers: HeaderMap,
) -> Result<([(HeaderName, &'static str); 1], Sse<impl Stream<Item = Result<Event, Infallible>>>), Refusal> {
    let heard = headers.get("last-event-id").and_then(|id| id.to_str().ok()?.trim().parse().ok());
    let news = board.service.watch_readiness(&access.caller, &access.farm, heard.or(after)).await?;
    // On an error the stream ends, and the browser reconnects.
    let events = news.take_while(|news| futures::future::ready(news.is_ok())).filter_map(async |news| {
        let event = match news.ok()? {
            ReadinessNews::Whole(whole) => Event::default().id(whole.sequence.to_string()).data("*"),
            ReadinessNews::Change(change) => {
                Event::default().id(change.sequence.to_string()).data(&change.batch)
            }
        };
        Some(Ok(event.event("change")))
    });
    let events = Sse::new(events).keep_alive(KeepAlive::new().interval(SIGN_OF_LIFE));
    Ok(([(CACHE_CONTROL, "no-store")], events))
}
