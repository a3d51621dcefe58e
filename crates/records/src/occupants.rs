//! Which batches lay in a bay at a time.

use std::collections::BTreeMap;

use baycast_model::history::Event;
use baycast_model::moment::Moment;
use jiff::Timestamp;
use jiff::tz::TimeZone;

use crate::error::{Error, Result};
use crate::records::Records;
use crate::value::{from_json, values};

/// Where a batch is, as its events are gone through.
struct Whereabouts {
    /// Its bay; none once it was merged into another batch.
    bay: Option<String>,
    /// Since when there is something of it; from ever where it has no events yet.
    since: Option<Timestamp>,
}

impl Records {
    /// Ids of the farm's batches, put-away ones left out, that lay in `bay` at `at` after all that is recorded now.
    ///
    /// A batch lies in the bay it started in from its first event on, in another from its move there on, and in none from
    /// the time it was merged into another. A day without an hour counts from its midnight UTC.
    pub async fn batches_in_bay(&self, farm: &str, bay: &str, at: Timestamp) -> Result<Vec<String>> {
        let mut session = self.snapshot().await?;
        let rows = session
            .run(
                "SELECT b.id, b.start_bay, (SELECT MIN(e.at) FROM events e WHERE e.farm_id = b.farm_id \
                 AND e.batch_id = b.id AND NOT EXISTS (SELECT 1 FROM events s WHERE s.farm_id = e.farm_id \
                 AND s.batch_id = e.batch_id AND s.supersedes = e.id)) \
                 FROM batches b WHERE b.farm_id = $1 AND b.archived_at IS NULL ORDER BY b.id",
                values![farm],
            )
            .await?;
        let mut batches = BTreeMap::new();
        for mut row in rows {
            let (id, bay) = (row.text()?, Some(row.text()?));
            let since = row.text_or_none()?.map(|at| begins(&at)).transpose()?;
            batches.insert(id, Whereabouts { bay, since });
        }
        let rows = session
            .run(
                "SELECT e.batch_id, e.at, e.event, e.source_batch FROM events e \
                 JOIN batches b ON b.farm_id = e.farm_id AND b.id = e.batch_id \
                 WHERE b.farm_id = $1 AND (e.kind = 'move' OR e.kind = 'merge') \
                 AND NOT EXISTS (SELECT 1 FROM events s WHERE s.farm_id = e.farm_id \
                 AND s.batch_id = e.batch_id AND s.supersedes = e.id) ORDER BY e.at, e.id",
                values![farm],
            )
            .await?;
        for mut row in rows {
            let (batch, then) = (row.text()?, begins(&row.text()?)?);
            let event: Event = from_json(&row.text()?)?;
            if then > at {
                continue;
            }
            if let Some(moved) = event.moved
                && let Some(own) = batches.get_mut(&batch)
            {
                own.bay = own.bay.is_some().then_some(moved.to_bay);
            }
            if let Some(source) = row.text_or_none()?.and_then(|source| batches.get_mut(&source)) {
                source.bay = None;
            }
        }
        let here =
            |own: &Whereabouts| own.bay.as_deref() == Some(bay) && own.since.is_none_or(|since| since <= at);
        Ok(batches.into_iter().filter(|(_, own)| here(own)).map(|(id, _)| id).collect())
    }
}

/// The first instant that a moment may mean.
fn begins(text: &str) -> Result<Timestamp> {
    match text.parse().map_err(Error::corrupt)? {
        Moment::Instant(instant) => Ok(instant),
        Moment::Date(date) => TimeZone::UTC.to_timestamp(date.at(0, 0, 0, 0)).map_err(Error::corrupt),
    }
}
