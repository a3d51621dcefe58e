//! A group of appends in one transaction: read and lock, decide, write, commit.

use std::collections::BTreeSet;

use crate::append::Answer;
use crate::changes::Change;
use crate::error::Result;
use crate::ledger::Ledger;
use crate::store::{Purpose, Session, Store, Table};
use crate::value::{Kind, values};
use crate::writer::Request;
use crate::{events, idempotency, outbox};

/// Records what `requests` ask for. The answers are true when this returns: what they speak of is on disk.
pub(crate) async fn record(store: &dyn Store, requests: &[Request]) -> Result<Vec<Result<Answer>>> {
    let mut session = store.begin(Purpose::Write).await?;
    let mut ledger = Ledger::load(session.as_mut(), requests).await?;
    let answers = requests.iter().map(|request| ledger.decide(request)).collect();
    if ledger.added.is_empty() && ledger.kept.is_empty() {
        return Ok(answers);
    }
    idempotency::forget(session.as_mut(), &ledger.expired).await?;
    idempotency::keep(session.as_mut(), &ledger.kept).await?;
    if !ledger.added.is_empty() {
        events::insert(session.as_mut(), &ledger.added).await?;
        outbox::insert(session.as_mut(), &ledger.added).await?;
        advance(session.as_mut(), &ledger).await?;
    }
    session.commit().await?;
    Ok(answers)
}

/// What recording `request` would answer now. It is decided like any other, and nothing is written.
pub(crate) async fn rehearse(store: &dyn Store, request: &Request) -> Result<Answer> {
    // Opened for writing, since that is what reading for a decision is allowed to lock in; never committed.
    let mut session = store.begin(Purpose::Write).await?;
    let mut ledger = Ledger::load(session.as_mut(), std::slice::from_ref(request)).await?;
    drop(session);
    ledger.decide(request)
}

/// Moves the batches on to their last events.
async fn advance(session: &mut dyn Session, ledger: &Ledger) -> Result<()> {
    let touched: BTreeSet<_> = ledger.added.iter().map(|own| (&own.farm, &own.batch)).collect();
    let mut rows = Vec::new();
    let mut changes = Vec::new();
    for (farm, batch) in touched {
        if let Some(line) = ledger.batches.get(&(farm.clone(), batch.clone())) {
            rows.push(values![farm, batch, line.event_version, line.last.map(|id| id.to_string())]);
            changes.push(Change::Batch { farm: farm.clone(), batch: batch.clone() });
        }
    }
    let columns = &[
        ("farm_id", Kind::Text),
        ("id", Kind::Text),
        ("event_version", Kind::Int),
        ("last_event_id", Kind::Text),
    ];
    session
        .run_rows(
            "UPDATE batches SET event_version = k.event_version, last_event_id = k.last_event_id \
             FROM {rows} WHERE batches.farm_id = k.farm_id AND batches.id = k.id",
            Table::new(columns, rows),
        )
        .await?;
    session.announce(changes).await
}
