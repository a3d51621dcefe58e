//! A disk that is full, and has room again.

use std::time::Duration;

use super::disk::{self, Disk};
use super::{Logged, Trouble};
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
