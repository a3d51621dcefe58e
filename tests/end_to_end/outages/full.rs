//! A disk that is full, and has room again.

use std::time::Duration;

use super::disk::{Disk, Place};
use super::{Logged, Trouble};

/// Size of the disk.
const SIZE: &str = "12m";
/// How long it is full.
const FULL: Duration = Duration::from_secs(3);

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_full_disk_takes_nothing_loses_nothing_and_takes_again() {
    let Some(place) = Place::new("baycast-small") else { return };
    let logged = Logged::run(place.serving(SIZE, "true"));
    let disk = Disk::of(&logged.server, &place);
    let trouble = Trouble {
        name: "full disk",
        why: "there is no room left for records",
        lasts: FULL,
        begins: async || disk.fill(),
        ends: async || disk.free(),
    };
    trouble.comes_and_goes(&logged).await;
    assert_eq!(disk.integrity("records.db"), "ok");
}
