//! A thousand watchers on two replicas, of which one is killed: each is told each change once and in order.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use serde_json::Value;
use tokio::time::sleep;
use tonic::transport::Channel;

use super::events::{Stream, Told};
use super::{FARM, PATIENCE, plant, read, told};
use crate::databases::Database;
use crate::http::get;
use crate::server::Server;

/// Watchers: half of them on each replica, and of those half over gRPC.
const WATCHERS: usize = 1000;
/// Streams of one connection of gRPC; a server takes 200.
const STREAMS: usize = 125;
const BATCHES: usize = 4;
/// Readings, and how many of them before the kill.
const READINGS: usize = 16;
const BEFORE: usize = 8;
/// Pause between two readings, so short that some changes come while others are passed on.
const PAUSE: Duration = Duration::from_millis(150);

/// What one watcher was told.
#[derive(Default)]
struct Heard {
    /// Where it began: by what it asked for, or by the whole that it was told first.
    from: Option<u64>,
    changes: Vec<(u64, String, String)>,
    /// Wholes told after it had begun.
    again: usize,
}

impl Heard {
    /// The last sequence.
    fn last(&self) -> Option<u64> {
        self.changes.last().map(|(sequence, ..)| *sequence).or(self.from)
    }

    fn note(&mut self, told: Told) {
        match told {
            Told::Whole(sequence) if self.from.is_none() => self.from = Some(sequence),
            Told::Whole(_) => self.again += 1,
            Told::Change(sequence, batch, at) => self.changes.push((sequence, batch, at)),
        }
    }
}

/// What the watchers share.
struct Course {
    addresses: [String; 2],
    /// Connections to each replica.
    channels: [Vec<Channel>; 2],
    heard: Vec<Mutex<Heard>>,
    reconnected: AtomicUsize,
}

impl Course {
    async fn connect(&self, number: usize, replica: usize, seen: Option<u64>) -> Option<Stream> {
        if (number / 2).is_multiple_of(2) {
            Stream::events(&self.addresses[replica], None, seen).await
        } else {
            Stream::messages(self.channels[replica][number / 4 % (WATCHERS / 2 / STREAMS)].clone(), seen)
                .await
        }
    }

    fn heard(&self, number: usize) -> std::sync::MutexGuard<'_, Heard> {
        self.heard[number].lock().expect("no watcher fails")
    }

    /// Waits until every watcher was told up to a sequence; how long that took.
    async fn all_told(&self, sequence: u64) -> Duration {
        let started = Instant::now();
        let behind = || {
            (0..WATCHERS)
                .filter(|number| self.heard(*number).last().is_none_or(|last| last < sequence))
                .count()
        };
        while behind() > 0 {
            assert!(started.elapsed() < PATIENCE, "{} watchers are not told {sequence}", behind());
            sleep(Duration::from_millis(5)).await;
        }
        started.elapsed()
    }
}

/// Watches one replica and, where that is cut off, the other one from the last sequence on.
async fn watch(number: usize, course: Arc<Course>) {
    let mut replica = number % 2;
    loop {
        let seen = course.heard(number).last();
        if let Some(mut stream) = course.connect(number, replica, seen).await {
            while let Some(told) = stream.next().await {
                course.heard(number).note(told);
            }
        }
        course.reconnected.fetch_add(1, Ordering::Relaxed);
        replica = 1 - replica;
        sleep(Duration::from_millis(20)).await;
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_thousand_watchers_are_told_each_change_once_though_a_replica_is_killed() {
    let database = Database::postgres().await;
    let mut servers = [Server::on(&database), Server::on(&database)];
    let started = Instant::now();
    let begun = plant(&servers[0], BATCHES).await;
    let addresses = servers.each_ref().map(|server| server.address.clone());
    let channels = addresses.each_ref().map(|address| {
        let endpoint = Channel::from_shared(format!("http://{address}")).expect("an address");
        (0..WATCHERS / 2 / STREAMS).map(|_| endpoint.connect_lazy()).collect()
    });
    // One in four asks for all that ever was, the others begin with the whole as it is.
    let from = |number: usize| (number % 8 > 5).then_some(0);
    let heard = (0..WATCHERS).map(|number| Mutex::new(Heard { from: from(number), ..Heard::default() }));
    let course =
        Arc::new(Course { addresses, channels, heard: heard.collect(), reconnected: AtomicUsize::new(0) });
    let watchers: Vec<_> = (0..WATCHERS).map(|number| tokio::spawn(watch(number, course.clone()))).collect();
    let connected = course.all_told(begun).await;

    read(&servers[0], 0, 44.0).await;
    let recorded = Instant::now();
    let first = course.all_told(begun + 1).await;
    println!(
        "watching: {WATCHERS} let in within {connected:?}; a change told to all {first:?} after it was recorded"
    );
    assert!(recorded.elapsed() < PATIENCE);
    for number in 0..READINGS {
        if number == BEFORE {
            servers[0].kill();
        }
        let through = if number < BEFORE { number % 2 } else { 1 };
        read(&servers[through], number % BATCHES, 45.0 + number as f64).await;
        sleep(PAUSE).await;
    }
    let last = told(&servers[1]).await;
    let caught_up = course.all_told(last).await;
    watchers.iter().for_each(tokio::task::JoinHandle::abort);

    let path = format!("/v1/farms/{FARM}/readiness/changes?after=0&page_size=1000");
    let log = get(&servers[1], &path).await.json();
    let text = |change: &Value, name: &str| change[name].as_str().expect("text").to_owned();
    let log: Vec<_> = log["changes"].as_array().expect("changes").iter().collect();
    let log: Vec<(u64, String, String)> = log
        .into_iter()
        .map(|own| {
            (own["sequence"].as_u64().expect("a sequence"), text(own, "batch"), text(own, "changed_at"))
        })
        .collect();
    assert_eq!(log.last().map(|(sequence, ..)| *sequence), Some(last));
    for number in 0..WATCHERS {
        let heard = course.heard(number);
        let from = heard.from.expect("it began");
        assert_eq!(heard.changes, log[from as usize..], "watcher {number} from {from}");
        assert_eq!(heard.again, 0, "watcher {number} went on where it was");
    }
    let again = course.reconnected.load(Ordering::Relaxed);
    assert!(again >= WATCHERS / 2, "{again}");
    println!(
        "watching: {WATCHERS} watchers told {} changes each, {again} times cut off, the last {caught_up:?} after it was \
         told to a reader, {:.1} s in all",
        last - begun,
        started.elapsed().as_secs_f64()
    );
}
