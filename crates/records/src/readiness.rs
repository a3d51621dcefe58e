//! What was told of batches, as it is kept. What it says is the service's: here it is text.

use baycast_model::moment::Moment;
use jiff::civil::Date;
use jiff::{Timestamp, ToSpan};

use crate::batches::{self, Batch};
use crate::error::{Error, Result};
use crate::farms::{self, Farm};
use crate::history::HistoryVersion;
use crate::records::Records;
use crate::store::Session;
use crate::value::{Row, values};

/// The day of what is told of a batch that no day alone changes: it is due when something is recorded.
pub(crate) const NO_DAY: &str = "9999-12-31";

/// What was told of a farm's batches, all of one moment.
#[derive(Clone, Debug, PartialEq)]
pub struct FarmReadiness {
    /// The farm.
    pub farm: Farm,
    /// The last change that was logged, 0 before the first.
    pub sequence: i64,
    /// When it was logged.
    pub changed_at: Option<Timestamp>,
    /// What is told of each batch in the feed, by the batches' ids.
    pub contents: Vec<String>,
    /// The batches that are to be worked out anew.
    pub due: Vec<String>,
}

/// What was told of one batch, and what it is to be worked out from, all of one moment.
#[derive(Clone, Debug, PartialEq)]
pub struct Told {
    /// The farm.
    pub farm: Farm,
    /// The batch.
    pub batch: Batch,
    /// Rises each time that something is told; 0 where nothing was told yet.
    pub revision: i64,
    /// Of the history that was told of.
    pub version: Option<HistoryVersion>,
    /// The tag of the estimate that was told.
    pub etag: String,
    /// The day that it was told for; none where no day alone changes it.
    pub day: Option<Date>,
    /// What was told; none where the batch is not in the feed.
    pub content: Option<String>,
    /// When it was last joined to another batch, whether that has come yet or not.
    pub joined_at: Option<Moment>,
    /// When something was last added to it.
    pub filled_at: Option<Moment>,
    /// The last of its events, those that are planned included.
    pub last_at: Option<Moment>,
    /// The last of its events that are not planned for later than now.
    pub seen_at: Option<Moment>,
}

/// What makes a row of `readiness`, under the alias `r`, one to be worked out anew: for a batch `b` in use of a farm `f` it
/// is missing, or of another day, surroundings or model; for one that is not in use it is there. Another replica's clock
/// may be a day ahead.
macro_rules! due {
    ($day:literal, $next_day:literal, $model:literal) => {
        concat!(
            "CASE WHEN b.archived_at IS NULL AND f.archived_at IS NULL THEN r.revision IS NULL OR r.day < ",
            $day,
            " OR (r.day > ",
            $next_day,
            " AND r.day < '9999') OR r.surroundings <> f.surroundings OR r.model_version <> ",
            $model,
            " ELSE r.content IS NOT NULL END"
        )
    };
}
pub(crate) use due;

/// The day after, as it is stored.
pub(crate) fn next_day(day: Date) -> String {
    day.saturating_add(1.day()).to_string()
}

/// Reads a moment, or nothing.
fn moment(row: &mut Row) -> Result<Option<Moment>> {
    row.text_or_none()?.map(|at| at.parse().map_err(Error::corrupt)).transpose()
}

/// The latest moment that a statement finds.
async fn latest(
    session: &mut dyn Session,
    sql: &'static str,
    farm: &str,
    batch: &str,
) -> Result<Option<Moment>> {
    let mut latest: Option<Moment> = None;
    for mut row in session.run(sql, values![farm, batch]).await? {
        let at = moment(&mut row)?;
        latest = [latest, at].into_iter().flatten().max_by(|one, other| one.days().total_cmp(&other.days()));
    }
    Ok(latest)
}

impl Records {
    /// What is told of a farm's batches. `day_of` says which day it is on the farm, `model_version` which model is in use:
    /// what is of others is due.
    pub async fn readiness(
        &self,
        farm: &str,
        day_of: &(dyn Fn(&Farm) -> Date + Sync),
        model_version: &str,
    ) -> Result<FarmReadiness> {
        let mut session = self.snapshot().await?;
        let session = session.as_mut();
        let farm = farms::load(session, farm).await?;
        let day = day_of(&farm);
        let feed = session
            .run(
                "SELECT last_sequence, changed_at FROM readiness_feeds WHERE farm_id = $1",
                values![&farm.id],
            )
            .await?;
        let (sequence, changed_at) = match feed.into_iter().next() {
            Some(mut row) => (row.int()?, row.instant_or_none()?),
            None => (0, None),
        };
        let told = session
            .run(
                "SELECT content FROM readiness WHERE farm_id = $1 AND content IS NOT NULL ORDER BY batch_id",
                values![&farm.id],
            )
            .await?;
        let due = session
            .run(
                concat!(
                    "SELECT b.id FROM batches b JOIN farms f ON f.id = b.farm_id \
                     LEFT JOIN readiness r ON r.farm_id = b.farm_id AND r.batch_id = b.id \
                     WHERE b.farm_id = $1 AND (",
                    due!("$2", "$3", "$4"),
                    " OR b.id IN (SELECT o.batch_id FROM outbox o WHERE o.farm_id = $1)) ORDER BY b.id"
                ),
                values![&farm.id, day.to_string(), next_day(day), model_version],
            )
            .await?;
        Ok(FarmReadiness {
            farm,
            sequence,
            changed_at,
            contents: told.into_iter().map(|mut row| row.text()).collect::<Result<_>>()?,
            due: due.into_iter().map(|mut row| row.text()).collect::<Result<_>>()?,
        })
    }

    /// What was told of a batch, and what it is to be worked out from at `now`.
    pub async fn told(&self, farm: &str, batch: &str, now: Timestamp) -> Result<Told> {
        let mut session = self.snapshot().await?;
        let session = session.as_mut();
        let farm = farms::load(session, farm).await?;
        let batch = batches::load(session, &farm.id, batch).await?;
        let rows = session
            .run(
                "SELECT revision, version, etag, day, content FROM readiness WHERE farm_id = $1 AND batch_id = $2",
                values![&farm.id, &batch.id],
            )
            .await?;
        let mut told = Told {
            revision: 0,
            version: None,
            etag: String::new(),
            day: None,
            content: None,
            joined_at: None,
            filled_at: None,
            last_at: None,
            seen_at: None,
            farm,
            batch,
        };
        if let Some(mut row) = rows.into_iter().next() {
            told.revision = row.int()?;
            told.version = Some(HistoryVersion::kept(row.text()?));
            told.etag = row.text()?;
            let day = row.text()?;
            told.day = (day != NO_DAY).then(|| day.parse().map_err(Error::corrupt)).transpose()?;
            told.content = row.text_or_none()?;
        }
        let (farm, batch) = (&told.farm.id, &told.batch.id);
        told.joined_at = latest(
            session,
            "SELECT e.at FROM events e WHERE e.farm_id = $1 AND e.source_batch IS NOT NULL AND e.source_batch = $2 \
             AND e.event IS NOT NULL AND NOT EXISTS (SELECT 1 FROM events s WHERE s.farm_id = e.farm_id \
             AND s.batch_id = e.batch_id AND s.supersedes = e.id)",
            farm,
            batch,
        )
        .await?;
        told.filled_at = latest(
            session,
            "SELECT MAX(e.at) FROM events e {placing} WHERE e.farm_id = $1 AND e.batch_id = $2 \
             AND e.kind IN ('addition', 'move', 'merge', 'withdrawal') AND e.kind = 'addition' \
             AND e.event IS NOT NULL AND NOT EXISTS (SELECT 1 FROM events s WHERE s.farm_id = e.farm_id \
             AND s.batch_id = e.batch_id AND s.supersedes = e.id)",
            farm,
            batch,
        )
        .await?;
        let events = session
            .run(
                "SELECT MAX(e.at), MAX(CASE WHEN e.at <= $3 THEN e.at END) FROM events e \
                 WHERE e.farm_id = $1 AND e.batch_id = $2 AND e.event IS NOT NULL",
                values![farm, batch, now],
            )
            .await?;
        if let Some(mut row) = events.into_iter().next() {
            told.last_at = moment(&mut row)?;
            told.seen_at = moment(&mut row)?;
        }
        Ok(told)
    }
}
