//! `kill -9` under concurrent writes: every acknowledged event is there, none twice, and the database opens.
//!
//! The binary runs itself again as the process that is killed. `BAYCAST_CRASHES` sets how often, 20 where it is not set.

#[path = "../databases/mod.rs"]
#[allow(dead_code, unused_imports, reason = "the end-to-end tests use more of it")]
mod databases;
#[path = "../one_bay/mod.rs"]
mod one_bay;

mod appender;
mod process;
mod replicas;

use std::collections::{BTreeMap, BTreeSet};
use std::thread::sleep;
use std::time::Duration;

use baycast_records::{BatchDraft, Records, Which};

use appender::{BATCHES, FARM, TASKS, batch_id};
use databases::Database;
use process::Process;

/// How often the writing process is killed.
fn crashes() -> usize {
    std::env::var("BAYCAST_CRASHES").map_or(20, |text| text.parse().expect("BAYCAST_CRASHES is a number"))
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn sqlite_keeps_what_it_acknowledged() {
    kill_again_and_again(Database::sqlite()).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn postgres_keeps_what_it_acknowledged() {
    kill_again_and_again(Database::postgres().await).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn sqlite_replica_killed_beside_another() {
    replicas::kill_one_beside_another(Database::sqlite()).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn postgres_replica_killed_beside_another() {
    replicas::kill_one_beside_another(Database::postgres().await).await;
}

/// The process that is killed; the tests above run it.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
#[ignore = "run by the other tests, and killed by them"]
async fn append_until_killed() {
    appender::append_until_killed().await;
}

async fn kill_again_and_again(database: Database) {
    let rounds = crashes();
    let records = database.open().await;
    one_bay::plant(&records, FARM).await;
    records.close().await.unwrap();
    let mut acknowledged: BTreeMap<String, BTreeSet<(String, String)>> = BTreeMap::new();
    for round in 0..rounds {
        let records = database.open().await;
        add_batches(&records, round).await;
        records.close().await.unwrap();
        let process = Process::start(&database, round, "a");
        sleep(some_time());
        let lines = process.kill();
        assert!(lines.len() >= TASKS, "round {round}: {} events acknowledged", lines.len());
        for (batch, own_id, id) in lines {
            let fresh = acknowledged.entry(batch).or_default().insert((own_id, id));
            assert!(fresh, "an event is acknowledged once");
        }
        let records = database.open().await;
        for number in 0..BATCHES {
            let batch = batch_id(round, number);
            check(&records, &batch, acknowledged.get(&batch)).await;
        }
        records.close().await.unwrap();
    }
    // Later crashes took nothing that had been kept before them.
    let records = database.open().await;
    let mut total = 0;
    for (batch, events) in &acknowledged {
        check(&records, batch, Some(events)).await;
        total += events.len();
    }
    if database.url.starts_with("sqlite") {
        // Checks every page, index and reference of the copy.
        records.backup(&database.folder.path().join("copy.db")).await.unwrap();
    }
    println!("{}: killed {rounds} times, {total} acknowledged events all there once", &database.url[..8]);
}

/// Every acknowledged event is there under its id, and no own id twice.
async fn check(records: &Records, batch: &str, acknowledged: Option<&BTreeSet<(String, String)>>) {
    let version = async || records.batch(FARM, batch).await.unwrap().event_version as usize;
    // A commit that was under way when its client was killed may still land: what is compared was read of one version.
    let (events, version) = loop {
        let before = version().await;
        let events = records.events_since(FARM, batch, Which::All, None, u32::MAX).await.unwrap();
        if version().await == before {
            break (events, before);
        }
    };
    let kept: BTreeSet<(String, String)> =
        events.iter().map(|own| (own.external_id.clone().unwrap(), own.id.to_string())).collect();
    let own_ids: BTreeSet<&String> = kept.iter().map(|(own_id, _)| own_id).collect();
    assert_eq!(own_ids.len(), events.len(), "{batch}: an event is there twice");
    let lost: Vec<_> = acknowledged.into_iter().flatten().filter(|event| !kept.contains(*event)).collect();
    assert!(lost.is_empty(), "{batch}: acknowledged and lost: {lost:?}");
    assert_eq!(version, events.len(), "{batch}");
}

async fn add_batches(records: &Records, round: usize) {
    for number in 0..BATCHES {
        let draft = BatchDraft { start_bay: "bay".into(), ..BatchDraft::default() };
        records.create_batch(FARM, &batch_id(round, number), &draft).await.unwrap();
    }
}

/// A random time up to a quarter of a second.
fn some_time() -> Duration {
    Duration::from_micros(fastrand::u64(0..250_000))
}
