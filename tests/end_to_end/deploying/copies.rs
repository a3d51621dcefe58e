//! The script that makes backups and throws out the oldest ones.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Duration;

use tokio::time::sleep;

use super::{deployed, fail, succeed};
use crate::appending::{FARM, plant};
use crate::binary;
use crate::databases::Database;
use crate::server::Server;

/// Names of copies tell the second.
const A_SECOND: Duration = Duration::from_millis(1050);

/// The script over a store, with the binary on its path.
fn backup(store: &str, folder: &Path, kept: &str) -> Command {
    let own = binary::path().parent().expect("a folder").display();
    let path = std::env::var("PATH").unwrap_or_default();
    let mut command = Command::new(deployed("backup"));
    command.arg(folder).arg(kept).env("BAYCAST_STORE", store).env("PATH", format!("{own}:{path}"));
    command
}

/// A new folder beside a database.
fn folder(database: &Database) -> PathBuf {
    let folder = database.folder.path().join("copies");
    fs::create_dir(&folder).expect("a folder is created");
    folder
}

/// All that lies in a folder, by name, but for the lock.
fn files(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).expect("the folder").flatten();
    let mut names: Vec<_> =
        entries.map(|entry| entry.file_name().into_string().expect("a name of ours")).collect();
    names.retain(|name| name != ".lock");
    names.sort();
    names
}

/// Everything that the farm owns.
fn exported(store: &str) -> String {
    succeed(Command::new(binary::path()).args(["export", FARM, "--store", store]))
}

/// Brings a copy back to a place of its own; its store.
async fn restored(copy: &Path, database: &Database) -> Database {
    if database.url.starts_with("sqlite:") {
        let place = Database::sqlite();
        let to = place.url.strip_prefix("sqlite:").expect("a file");
        succeed(Command::new(binary::path()).arg("restore").arg(copy).arg(to));
        return place;
    }
    let place = Database::postgres().await;
    let mut restore = Command::new("pg_restore");
    restore.args(["--exit-on-error", "--single-transaction", "--no-owner", "--dbname", &place.url]).arg(copy);
    succeed(&mut restore);
    place
}

pub async fn the_newest_are_kept_and_bring_everything_back(database: Database) {
    let server = Server::on(&database);
    plant(&server).await;
    let folder = folder(&database);
    let mut made = Vec::new();
    for _ in 0..3 {
        succeed(&mut backup(&database.url, &folder, "2"));
        made.push(files(&folder).last().expect("a copy").clone());
        sleep(A_SECOND).await;
    }
    assert_eq!(files(&folder), made[1..], "the oldest went");
    let place = restored(&folder.join(&made[2]), &database).await;
    assert_eq!(exported(&place.url), exported(&database.url));
}

pub async fn what_fails_costs_no_older_copy(database: Database) {
    drop(database.open().await);
    let folder = folder(&database);
    for _ in 0..2 {
        succeed(&mut backup(&database.url, &folder, "5"));
        sleep(A_SECOND).await;
    }
    let before = files(&folder);
    assert_eq!(before.len(), 2);
    let elsewhere = format!("{}-which-is-not-there", database.url);
    for (store, kept) in [(elsewhere.as_str(), "1"), (&database.url, "0"), ("mysql://secret@nowhere", "1")] {
        let told = fail(&mut backup(store, &folder, kept));
        assert!(!told.contains("secret"), "{told}");
        assert_eq!(files(&folder), before, "{store}: {told}");
    }

    let mut other = Command::new("flock");
    other.arg(folder.join(".lock")).args(["sh", "-c", "echo held && exec cat"]);
    let mut other = other.stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().expect("flock runs");
    let mut held = [0; 5];
    std::io::Read::read_exact(other.stdout.as_mut().expect("its output"), &mut held).expect("it is held");
    assert!(fail(&mut backup(&database.url, &folder, "1")).contains("under way"));
    drop(other.stdin.take());
    assert!(other.wait().expect("it ends").success());
    assert_eq!(files(&folder), before);

    // What one that was killed left behind goes with the next.
    fs::write(folder.join("records-20260101T000000Z.db.part"), "half of it").expect("a file");
    succeed(&mut backup(&database.url, &folder, "1"));
    let after = files(&folder);
    assert!(after.len() == 1 && after[0] > before[1], "{after:?}");
}
