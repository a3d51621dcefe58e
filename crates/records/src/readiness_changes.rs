//! The log of a farm's changes, read by those who follow it.

use jiff::Timestamp;

use crate::error::Result;
use crate::farms;
use crate::instant::to_microsecond;
use crate::publishing::lock;
use crate::records::Records;
use crate::store::Table;
use crate::value::{Kind, values};

/// One change, as it was logged.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LoggedChange {
    /// Its place in the farm's log.
    pub sequence: i64,
    /// The batch.
    pub batch: String,
    /// What was told of it; none where it left the feed.
    pub content: Option<String>,
    /// When it was told.
    pub changed_at: Timestamp,
}

/// A run of changes, and how far the log reaches.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LoggedChanges {
    /// The changes, oldest first, without a gap.
    pub changes: Vec<LoggedChange>,
    /// The first that is still kept, or is yet to come.
    pub kept_from: i64,
    /// The last; 0 before the first.
    pub last: i64,
}

impl Records {
    /// At most `most` changes after a sequence, oldest first.
    pub async fn readiness_changes(&self, farm: &str, after: i64, most: u32) -> Result<LoggedChanges> {
        let mut session = self.snapshot().await?;
        let session = session.as_mut();
        let feed = session
            .run("SELECT kept_from, last_sequence FROM readiness_feeds WHERE farm_id = $1", values![farm])
            .await?;
        let Some(mut row) = feed.into_iter().next() else {
            farms::load(session, farm).await?;
            return Ok(LoggedChanges { changes: Vec::new(), kept_from: 1, last: 0 });
        };
        let (kept_from, last) = (row.int()?, row.int()?);
        let rows = session
            .run(
                "SELECT sequence, batch_id, content, changed_at FROM readiness_changes \
                 WHERE farm_id = $1 AND sequence > $2 ORDER BY sequence LIMIT $3",
                values![farm, after, i64::from(most)],
            )
            .await?;
        let changes = rows.into_iter().map(|mut row| {
            Ok(LoggedChange {
                sequence: row.int()?,
                batch: row.text()?,
                content: row.text_or_none()?,
                changed_at: row.instant()?,
            })
        });
        Ok(LoggedChanges { changes: changes.collect::<Result<_>>()?, kept_from, last })
    }

    /// The last sequence of each of these farms that has any.
    pub async fn last_sequences(&self, farms: &[String]) -> Result<Vec<(String, i64)>> {
        let rows = farms.iter().map(|farm| values![farm]).collect();
        let rows = self
            .read()
            .await?
            .run_rows(
                "SELECT b.farm_id, b.last_sequence FROM {rows} JOIN readiness_feeds b ON b.farm_id = k.farm_id",
                Table::new(&[("farm_id", Kind::Text)], rows),
            )
            .await?;
        rows.into_iter().map(|mut row| Ok((row.text()?, row.int()?))).collect()
    }

    /// Forgets the changes up to the last that was told before `time`; how many there were.
    pub async fn forget_readiness_changes(&self, time: Timestamp) -> Result<usize> {
        let old = self
            .read()
            .await?
            .run(
                "SELECT farm_id, MAX(sequence) FROM readiness_changes WHERE changed_at < $1 \
                 GROUP BY farm_id ORDER BY farm_id",
                values![to_microsecond(time)],
            )
            .await?;
        let mut gone = 0;
        for mut row in old {
            let (farm, last) = (row.text()?, row.int()?);
            let mut session = self.write().await?;
            lock(session.as_mut(), &farm).await?;
            let sql =
                "DELETE FROM readiness_changes WHERE farm_id = $1 AND sequence <= $2 RETURNING sequence";
            gone += session.run(sql, values![&farm, last]).await?.len();
            let sql = "UPDATE readiness_feeds SET kept_from = $2 WHERE farm_id = $1 AND kept_from < $2";
            session.run(sql, values![&farm, last + 1]).await?;
            session.commit().await?;
        }
        Ok(gone)
    }
}
