//! Everything a farm owns as lines of JSON: the farm, its bays, feedstocks and batches by name, then each batch's events
//! in the order in which they were recorded, superseded ones too, and the season with its plan.
//!
//! The same records give the same bytes: fields stand in the order in which their types declare them. Keys, feed
//! addresses, idempotency keys, the outbox and webhooks, which have secrets, belong to the installation, not to the farm,
//! and are not among them.

use serde::{Deserialize, Serialize};
use tokio::io::{AsyncWrite, AsyncWriteExt};

use crate::batches::{Batch, batch};
use crate::bays::{BayRecord, bay};
use crate::error::{Error, Result};
use crate::events::{EventRecord, event};
use crate::farms::{self, Farm};
use crate::feedstocks::{FeedstockRecord, feedstock};
use crate::records::Records;
use crate::seasons::{self, SeasonRecord};
use crate::value::{to_json, values};

/// The form of the lines. Grows when they change.
pub(crate) const FORMAT: u32 = 2;
/// Rows read at once.
const CHUNK: i64 = 1000;

/// One line.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Line {
    /// The first.
    Export {
        /// The form of the lines.
        format: u32,
    },
    /// The farm.
    Farm(Farm),
    /// A bay.
    Bay(BayRecord),
    /// A feedstock.
    Feedstock(FeedstockRecord),
    /// A batch.
    Batch(Batch),
    /// An event.
    Event(Box<EventRecord>),
    /// The season.
    Season(Box<SeasonRecord>),
    /// The last: how many lines came before it, so that a file cut short is known.
    End {
        /// Lines before this one.
        lines: u64,
    },
}

/// Writes lines and counts them.
struct Lines<'a, W> {
    to: &'a mut W,
    count: u64,
}

impl<W: AsyncWrite + Unpin> Lines<'_, W> {
    async fn put(&mut self, line: &Line) -> Result<()> {
        let mut text = to_json(line)?;
        text.push('\n');
        self.count += 1;
        self.to.write_all(text.as_bytes()).await.map_err(|error| output(&error))
    }
}

fn output(error: &std::io::Error) -> Error {
    Error::Unavailable { detail: format!("the output: {error}") }
}

impl Records {
    /// Writes everything the farm owns, as of one moment. Memory does not grow with the farm.
    pub async fn export<W: AsyncWrite + Unpin + Send>(&self, farm: &str, to: &mut W) -> Result<()> {
        let mut session = self.snapshot().await?;
        let own = farms::load(session.as_mut(), farm).await?;
        let mut lines = Lines { to, count: 0 };
        lines.put(&Line::Export { format: FORMAT }).await?;
        lines.put(&Line::Farm(own)).await?;
        let sql =
            "SELECT farm_id, position, bay, version, archived_at FROM bays WHERE farm_id = $1 ORDER BY id";
        for row in session.run(sql, values![farm]).await? {
            lines.put(&Line::Bay(bay(row)?)).await?;
        }
        let sql =
            "SELECT farm_id, feedstock, version, archived_at FROM feedstocks WHERE farm_id = $1 ORDER BY id";
        for row in session.run(sql, values![farm]).await? {
            lines.put(&Line::Feedstock(feedstock(row)?)).await?;
        }
        let mut last = String::new();
        loop {
            let rows = session
                .run(
                    "SELECT farm_id, id, name, start_bay, horizon_days, forecast_step_days, criteria, \
                     event_version, last_event_id, version, archived_at FROM batches \
                     WHERE farm_id = $1 AND id > $2 ORDER BY id LIMIT $3",
                    values![farm, &last, CHUNK],
                )
                .await?;
            let Some(rows) = some(rows) else { break };
            for row in rows {
                let own = batch(row)?;
                last.clone_from(&own.id);
                lines.put(&Line::Batch(own)).await?;
            }
        }
        let mut last = (String::new(), String::new());
        loop {
            let rows = session
                .run(
                    "SELECT farm_id, batch_id, id, external_id, event, supersedes, recorded_at, recorded_by \
                     FROM events WHERE farm_id = $1 AND (batch_id, id) > ($2, $3) \
                     ORDER BY batch_id, id LIMIT $4",
                    values![farm, &last.0, &last.1, CHUNK],
                )
                .await?;
            let Some(rows) = some(rows) else { break };
            for row in rows {
                let own = event(row)?;
                last = (own.batch.clone(), own.id.to_string());
                lines.put(&Line::Event(Box::new(own))).await?;
            }
        }
        if let Some(own) = seasons::record(session.as_mut(), farm).await? {
            lines.put(&Line::Season(Box::new(own))).await?;
        }
        let count = lines.count;
        lines.put(&Line::End { lines: count }).await?;
        lines.to.flush().await.map_err(|error| output(&error))
    }
}

fn some<T>(rows: Vec<T>) -> Option<Vec<T>> {
    (!rows.is_empty()).then_some(rows)
}
