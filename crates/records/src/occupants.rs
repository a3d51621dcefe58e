//! Which batches lay in a bay at a time.

use std::collections::BTreeMap;

use baycast_model::history::Event;
use baycast_model::moment::Moment;
use jiff::Timestamp;
use jiff::tz::TimeZone;

use crate::error::{Error, Result};
use crate::records::Records;
use crate::value::{from_json, values};

impl Records {
    /// Ids of the farm's batches, put-away ones left out, that lay in `bay` at `at` after all that is recorded now.
    ///
    /// A batch lies in the bay it started in from the second of its first event on, or from ever where it has none; in
    /// another from its move there on; and in none from the time it was merged into another. A day without an hour counts
    /// from its midnight UTC.
    pub async fn batches_in_bay(&self, farm: &str, bay: &str, at: Timestamp) -> Result<Vec<String>> {
        // A day, and a time of that second or earlier, come before this in the order of text.
        let before = format!("{}", at.strftime("%Y-%m-%dT%H:%M:%S["));
        let mut session = self.snapshot().await?;
        let rows = session
            .run(
                "SELECT b.id, b.start_bay FROM batches b WHERE b.farm_id = $1 AND b.archived_at IS NULL \
                 AND (b.event_version = 0 OR EXISTS (SELECT 1 FROM events e WHERE e.farm_id = b.farm_id \
                 AND e.batch_id = b.id AND e.at < $2 AND NOT EXISTS (SELECT 1 FROM events s \
                 WHERE s.farm_id = e.farm_id AND s.batch_id = e.batch_id AND s.supersedes = e.id)))",
                values![farm, before],
            )
            .await?;
        let mut bays = BTreeMap::new();
        for mut row in rows {
            bays.insert(row.text()?, Some(row.text()?));
        }
        let rows = session
            .run(
                "SELECT e.at, e.id, e.batch_id, e.event, e.source_batch FROM events e WHERE e.farm_id = $1 \
                 AND e.kind = 'move' AND NOT EXISTS (SELECT 1 FROM events s WHERE s.farm_id = e.farm_id \
                 AND s.batch_id = e.batch_id AND s.supersedes = e.id) UNION ALL \
                 SELECT e.at, e.id, e.batch_id, e.event, e.source_batch FROM events e WHERE e.farm_id = $1 \
                 AND e.source_batch IS NOT NULL AND NOT EXISTS (SELECT 1 FROM events s \
                 WHERE s.farm_id = e.farm_id AND s.batch_id = e.batch_id AND s.supersedes = e.id)",
                values![farm],
            )
            .await?;
        let mut changes = Vec::new();
        for mut row in rows {
            let (then, id, batch) = (begins(&row.text()?)?, row.text()?, row.text()?);
            let event: Event = from_json(&row.text()?)?;
            if then <= at {
                changes.push((then, id, batch, event.moved.map(|moved| moved.to_bay), row.text_or_none()?));
            }
        }
        changes.sort();
        for (_, _, batch, to_bay, source) in changes {
            // Where it was merged into another it stays so, whatever is told of it after.
            if let (Some(to_bay), Some(Some(bay))) = (to_bay, bays.get_mut(&batch)) {
                *bay = to_bay;
            }
            if let Some(bay) = source.and_then(|source| bays.get_mut(&source)) {
                *bay = None;
            }
        }
        Ok(bays.into_iter().filter(|(_, own)| own.as_deref() == Some(bay)).map(|(id, _)| id).collect())
    }
}

/// The first instant that a moment may mean.
fn begins(text: &str) -> Result<Timestamp> {
    match text.parse().map_err(Error::corrupt)? {
        Moment::Instant(instant) => Ok(instant),
        Moment::Date(date) => TimeZone::UTC.to_timestamp(date.at(0, 0, 0, 0)).map_err(Error::corrupt),
    }
}
