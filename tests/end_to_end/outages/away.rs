//! A database that is broken off and comes back half a minute later, while growers write, others read and watch.

use std::time::{Duration, Instant};

use serde_json::json;
use tokio::time::{sleep_until, timeout};
use tonic_health::pb::health_check_response::ServingStatus;

use super::growing::Growing;
use super::reading::Reading;
use super::{Logged, SOON};
use crate::appending::{FARM, good, plant, recorded};
use crate::databases::{Database, PostgresServer};
use crate::watching::events::{Stream, Told};

/// How long it is away.
const AWAY: Duration = Duration::from_secs(30);
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn half_a_minute_without_a_database_loses_nothing() {
    let postgres = PostgresServer::start();
    let database = Database::postgres_on(&postgres).await;
    let logged = Logged::on(&database.url);
    let address = &logged.server.address;
    plant(&logged.server).await;
    let mut watcher = Stream::events(address, None, None).await.expect("a watcher is let in");
    let Some(Told::Whole(begun_at)) = watcher.next().await else { panic!("the whole comes first") };
    let reading = Reading::begin(address);
    let (growing, growers) = Growing::begin("database away", address, "the records cannot be reached");
    growing.more(20).await;

    postgres.stop();
    let back_at = Instant::now() + AWAY;
    let unready = logged.readyz(503, "the records cannot be reached").await;
    assert_eq!(logged.health().await, ServingStatus::NotServing);
    growing.more_put_off(20).await;
    sleep_until(back_at.into()).await;
    logged.readyz(503, "the records cannot be reached").await;
    postgres.start_again();
    let ready = logged.readyz(200, "ready").await;
    assert_eq!(logged.health().await, ServingStatus::Serving);
    growing.more(20).await;
    // Whoever watched before still watches.
    let own = json!({ "id": "another", "start_bay": "bay" });
    good(&logged.server, &format!("/v1/farms/{FARM}/batches"), own).await;
    let fill = json!({ "at": "2026-04-01", "addition": { "feedstock": "grass_mowings", "mass_kg": 300 } });
    let path = format!("/v1/farms/{FARM}/batches/another/events");
    good(&logged.server, &path, json!({ "entries": [{ "event": fill }] })).await;
    let put_off = growing.put_off();
    let acknowledged = growing.end(growers).await;
    let (read, read_again) = reading.end().await;
    let told = timeout(Duration::from_mins(1), watcher.next()).await.expect("word of a change");
    assert!(matches!(told, Some(Told::Change(sequence, ..)) if sequence > begun_at), "{told:?}");

    acknowledged.assert_all_of(&recorded(&logged.server).await);
    let lines = logged.lines();
    println!(
        "away for {AWAY:?}: told after {unready:?}, and {ready:?} after its return; {} events acknowledged and there once, \
         {put_off} appends and {read_again} of {} reads put off; {} lines in the log",
        acknowledged.0.len(),
        read + read_again,
        lines.len()
    );
    assert!(unready < SOON && ready < SOON);
    let count = |words: &str| lines.iter().filter(|line| line.contains(words)).count();
    assert_eq!(
        (count("the records cannot be reached"), count("take everything again")),
        (1, 1),
        "{lines:#?}"
    );
    assert!(lines.len() < 10, "{lines:#?}");
}
