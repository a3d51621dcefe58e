//! The outbox: a notice for every recorded event, kept in the same transaction until it was passed on.

use jiff::Timestamp;

use crate::error::Result;
use crate::event_id::EventId;
use crate::events::EventRecord;
use crate::records::Records;
use crate::store::{Session, Table};
use crate::value::{Kind, values};

/// A notice waiting to be passed on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Notice {
    /// The event it is of.
    pub id: EventId,
    /// The farm.
    pub farm: String,
    /// The batch.
    pub batch: String,
    /// When it was recorded.
    pub created_at: Timestamp,
}

/// Puts in a notice for each event.
pub(crate) async fn insert(session: &mut dyn Session, events: &[EventRecord]) -> Result<()> {
    let rows = events
        .iter()
        .map(|own| values![own.id.to_string(), &own.farm, &own.batch, "event_recorded", own.recorded_at])
        .collect();
    let columns = &[
        ("id", Kind::Text),
        ("farm_id", Kind::Text),
        ("batch_id", Kind::Text),
        ("kind", Kind::Text),
        ("created_at", Kind::Text),
    ];
    session
        .run_rows(
            "INSERT INTO outbox (id, farm_id, batch_id, kind, created_at) \
             SELECT k.id, k.farm_id, k.batch_id, k.kind, k.created_at FROM {rows} ORDER BY k.id",
            Table::new(columns, rows),
        )
        .await?;
    Ok(())
}

impl Records {
    /// At most `most` notices that wait, the oldest first.
    pub async fn notices(&self, most: u32) -> Result<Vec<Notice>> {
        let sql = "SELECT id, farm_id, batch_id, created_at FROM outbox ORDER BY id LIMIT $1";
        let rows = self.read().await?.run(sql, values![i64::from(most)]).await?;
        rows.into_iter()
            .map(|mut row| {
                Ok(Notice {
                    id: row.text()?.parse()?,
                    farm: row.text()?,
                    batch: row.text()?,
                    created_at: row.instant()?,
                })
            })
            .collect()
    }

    /// Takes out notices of events recorded before `time`, which nobody came for; how many there were.
    pub async fn forget_notices(&self, time: Timestamp) -> Result<usize> {
        let mut session = self.write().await?;
        let sql = "DELETE FROM outbox WHERE id < $1 RETURNING id";
        let gone = session.run(sql, values![EventId::first_of(time).to_string()]).await?.len();
        session.commit().await?;
        Ok(gone)
    }

    /// Takes out notices that were passed on; how many there were.
    pub async fn settle_notices(&self, ids: &[EventId]) -> Result<usize> {
        let rows = ids.iter().map(|id| values![id.to_string()]).collect();
        let mut session = self.write().await?;
        let gone = session
            .run_rows(
                "DELETE FROM outbox WHERE id IN (SELECT k.id FROM {rows}) RETURNING id",
                Table::new(&[("id", Kind::Text)], rows),
            )
            .await?
            .len();
        session.commit().await?;
        Ok(gone)
    }
}
