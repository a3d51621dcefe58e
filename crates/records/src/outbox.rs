//! The outbox: notices that a batch's readiness is due, kept until it was worked out.
//!
//! A change of a batch writes its notice in the same transaction. Whoever works a batch out claims its notices first; the
//! claim lapses, so that another takes over where that one died, and the notices go with what is published.

use std::collections::BTreeSet;

use jiff::Timestamp;

use crate::error::Result;
use crate::events::EventRecord;
use crate::instant::{no_later_than, to_microsecond};
use crate::records::Records;
use crate::secret::random;
use crate::store::{Session, Table};
use crate::value::{Kind, values};

/// Notices looked at for batches to claim: the outbox may be long, as after many readings were brought in.
const LOOKED_AT: i64 = 64;

/// How often a claim is tried again that met another replica's.
const TRIES: usize = 4;

/// A batch whose readiness is due, claimed by one who works it out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Claim {
    /// The farm.
    pub farm: String,
    /// The batch.
    pub batch: String,
    /// Names the claim: what is published under it settles the notices it holds.
    pub id: String,
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

/// Puts in a notice that a batch was changed. It stands beside any that is being worked out already.
pub(crate) async fn note(session: &mut dyn Session, farm: &str, batch: &str) -> Result<()> {
    session
        .run(
            "INSERT INTO outbox (id, farm_id, batch_id, kind, created_at) \
             VALUES ('due:' || length($1) || ':' || $1 || ':' || $2, $1, $2, 'due', '') \
             ON CONFLICT (id) DO UPDATE SET claim = NULL, claimed_until = NULL",
            values![farm, batch],
        )
        .await?;
    Ok(())
}

/// Puts in notices for the batches whose readiness hangs on that of `batch`: those it was merged into or that were merged
/// into it, and those of its bay, which finished batches teach.
pub(crate) async fn note_dependents(session: &mut dyn Session, farm: &str, batch: &str) -> Result<()> {
    session
        .run(
            "INSERT INTO outbox (id, farm_id, batch_id, kind, created_at) \
             SELECT 'due:' || length(b.farm_id) || ':' || b.farm_id || ':' || b.id, b.farm_id, b.id, 'due', '' FROM batches b \
             WHERE b.farm_id = $1 AND b.id <> $2 AND b.archived_at IS NULL AND ( \
             b.start_bay = (SELECT own.start_bay FROM batches own WHERE own.farm_id = $1 AND own.id = $2) \
             OR b.id IN (SELECT e.batch_id FROM events e \
             WHERE e.farm_id = $1 AND e.source_batch IS NOT NULL AND e.source_batch = $2) \
             OR b.id IN (SELECT e.source_batch FROM events e \
             WHERE e.farm_id = $1 AND e.batch_id = $2 AND e.source_batch IS NOT NULL)) ORDER BY b.id \
             ON CONFLICT (id) DO UPDATE SET claim = NULL, claimed_until = NULL",
            values![farm, batch],
        )
        .await?;
    Ok(())
}

/// Puts in a notice for each batch that has none of this kind.
pub(crate) async fn note_once(session: &mut dyn Session, farm: &str, batches: &[String]) -> Result<()> {
    let rows = batches.iter().map(|batch| values![farm, batch]).collect();
    session
        .run_rows(
            "INSERT INTO outbox (id, farm_id, batch_id, kind, created_at) \
             SELECT 'due:' || length(k.farm_id) || ':' || k.farm_id || ':' || k.batch_id, k.farm_id, k.batch_id, 'due', '' \
             FROM {rows} WHERE true ORDER BY k.batch_id ON CONFLICT DO NOTHING",
            Table::new(&[("farm_id", Kind::Text), ("batch_id", Kind::Text)], rows),
        )
        .await?;
    Ok(())
}

/// Takes out what a claim holds.
pub(crate) async fn settle(session: &mut dyn Session, claim: &Claim) -> Result<()> {
    session
        .run(
            "DELETE FROM outbox WHERE farm_id = $1 AND batch_id = $2 AND claim = $3",
            values![&claim.farm, &claim.batch, &claim.id],
        )
        .await?;
    Ok(())
}

impl Records {
    /// Claims the notices of at most `most` batches that no one holds at `now`, those that wait longest first, until
    /// `until`. A claim that reaches further than twice as long was made before a clock was set back, and has lapsed. No one waits
    /// for another: two who come at the same moment may each get some of a batch's notices, and both
    /// work it out.
    pub async fn claim_due(&self, now: Timestamp, until: Timestamp, most: usize) -> Result<Vec<Claim>> {
        let (now, until) = (to_microsecond(now), to_microsecond(until));
        let ahead = no_later_than(now, until);
        for _ in 0..TRIES {
            let waiting = self
                .read()
                .await?
                .run(
                    "SELECT farm_id, batch_id FROM outbox WHERE claimed_until IS NULL OR claimed_until <= $1 \
                     OR claimed_until > $3 ORDER BY id LIMIT $2",
                    values![now, LOOKED_AT, ahead],
                )
                .await?;
            let mut batches = BTreeSet::new();
            for mut row in waiting {
                if batches.len() < most {
                    batches.insert((row.text()?, row.text()?));
                }
            }
            if batches.is_empty() {
                break;
            }
            let claim = hex::encode(random::<8>()?);
            let rows =
                batches.iter().map(|(farm, batch)| values![farm, batch, &claim, now, until, ahead]).collect();
            let columns = &[
                ("farm_id", Kind::Text),
                ("batch_id", Kind::Text),
                ("claim", Kind::Text),
                ("now", Kind::Text),
                ("until", Kind::Text),
                ("ahead", Kind::Text),
            ];
            let mut session = self.write().await?;
            let claimed = session
                .run_rows(
                    "UPDATE outbox SET claim = c.claim, claimed_until = c.until FROM (SELECT b.id, k.claim, k.until \
                     FROM {rows} JOIN outbox b ON b.farm_id = k.farm_id AND b.batch_id = k.batch_id \
                     WHERE b.claimed_until IS NULL OR b.claimed_until <= k.now OR b.claimed_until > k.ahead {skip_locked}) AS c \
                     WHERE outbox.id = c.id RETURNING outbox.farm_id, outbox.batch_id",
                    Table::new(columns, rows),
                )
                .await?;
            session.commit().await?;
            let mut batches = BTreeSet::new();
            for mut row in claimed {
                batches.insert((row.text()?, row.text()?));
            }
            if !batches.is_empty() {
                let claim = |(farm, batch)| Claim { farm, batch, id: claim.clone() };
                return Ok(batches.into_iter().map(claim).collect());
            }
            // Another replica took them at the same moment.
        }
        Ok(Vec::new())
    }
}
