//! Two servers on one PostgreSQL: one is killed under load, and a client that asks the other one once loses nothing.

use std::sync::Arc;
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use axum::body::Body;
use fastrand::Rng;
use serde_json::json;
use tokio::sync::watch;

use crate::appending::{Client, FARM, Kept, batch, good, plant, recorded, seed};
use crate::databases::Database;
use crate::http::send;
use crate::server::Server;

/// Clients that append at the same time, half of them to each replica.
const CLIENTS: usize = 12;
/// Kills: each replica in turn, so that the one killed first comes back and takes over.
const KILLS: usize = 4;
/// How long both are alive before a kill, and one alone after it.
const WHILE_MS: std::ops::Range<u64> = 200..500;

/// What the clients share.
struct Course {
    addresses: [watch::Receiver<String>; 2],
    over: AtomicBool,
    again: AtomicUsize,
    acknowledged: Mutex<Kept>,
    /// How many appends each client has been answered.
    answered: [AtomicUsize; CLIENTS],
}

impl Course {
    /// Waits until every client is answered what it had begun to ask for, so that no append meets two kills.
    async fn all_answered(&self) {
        let counts = || self.answered.each_ref().map(|count| count.load(Ordering::Relaxed));
        let before = counts();
        let waited = async {
            while counts().iter().zip(before).any(|(now, before)| *now == before) {
                tokio::time::sleep(Duration::from_millis(1)).await;
            }
        };
        tokio::time::timeout(Duration::from_mins(1), waited).await.expect("every client is answered");
    }
}

/// Appends to one replica until the course is over, and asks the other one once where there was no answer.
async fn append(mut client: Client, number: usize, course: Arc<Course>) {
    let own = number / 2 % 2;
    while !course.over.load(Ordering::Relaxed) {
        let asked = client.next();
        client.kept = Kept::default();
        let address = course.addresses[own].borrow().clone();
        if let Err(unanswered) = client.send(&address, &asked).await {
            unanswered.is_cut_off();
            course.again.fetch_add(1, Ordering::Relaxed);
            let other = course.addresses[1 - own].borrow().clone();
            client.send(&other, &asked).await.expect("the other replica answers");
        }
        course.acknowledged.lock().expect("no client fails").join(&client.kept);
        course.answered[number].fetch_add(1, Ordering::Relaxed);
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn one_of_two_is_killed_under_load_and_a_client_who_asks_the_other_loses_nothing() {
    let database = Database::postgres().await;
    let (mut random, started) = (Rng::with_seed(seed("replicas")), Instant::now());
    let mut servers = [Server::on(&database), Server::on(&database)];
    plant(&servers[0]).await;
    let (first, second) =
        (watch::channel(servers[0].address.clone()), watch::channel(servers[1].address.clone()));
    let moved = [first.0, second.0];
    let course = Arc::new(Course {
        addresses: [first.1, second.1],
        over: AtomicBool::new(false),
        again: AtomicUsize::new(0),
        acknowledged: Mutex::default(),
        answered: Default::default(),
    });
    let clients: Vec<_> = (0..CLIENTS)
        .map(|number| tokio::spawn(append(Client::new(number, random.fork()), number, course.clone())))
        .collect();
    let mut pause = async || tokio::time::sleep(Duration::from_millis(random.u64(WHILE_MS))).await;
    for kill in 0..KILLS {
        let (killed, other) = (kill % 2, 1 - kill % 2);
        pause().await;
        servers[killed].kill();
        pause().await;
        let before = course.acknowledged.lock().expect("no client fails").clone();
        before.assert_within(&recorded(&servers[other]).await);
        servers[killed] = Server::on(&database);
        moved[killed].send_replace(servers[killed].address.clone());
        course.all_answered().await;
    }
    course.over.store(true, Ordering::Relaxed);
    for client in clients {
        client.await.expect("no client fails");
    }
    let acknowledged = course.acknowledged.lock().expect("no client fails").clone();
    for server in &servers {
        acknowledged.assert_all_of(&recorded(server).await);
    }
    let (events, again) = (acknowledged.0.len(), course.again.load(Ordering::Relaxed));
    assert!(again > 0, "a kill meets requests on their way");
    println!(
        "replicas: killed {KILLS} times, {events} events acknowledged and there once, {again} requests asked again, {:.1} s",
        started.elapsed().as_secs_f64()
    );
}

#[tokio::test]
async fn what_is_changed_through_one_is_seen_through_the_other() {
    let database = Database::postgres().await;
    let servers = [Server::on(&database), Server::on(&database)];
    plant(&servers[0]).await;
    let path = format!("/v1/farms/{FARM}/batches/{}", batch(0));
    let tag = async |server: &Server| {
        let path = format!("{path}/estimate?as_of=2026-06-01");
        let answer = send(server, "GET", &path, &[], Body::empty()).await;
        assert_eq!(answer.status, 200, "{}", answer.json());
        (answer.header("etag").to_owned(), answer.json())
    };
    let fill = json!({ "at": "2026-04-01", "addition": { "feedstock": "grass_mowings", "mass_kg": 200 } });
    good(&servers[0], &format!("{path}/events"), json!({ "entries": [{ "event": fill }] })).await;
    let mut seen = tag(&servers[1]).await;
    for (through, temperature_c) in [(0, 58.0), (1, 61.0), (0, 55.0)] {
        let reading = json!({ "at": "2026-04-08", "reading": { "temperature_c": temperature_c } });
        let entries = json!({ "entries": [{ "event": reading }] });
        good(&servers[through], &format!("{path}/events"), entries).await;
        let now = tag(&servers[1 - through]).await;
        assert_ne!(now.0, seen.0, "after a change through replica {through}");
        assert_eq!(now, tag(&servers[through]).await);
        seen = now;
    }
}
