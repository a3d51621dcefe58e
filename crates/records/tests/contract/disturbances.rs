//! A database that is blocked, or breaks off, for a moment.

use std::sync::Arc;
use std::time::Duration;

use baycast_records::{Append, Entry, Error, Mode, Placed, Which};
use sqlx::{Connection, SqliteConnection};
use tokio::task::JoinSet;
use tokio::time::sleep;

use crate::databases::Database;
use crate::orchard::{BATCH, FARM, at, planted, reading, stamp};

/// How often a client asks again.
const TRIES: usize = 20;

pub async fn a_moments_disturbance_heals(database: Database) {
    if database.url.starts_with("postgres") {
        connections_are_cut(database).await;
    } else {
        file_is_locked(database).await;
    }
}

async fn connections_are_cut(database: Database) {
    let records = planted(&database).await;
    let append = Append {
        farm: FARM.into(),
        entries: vec![Placed { batch: BATCH.into(), entry: Entry::Add { event: reading(None, 50.0) } }],
        mode: Mode::AllOrNothing,
        idempotency_key: Some("k".into()),
    };
    let mut changes = records.changes();
    let cut = "SELECT pg_terminate_backend(pid)::text, '' FROM pg_stat_activity \
               WHERE datname = current_database() AND pid <> pg_backend_pid()";
    assert!(!crate::schema::run(&database, cut).await.is_empty());
    let mut tries = 0;
    loop {
        tries += 1;
        match records.append(append.clone(), &stamp(0)).await {
            Ok(_) => break,
            Err(Error::Unavailable { .. }) if tries < TRIES => sleep(Duration::from_millis(50)).await,
            Err(error) => panic!("{error} after {tries} tries"),
        }
    }
    assert_eq!(records.events_since(FARM, BATCH, Which::All, None, 10).await.unwrap().len(), 1);
    // Those who listen are told that they may have missed something, and hear what comes after.
    let heard = async { while changes.recv().await.expect("word") != baycast_records::Change::Unknown {} };
    tokio::time::timeout(Duration::from_secs(20), heard).await.expect("word of the break");
    let heard = async {
        loop {
            let _ =
                records.record(FARM, BATCH, Entry::Add { event: reading(None, 51.0) }, None, &stamp(1)).await;
            let next = tokio::time::timeout(Duration::from_millis(300), changes.recv()).await;
            if matches!(next, Ok(Ok(baycast_records::Change::Batch { .. }))) {
                break;
            }
        }
    };
    tokio::time::timeout(Duration::from_secs(20), heard).await.expect("word of what came after");
}

async fn file_is_locked(database: Database) {
    let records = Arc::new(planted(&database).await);
    let mut other = SqliteConnection::connect(&database.url).await.unwrap();
    sqlx::query("BEGIN EXCLUSIVE").execute(&mut other).await.unwrap();
    let appending = tokio::spawn({
        let records = records.clone();
        async move {
            records.record(FARM, BATCH, Entry::Add { event: reading(None, 50.0) }, None, &stamp(0)).await
        }
    });
    sleep(Duration::from_millis(300)).await;
    assert!(!appending.is_finished(), "it waits");
    // Readers do not.
    assert!(records.events_since(FARM, BATCH, Which::All, None, 10).await.unwrap().is_empty());
    sqlx::query("COMMIT").execute(&mut other).await.unwrap();
    appending.await.unwrap().unwrap();
    assert_eq!(records.events_since(FARM, BATCH, Which::All, None, 10).await.unwrap().len(), 1);
}

/// Whoever asks may go away at any moment, in the midst of a statement too.
pub async fn who_gives_up_leaves_nothing_behind(database: Database) {
    let records = Arc::new(planted(&database).await);
    for moment in 0..400_u64 {
        let asked = records.told(FARM, BATCH, at(0));
        let _ = tokio::time::timeout(Duration::from_micros(moment * 10), asked).await;
        let version = records.batch(FARM, BATCH).await.unwrap().version;
        let draft = records.batch(FARM, BATCH).await.unwrap().draft();
        let changed = records.update_batch(FARM, BATCH, version, &draft);
        if let Ok(changed) = tokio::time::timeout(Duration::from_micros(moment * 10), changed).await {
            // The one before may be kept, though no one waited for it.
            assert!(matches!(changed, Ok(_) | Err(Error::Stale { .. })), "{changed:?}");
        }
    }
    let mut asking = JoinSet::new();
    for _ in 0..64 {
        let records = records.clone();
        asking.spawn(async move { records.told(FARM, BATCH, at(0)).await });
    }
    for told in asking.join_all().await {
        told.unwrap();
    }
}
