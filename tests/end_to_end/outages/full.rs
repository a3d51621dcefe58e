//! A disk that is full, and has room again.

use std::time::Duration;

use tonic_health::pb::health_check_response::ServingStatus;

use super::Logged;
use super::disk::{self, Disk};
use super::growing::Growing;
use super::reading::Reading;
use crate::appending::{plant, recorded};
use crate::databases::Folder;

/// Size of the disk.
const SIZE: &str = "12m";
/// How long it is full.
const FULL: Duration = Duration::from_secs(3);

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_full_disk_takes_nothing_loses_nothing_and_takes_again() {
    let folder = Folder::new("baycast-small");
    let place = folder.path().to_str().expect("a path in UTF-8");
    let logged = Logged::run(disk::serving(place, SIZE, "true"));
    let disk = Disk::of(&logged.server, place);
    plant(&logged.server).await;
    let reading = Reading::begin(&logged.server.address);
    let why = "there is no room left for records";
    let (growing, growers) = Growing::begin("full disk", &logged.server.address, why);
    growing.more(20).await;

    disk.fill();
    let unready = logged.readyz(503, why).await;
    assert_eq!(logged.health().await, ServingStatus::NotServing);
    growing.more_put_off(20).await;
    tokio::time::sleep(FULL).await;
    logged.readyz(503, why).await;
    disk.free();
    let ready = logged.readyz(200, "ready").await;
    growing.more(20).await;

    let acknowledged = growing.end(growers).await;
    let (read, read_again) = reading.end().await;
    assert_eq!(read_again, 0, "what is there can be read all the time");
    acknowledged.assert_all_of(&recorded(&logged.server).await);
    assert_eq!(disk.integrity("records.db"), "ok");
    let lines = logged.lines();
    println!(
        "full for {FULL:?}: told after {unready:?}, and {ready:?} after there was room; {} events acknowledged and there \
         once, {} appends put off, {read} reads good; {} lines in the log",
        acknowledged.0.len(),
        growing.put_off(),
        lines.len()
    );
    let count = |words: &str| lines.iter().filter(|line| line.contains(words)).count();
    assert_eq!((count(why), count("take everything again")), (1, 1), "{lines:#?}");
    assert_eq!(lines.len(), 2, "{lines:#?}");
}
