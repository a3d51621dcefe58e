//! Events as they are kept: added, superseded, never changed.

use baycast_model::history::Event;
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::batches;
use crate::error::{Error, Result, Thing};
use crate::event_id::EventId;
use crate::page::{Page, PageRequest};
use crate::records::Records;
use crate::store::{Session, Table};
use crate::value::{Kind, Row, from_json, to_json, values};

/// The kind of a retraction, beside the names of the model's details.
const RETRACTION: &str = "retraction";

/// One recorded event.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EventRecord {
    /// The farm it belongs to.
    pub farm: String,
    /// The batch it belongs to.
    pub batch: String,
    /// Given when it was recorded; grows within a batch.
    pub id: EventId,
    /// The caller's own id, kept through corrections.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub external_id: Option<String>,
    /// What happened; nothing where this retracts the event it supersedes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub event: Option<Event>,
    /// The event that this one takes the place of.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub supersedes: Option<EventId>,
    /// When it was recorded.
    pub recorded_at: Timestamp,
    /// Who recorded it.
    pub recorded_by: String,
}

/// Which events of a batch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Which {
    /// Those that hold: not superseded, and no retractions.
    Current,
    /// All that were ever recorded.
    All,
}

impl EventRecord {
    /// The event as it is stored: the caller's own id stands beside it and not in it.
    pub(crate) fn body(event: &Event) -> Result<String> {
        to_json(&Event { id: None, ..event.clone() })
    }

    /// The batch that this event merges into its own.
    pub(crate) fn source(&self) -> Option<&String> {
        self.event.as_ref()?.merge.as_ref().map(|merge| &merge.source)
    }
}

/// An event read back: its body, and the own id that stood beside it.
pub(crate) fn restored(body: &str, external_id: Option<String>) -> Result<Event> {
    Ok(Event { id: external_id, ..from_json(body)? })
}

/// Reads `farm_id, batch_id, id, external_id, event, supersedes, recorded_at, recorded_by`.
pub(crate) fn event(mut row: Row) -> Result<EventRecord> {
    let (farm, batch, id, external_id) =
        (row.text()?, row.text()?, row.text()?.parse()?, row.text_or_none()?);
    Ok(EventRecord {
        farm,
        batch,
        id,
        event: row.text_or_none()?.map(|body| restored(&body, external_id.clone())).transpose()?,
        external_id,
        supersedes: row.text_or_none()?.map(|id| id.parse()).transpose()?,
        recorded_at: row.instant()?,
        recorded_by: row.text()?,
    })
}

/// Puts events in as they are.
pub(crate) async fn insert(session: &mut dyn Session, events: &[EventRecord]) -> Result<()> {
    let mut rows = Vec::with_capacity(events.len());
    for own in events {
        let kind = own.event.as_ref().map_or(Some(RETRACTION), |event| event.details().first().copied());
        rows.push(values![
            &own.farm,
            &own.batch,
            own.id.to_string(),
            own.external_id.as_ref(),
            kind.ok_or_else(|| Error::invalid("event", "no detail", "exactly one detail"))?,
            own.event.as_ref().map(|event| event.at.to_string()),
            own.event.as_ref().map(EventRecord::body).transpose()?,
            own.source(),
            own.supersedes.map(|id| id.to_string()),
            own.recorded_at,
            &own.recorded_by
        ]);
    }
    let columns = &[
        ("farm_id", Kind::Text),
        ("batch_id", Kind::Text),
        ("id", Kind::Text),
        ("external_id", Kind::Text),
        ("kind", Kind::Text),
        ("at", Kind::Text),
        ("event", Kind::Text),
        ("source_batch", Kind::Text),
        ("supersedes", Kind::Text),
        ("recorded_at", Kind::Text),
        ("recorded_by", Kind::Text),
    ];
    session
        .run_rows(
            "INSERT INTO events (farm_id, batch_id, id, external_id, kind, at, event, source_batch, supersedes, \
             recorded_at, recorded_by) \
             SELECT k.farm_id, k.batch_id, k.id, k.external_id, k.kind, k.at, k.event, k.source_batch, \
             k.supersedes, k.recorded_at, k.recorded_by FROM {rows} ORDER BY k.id",
            Table::new(columns, rows),
        )
        .await?;
    Ok(())
}

impl Records {
    /// One event, superseded or not.
    pub async fn event(&self, farm: &str, batch: &str, id: EventId) -> Result<EventRecord> {
        let rows = self
            .read()
            .await?
            .run(
                "SELECT farm_id, batch_id, id, external_id, event, supersedes, recorded_at, recorded_by \
                 FROM events WHERE farm_id = $1 AND batch_id = $2 AND id = $3",
                values![farm, batch, id.to_string()],
            )
            .await?;
        let found = rows.into_iter().next().map(event).transpose()?;
        found.ok_or_else(|| Error::missing(Thing::Event, id.to_string()))
    }

    /// A batch's events in the order in which they were recorded. Ids only grow, so the last page's end is a place to go
    /// on from when more was recorded: see [`Self::events_since`].
    pub async fn events(
        &self,
        farm: &str,
        batch: &str,
        which: Which,
        request: &PageRequest,
    ) -> Result<Page<EventRecord>> {
        let list = format!("events/{which:?}/{}/{farm}/{batch}", farm.len());
        let after: String = request.after(&list, String::new())?;
        let events = self.events_after(farm, batch, which, after, request.limit()).await?;
        request.page(&list, events, |own: &EventRecord| own.id.to_string())
    }

    /// At most `most` events of a batch recorded after `since`.
    pub async fn events_since(
        &self,
        farm: &str,
        batch: &str,
        which: Which,
        since: Option<EventId>,
        most: u32,
    ) -> Result<Vec<EventRecord>> {
        let after = since.map(|id| id.to_string()).unwrap_or_default();
        self.events_after(farm, batch, which, after, i64::from(most)).await
    }

    /// The greatest of a batch's own ids that begin with `prefix`, at most `most` of them, greatest first.
    pub async fn last_own_ids(
        &self,
        farm: &str,
        batch: &str,
        prefix: &str,
        most: u32,
    ) -> Result<Vec<String>> {
        let end = format!("{prefix}\u{10ffff}");
        let rows = self
            .read()
            .await?
            .run(
                "SELECT DISTINCT external_id FROM events {own_ids} WHERE farm_id = $1 AND batch_id = $2 \
                 AND external_id >= $3 AND external_id < $4 ORDER BY external_id DESC LIMIT $5",
                values![farm, batch, prefix, end, i64::from(most)],
            )
            .await?;
        rows.into_iter().map(|mut row| row.text()).collect()
    }

    async fn events_after(
        &self,
        farm: &str,
        batch: &str,
        which: Which,
        after: String,
        limit: i64,
    ) -> Result<Vec<EventRecord>> {
        let mut session = self.read().await?;
        let sql = match which {
            Which::All => {
                "SELECT farm_id, batch_id, id, external_id, event, supersedes, recorded_at, recorded_by \
                 FROM events WHERE farm_id = $1 AND batch_id = $2 AND id > $3 ORDER BY id LIMIT $4"
            }
            Which::Current => {
                "SELECT e.farm_id, e.batch_id, e.id, e.external_id, e.event, e.supersedes, e.recorded_at, \
                 e.recorded_by FROM events e \
                 WHERE e.farm_id = $1 AND e.batch_id = $2 AND e.id > $3 AND e.event IS NOT NULL \
                 AND NOT EXISTS (SELECT 1 FROM events s WHERE s.farm_id = e.farm_id \
                 AND s.batch_id = e.batch_id AND s.supersedes = e.id) ORDER BY e.id LIMIT $4"
            }
        };
        let rows = session.run(sql, values![farm, batch, after, limit]).await?;
        if rows.is_empty() {
            batches::load(session.as_mut(), farm, batch).await?;
        }
        rows.into_iter().map(event).collect()
    }
}
