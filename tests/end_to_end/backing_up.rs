//! A backup made while clients write, and put in place of what was lost.

use std::process::{Command, Output};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use fastrand::Rng;
use tokio::sync::Mutex;

use crate::appending::{Client, Kept, plant, recorded, seed};
use crate::binary;
use crate::databases::Database;
use crate::server::Server;

/// Clients that append meanwhile.
const CLIENTS: usize = 8;
/// Backups made one after the other.
const BACKUPS: usize = 3;
/// How long clients write before each.
const BEFORE: Duration = Duration::from_millis(300);

fn baycast(arguments: &[&str]) -> Output {
    let output = Command::new(binary::path()).args(arguments).output().expect("the binary runs");
    assert!(output.status.success(), "{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
    output
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn all_that_was_acknowledged_before_a_backup_began_is_in_it() {
    let database = Database::sqlite();
    let mut random = Rng::with_seed(seed("backing up"));
    let server = Server::on(&database);
    plant(&server).await;
    let over = Arc::new(AtomicBool::new(false));
    let acknowledged = Arc::new(Mutex::new(Kept::default()));
    let clients: Vec<_> = (0..CLIENTS)
        .map(|number| {
            let mut client = Client::new(number, random.fork());
            let (over, acknowledged, address) = (over.clone(), acknowledged.clone(), server.address.clone());
            tokio::spawn(async move {
                while !over.load(Ordering::Relaxed) {
                    client.kept = Kept::default();
                    let asked = client.next();
                    client.send(&address, &asked).await.expect("the server stays");
                    acknowledged.lock().await.join(&client.kept);
                }
            })
        })
        .collect();

    let path = |name: &str| database.folder.path().join(name).display().to_string();
    let mut before = Vec::new();
    for number in 0..BACKUPS {
        tokio::time::sleep(BEFORE).await;
        before.push(acknowledged.lock().await.clone());
        let (copy, url) = (path(&format!("copy{number}.db")), database.url.clone());
        let made = tokio::task::spawn_blocking(move || baycast(&["backup", &copy, "--store", &url]));
        made.await.expect("a backup");
    }
    over.store(true, Ordering::Relaxed);
    for client in clients {
        client.await.expect("no client fails");
    }
    let all = acknowledged.lock().await.clone();
    drop(server);

    for (number, before) in before.iter().enumerate() {
        let place = path(&format!("restored{number}.db"));
        baycast(&["restore", &path(&format!("copy{number}.db")), &place]);
        let server = Server::with(&["--store", &format!("sqlite:{place}")]);
        let restored = recorded(&server).await;
        before.assert_within(&restored);
        restored.assert_within(&all);
        assert!(before.0.len() > CLIENTS, "clients wrote before it");
    }
    println!(
        "backing up: {} events acknowledged in all, {} before the last",
        all.0.len(),
        before[BACKUPS - 1].0.len()
    );
}
