//! Which batches lay in a bay at a time.

use std::collections::BTreeMap;

use baycast_model::history::Event;
use baycast_model::moment::Moment;
use jiff::Timestamp;
use jiff::tz::TimeZone;

use crate::error::{Error, Result};
use crate::records::Records;
use crate::store::Table;
use crate::value::{Kind, values};

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
        let moves = session
            .run(
                "SELECT e.at, e.id, e.batch_id FROM events e WHERE e.farm_id = $1 AND e.kind = 'move' \
                 AND NOT EXISTS (SELECT 1 FROM events s WHERE s.farm_id = e.farm_id \
                 AND s.batch_id = e.batch_id AND s.supersedes = e.id)",
                values![farm],
            )
            .await?;
        let mut last: BTreeMap<String, (Timestamp, String)> = BTreeMap::new();
        for mut row in moves {
            let (then, id, batch) = (begins(&row.text()?)?, row.text()?, row.text()?);
            if then <= at
                && bays.contains_key(&batch)
                && last.get(&batch).is_none_or(|own| *own < (then, id.clone()))
            {
                last.insert(batch, (then, id));
            }
        }
        let last = last.iter().map(|(batch, (_, id))| values![farm, batch, id]).collect();
        let columns = &[("farm_id", Kind::Text), ("batch_id", Kind::Text), ("id", Kind::Text)];
        let moves = session
            .run_rows(
                "SELECT e.batch_id, e.event FROM {rows} JOIN events e ON e.farm_id = k.farm_id \
                 AND e.batch_id = k.batch_id AND e.id = k.id",
                Table::new(columns, last),
            )
            .await?;
        for mut row in moves {
            let (batch, event): (_, Event) = (row.text()?, row.json()?);
            bays.insert(batch, event.moved.map(|moved| moved.to_bay));
        }
        let merges = session
            .run(
                "SELECT e.at, e.source_batch FROM events e WHERE e.farm_id = $1 AND e.kind = 'merge' \
                 AND NOT EXISTS (SELECT 1 FROM events s WHERE s.farm_id = e.farm_id \
                 AND s.batch_id = e.batch_id AND s.supersedes = e.id)",
                values![farm],
            )
            .await?;
        for mut row in merges {
            if begins(&row.text()?)? <= at {
                bays.remove(&row.text()?);
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
