//! Batches merged into others.

use baycast_records::{Clash, Entry, Error, EventId, Records, Result};

use crate::databases::Database;
use crate::orchard::{FARM, add, addition, batch_draft, merge, planted, reading, stamp};

async fn batches(records: &Records, ids: &[&str]) {
    for id in ids {
        records.create_batch(FARM, id, &batch_draft("east")).await.unwrap();
    }
}

async fn join(records: &Records, source: &str, into: &str) -> Result<EventId> {
    let entry = Entry::Add { event: merge(source) };
    records.record(FARM, into, entry, None, &stamp(0)).await.map(|made| made.id)
}

pub async fn sources_come_with_the_history(database: Database) {
    let records = planted(&database).await;
    batches(&records, &["a", "b", "c"]).await;
    for batch in ["a", "b", "c"] {
        add(&records, batch, addition("wheat_straw")).await;
    }
    join(&records, "c", "b").await.unwrap();
    let joined = join(&records, "b", "a").await.unwrap();
    let (history, version) = records.history(FARM, "a").await.unwrap();
    assert_eq!(history.sources.len(), 1);
    assert_eq!(history.sources[0].batch, "b");
    assert_eq!(history.sources[0].sources[0].batch, "c");
    add(&records, "c", reading(None, 40.0)).await;
    let (changed, later) = records.history(FARM, "a").await.unwrap();
    assert_ne!(version, later);
    assert_eq!(changed.sources[0].sources[0].events.len(), 2);
    records.record(FARM, "a", Entry::Retract { supersedes: joined }, None, &stamp(0)).await.unwrap();
    assert!(records.history(FARM, "a").await.unwrap().0.sources.is_empty());
    let wrong = join(&records, "none", "a").await.unwrap_err();
    assert!(matches!(wrong, Error::NotFound { .. }), "{wrong}");
}

pub async fn no_circle_and_no_deeper_than_a_history(database: Database) {
    let records = planted(&database).await;
    batches(&records, &["a", "b", "c", "d", "e", "f"]).await;
    let circle = |source: &str| Error::Conflict { what: Clash::Cycle { source_batch: source.into() } };
    assert_eq!(join(&records, "a", "a").await.unwrap_err(), circle("a"));
    join(&records, "b", "a").await.unwrap();
    let second = join(&records, "c", "b").await.unwrap();
    assert_eq!(join(&records, "a", "c").await.unwrap_err(), circle("a"));
    assert_eq!(join(&records, "a", "b").await.unwrap_err(), circle("a"));
    join(&records, "e", "d").await.unwrap();
    join(&records, "f", "e").await.unwrap();
    // a holds b, b holds c, d holds e, e holds f: with d in c it would be five levels, the model reads four.
    let deep = join(&records, "d", "c").await.unwrap_err();
    assert_eq!(deep, Error::Conflict { what: Clash::TooDeep { source_batch: "d".into(), most: 4 } });
    let third = join(&records, "d", "b").await.unwrap();
    records.history(FARM, "a").await.unwrap();
    // Merges that are taken back no longer stand in the way.
    for merged in [second, third] {
        records.record(FARM, "b", Entry::Retract { supersedes: merged }, None, &stamp(0)).await.unwrap();
    }
    join(&records, "a", "c").await.unwrap();
}
