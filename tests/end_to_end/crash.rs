//! The server killed again and again while clients append: what it acknowledged is there, once, and nothing else is.
//!
//! A client that got no answer asks again, with the same own ids or the same idempotency key, until it gets one: so in the
//! end every event that was ever asked for is there exactly once. `BAYCAST_CRASHES` sets how often the server is killed,
//! 10 times where it is not set; `BAYCAST_SEED` what the clients do.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use fastrand::Rng;
use sqlx::{Connection, SqliteConnection};
use tokio::sync::watch;

use crate::appending::{Client, Kept, plant, recorded, seed};
use crate::databases::Database;
use crate::http::get;
use crate::server::Server;

/// Clients that append at the same time.
const CLIENTS: usize = 12;
/// Most appends that are answered before a kill, which then comes within so many ms.
const MOST_ANSWERS: usize = 150;
const WITHIN_MS: u64 = 10;
/// One kill in so many is followed by one of a server that is still opening the store, within so many ms.
const OPENING: usize = 4;
const OPENING_MS: u64 = 80;
/// Longest time to wait for answers.
const PATIENCE: Duration = Duration::from_mins(1);
/// Pause of a client before it asks again, ms.
const PAUSE_MS: u64 = 3;

fn crashes() -> usize {
    std::env::var("BAYCAST_CRASHES").map_or(10, |text| text.parse().expect("BAYCAST_CRASHES is a number"))
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn sqlite_keeps_what_the_server_acknowledged() {
    let database = Database::sqlite();
    kill_again_and_again("sqlite", &database).await;
    let mut connection = SqliteConnection::connect(&database.url).await.expect("the file opens");
    let sound: String = sqlx::query_scalar("PRAGMA integrity_check")
        .fetch_one(&mut connection)
        .await
        .expect("the file can be checked");
    assert_eq!(sound, "ok");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn postgres_keeps_what_the_server_acknowledged() {
    kill_again_and_again("postgres", &Database::postgres().await).await;
}

/// What the clients share.
struct Course {
    address: watch::Receiver<String>,
    over: AtomicBool,
    answers: AtomicUsize,
    cut_off: AtomicUsize,
}

impl Course {
    /// Waits until so many more appends are answered.
    async fn answered(&self, more: usize) {
        let enough = self.answers.load(Ordering::Relaxed) + more;
        let waited = async {
            while self.answers.load(Ordering::Relaxed) < enough {
                tokio::time::sleep(Duration::from_millis(1)).await;
            }
        };
        tokio::time::timeout(PATIENCE, waited).await.expect("the server answers");
    }
}

/// Appends until the course is over; the last thing begun is asked for until it is answered.
async fn append(mut client: Client, course: Arc<Course>) -> Kept {
    while !course.over.load(Ordering::Relaxed) {
        let asked = client.next();
        loop {
            let address = course.address.borrow().clone();
            match client.send(&address, &asked).await {
                Ok(()) => {
                    course.answers.fetch_add(1, Ordering::Relaxed);
                    break;
                }
                Err(unanswered) => unanswered.is_cut_off(),
            }
            course.cut_off.fetch_add(1, Ordering::Relaxed);
            tokio::time::sleep(Duration::from_millis(PAUSE_MS)).await;
        }
    }
    client.kept
}

/// A server that takes requests again.
async fn ready(database: &Database) -> Server {
    let server = Server::on(database);
    assert_eq!(get(&server, "/readyz").await.status, 200);
    server
}

async fn kill_again_and_again(store: &str, database: &Database) {
    let (kills, started) = (crashes(), Instant::now());
    let mut random = Rng::with_seed(seed(store));
    let mut server = ready(database).await;
    plant(&server).await;
    let (moved, address) = watch::channel(server.address.clone());
    let course = Arc::new(Course {
        address,
        over: AtomicBool::new(false),
        answers: AtomicUsize::new(0),
        cut_off: AtomicUsize::new(0),
    });
    let clients: Vec<_> = (0..CLIENTS)
        .map(|number| tokio::spawn(append(Client::new(number, random.fork()), course.clone())))
        .collect();
    for kill in 0..kills {
        course.answered(random.usize(1..=MOST_ANSWERS)).await;
        tokio::time::sleep(Duration::from_millis(random.u64(..WITHIN_MS))).await;
        server.kill();
        if kill % OPENING == 0 {
            let mut opening = Server::spawn(&["--store", &database.url]);
            tokio::time::sleep(Duration::from_millis(random.u64(..OPENING_MS))).await;
            opening.kill().expect("it runs until it is killed");
            opening.wait().expect("it ends");
        }
        server = ready(database).await;
        moved.send_replace(server.address.clone());
    }
    course.over.store(true, Ordering::Relaxed);
    let mut acknowledged = Kept::default();
    for client in clients {
        let finished = tokio::time::timeout(PATIENCE, client).await;
        acknowledged.join(&finished.expect("every client is answered in the end").expect("no client fails"));
    }
    acknowledged.assert_all_of(&recorded(&server).await);
    let (events, cut_off) = (acknowledged.0.len(), course.cut_off.load(Ordering::Relaxed));
    println!(
        "{store}: killed {kills} times, {events} events acknowledged and there once, {cut_off} requests cut off, {:.1} s",
        started.elapsed().as_secs_f64()
    );
}
