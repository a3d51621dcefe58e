//! Publishing what is told of a batch: the row, the log of changes, the messages to webhooks and the settled notices in one
//! transaction.

use jiff::Timestamp;
use jiff::civil::Date;

use crate::changes::Change;
use crate::error::{Error, Result, Thing};
use crate::history::HistoryVersion;
use crate::instant::to_microsecond;
use crate::outbox::{self, Claim};
use crate::readiness::NO_DAY;
use crate::records::Records;
use crate::store::Session;
use crate::tidings::{self, Tidings};
use crate::value::values;

/// What is told of a batch from now on.
#[derive(Clone, Debug, PartialEq)]
pub struct Publication {
    /// The farm.
    pub farm: String,
    /// The batch.
    pub batch: String,
    /// What [`Told`](crate::Told) said when it was worked out: refused where more was told since.
    pub expected_revision: i64,
    /// Version of the batch itself that it speaks of: refused where the batch was changed since.
    pub batch_version: i64,
    /// Of the history that it tells of.
    pub version: HistoryVersion,
    /// The tag of the estimate that it tells.
    pub etag: String,
    /// The surroundings that it was worked out with.
    pub surroundings: i64,
    /// The model that it was worked out with.
    pub model_version: String,
    /// The day that it is for; none where no day alone changes it.
    pub day: Option<Date>,
    /// What is told; none where the batch is not in the feed.
    pub content: Option<String>,
    /// Whether it differs from what was told before, so that it goes into the log of changes.
    pub changed: bool,
    /// The time now.
    pub at: Timestamp,
    /// Whose notices it settles.
    pub claim: Option<Claim>,
    /// What it is to webhooks.
    pub tidings: Tidings,
}

/// Keeps the farm's feed from others who publish until the transaction ends; the last sequence.
pub(crate) async fn lock(session: &mut dyn Session, farm: &str) -> Result<i64> {
    session
        .run(
            "INSERT INTO readiness_feeds (farm_id, last_sequence, kept_from) VALUES ($1, 0, 1) ON CONFLICT DO NOTHING",
            values![farm],
        )
        .await?;
    let rows = session
        .run("SELECT b.last_sequence FROM readiness_feeds b WHERE b.farm_id = $1 {lock}", values![farm])
        .await?;
    rows.into_iter().next().ok_or_else(|| Error::missing(Thing::Farm, farm))?.int()
}

impl Records {
    /// Publishes what is told of a batch, logs the change where it is one, puts in what webhooks are told, and settles the notices that made it due; the
    /// change's sequence. One more than the last of the farm: whoever sees a sequence sees all before it.
    ///
    /// [`Error::Stale`] where more was told, or the batch was changed, since it was worked out: nothing is kept then.
    pub async fn publish(&self, publication: &Publication) -> Result<Option<i64>> {
        let own = publication;
        let mut session = self.write().await?;
        let last = lock(session.as_mut(), &own.farm).await?;
        let version = "SELECT version FROM batches WHERE farm_id = $1 AND id = $2";
        let rows = session.run(version, values![&own.farm, &own.batch]).await?;
        let mut row = rows.into_iter().next().ok_or_else(|| Error::missing(Thing::Batch, &own.batch))?;
        expect(own.batch_version, row.int()?)?;
        let told = session
            .run(
                "SELECT revision, version FROM readiness WHERE farm_id = $1 AND batch_id = $2",
                values![&own.farm, &own.batch],
            )
            .await?;
        let (revision, before) = match told.into_iter().next() {
            Some(mut row) => (row.int()?, Some(HistoryVersion::kept(row.text()?))),
            None => (0, None),
        };
        expect(own.expected_revision, revision)?;
        let at = to_microsecond(own.at);
        let day = own.day.map_or(NO_DAY.to_owned(), |day| day.to_string());
        session
            .run(
                "INSERT INTO readiness (farm_id, batch_id, revision, version, etag, surroundings, model_version, day, \
                 content, changed_at) VALUES ($1, $2, 1, $3, $4, $5, $6, $7, $8, $9) \
                 ON CONFLICT (farm_id, batch_id) DO UPDATE SET revision = readiness.revision + 1, \
                 version = excluded.version, etag = excluded.etag, surroundings = excluded.surroundings, \
                 model_version = excluded.model_version, day = excluded.day, content = excluded.content, \
                 changed_at = CASE WHEN $10 = 1 THEN excluded.changed_at ELSE readiness.changed_at END",
                values![
                    &own.farm,
                    &own.batch,
                    own.version.as_str(),
                    &own.etag,
                    own.surroundings,
                    &own.model_version,
                    day,
                    own.content.as_ref(),
                    at,
                    i64::from(own.changed)
                ],
            )
            .await?;
        let sequence = if own.changed { Some(log(session.as_mut(), own, last + 1, at).await?) } else { None };
        if before.is_none_or(|before| !before.same_events(&own.version)) {
            outbox::note_dependents(session.as_mut(), &own.farm, &own.batch).await?;
        }
        tidings::insert(session.as_mut(), &own.farm, &own.batch, &own.tidings, at).await?;
        if let Some(claim) = &own.claim {
            outbox::settle(session.as_mut(), claim).await?;
        }
        session.commit().await?;
        Ok(sequence)
    }
}

/// Puts the change into the farm's log and tells of it.
async fn log(session: &mut dyn Session, own: &Publication, sequence: i64, at: Timestamp) -> Result<i64> {
    session
        .run(
            "INSERT INTO readiness_changes (farm_id, sequence, batch_id, content, changed_at) \
             VALUES ($1, $2, $3, $4, $5)",
            values![&own.farm, sequence, &own.batch, own.content.as_ref(), at],
        )
        .await?;
    session
        .run(
            "UPDATE readiness_feeds SET last_sequence = $2, changed_at = $3 WHERE farm_id = $1",
            values![&own.farm, sequence, at],
        )
        .await?;
    session.announce(vec![Change::Readiness { farm: own.farm.clone() }]).await?;
    Ok(sequence)
}

/// Refuses what was worked out from an older version.
fn expect(given: i64, current: i64) -> Result<()> {
    if given == current { Ok(()) } else { Err(Error::Stale { given, current }) }
}
