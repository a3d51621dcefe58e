//! A machine's clock that was a day ahead and is put right while the server runs: order, cursors, idempotency, messages and
//! limits go on as if nothing had happened.
//!
//! The clock is faked for the server alone, by libfaketime, which reads it from a file; what measures time is left as it is.

use std::fs;
use std::path::PathBuf;
use std::time::{Duration, Instant};

use axum::body::Body;
use jiff::{SignedDuration, Timestamp};
use serde_json::{Value, json};
use tokio::time::{sleep, timeout};

use crate::databases::{Database, Folder};
use crate::http::{Answer, get, send};
use crate::records_rest::yard::{Yard, text};
use crate::server::Server;
use crate::watching::events::{Stream, Told};
use crate::webhooks::receiver::Receiver;
use crate::webhooks::yard::{HOOKS, arguments, delivery, hook, test};

/// The batch's events.
const EVENTS: &str = "/v1/farms/home/batches/heap/events";
/// Longest time to wait for anything.
const PATIENCE: Duration = Duration::from_mins(1);

/// The clock of a server.
struct Clock(Folder);

impl Clock {
    /// One that is so far from the right one, as libfaketime writes it.
    fn ahead(by: &str) -> Self {
        let clock = Self(Folder::new("baycast-clock"));
        clock.set(by);
        clock
    }

    fn file(&self) -> PathBuf {
        self.0.path().join("clock")
    }

    /// Sets it at once, so that nobody reads half of it.
    fn set(&self, by: &str) {
        let new = self.0.path().join("new");
        fs::write(&new, by).and_then(|()| fs::rename(new, self.file())).expect("a file can be written");
    }

    /// A server that has it.
    fn server(&self, arguments: &[&str]) -> Server {
        let (library, file) = (library().display().to_string(), self.file().display().to_string());
        let environment = [
            ("LD_PRELOAD", library.as_str()),
            ("FAKETIME_TIMESTAMP_FILE", file.as_str()),
            ("FAKETIME_NO_CACHE", "1"),
            ("FAKETIME_DONT_FAKE_MONOTONIC", "1"),
        ];
        Server::with_environment(arguments, &environment)
    }
}

/// Where Debian has libfaketime.
fn library() -> PathBuf {
    let machines = fs::read_dir("/usr/lib").into_iter().flatten().flatten();
    let places = machines.map(|machine| machine.path().join("faketime/libfaketimeMT.so.1"));
    places.into_iter().find(|place| place.exists()).expect("Debian's package `faketime` is installed")
}

/// Appends a reading under an idempotency key; its id.
async fn append(server: &Server, key: &str, temperature_c: f64) -> String {
    let body = json!({ "entries": [{ "event":
        { "at": "2026-10-02T06:00:00Z", "reading": { "temperature_c": temperature_c } } }] });
    let headers = [("content-type", "application/json"), ("idempotency-key", key)];
    let answer = send(server, "POST", EVENTS, &headers, body.to_string()).await;
    assert_eq!(answer.status, 200, "{}", answer.json());
    text(&answer.json()["items"][0]["id"])
}

/// The next change that a watcher is told.
async fn change(watcher: &mut Stream) -> u64 {
    match timeout(PATIENCE, watcher.next()).await.expect("word of a change") {
        Some(Told::Change(sequence, ..)) => sequence,
        other => panic!("{other:?}"),
    }
}

/// How far a time is from now, s.
fn off_s(at: &Value) -> i64 {
    let at: Timestamp = text(at).parse().expect("a time");
    at.duration_since(Timestamp::now()).as_secs()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_clock_set_back_by_a_day_upsets_nothing() {
    const DAY_S: i64 = 86_400;
    let (clock, database, mut receiver) = (Clock::ahead("+1d"), Database::sqlite(), Receiver::start());
    let server = clock.server(&arguments(&database));
    let yard = Yard { server, database };
    yard.farm(None, "home", "").await;
    let fill = json!({ "entries": [{ "event":
        { "at": "2026-10-01", "addition": { "feedstock": "grass_mowings", "mass_kg": 300 } } }] });
    yard.good("POST", EVENTS, None, Some(&fill)).await;
    let (id, secret) = hook(&yard, &receiver.url("/in")).await;
    receiver.set("/in", &[&secret], &[500, 204], &json!({}));
    let mut watcher = Stream::events(&yard.server.address, None, None).await.expect("a watcher is let in");
    let Some(Told::Whole(mut told)) = watcher.next().await else { panic!("the whole comes first") };
    let first = append(&yard.server, "one", 51.0).await;
    let second = append(&yard.server, "two", 52.0).await;
    told = told.max(change(&mut watcher).await);
    let before = yard.good("GET", EVENTS, None, None).await;
    let recorded_at =
        &before["items"].as_array().and_then(|items| items.last()).expect("events")["recorded_at"];
    assert!((off_s(recorded_at) - DAY_S).abs() < 600, "the clock is a day ahead: {recorded_at}");
    let tried_before = test(&yard, &id).await;
    receiver.arrived("/in", 1)[0].expect_verified(&[false]);

    clock.set("+0d");
    // An idempotency key is still known, and ids go on from where they were.
    assert_eq!(append(&yard.server, "two", 52.0).await, second);
    let third = append(&yard.server, "three", 61.0).await;
    assert!(first < second && second < third, "{first} {second} {third}");
    let after = yard.good("GET", EVENTS, None, None).await;
    let items = after["items"].as_array().expect("items");
    let ids: Vec<String> = items.iter().map(|item| text(&item["id"])).collect();
    assert!(ids.is_sorted() && ids.last() == Some(&third), "in the order of recording: {ids:?}");
    assert!(off_s(&items[items.len() - 1]["recorded_at"]).abs() < 600, "by the clock as it is now");
    // Whoever watched is told what follows, once, and so is whoever comes back.
    loop {
        let next = change(&mut watcher).await;
        assert_eq!(next, told + 1);
        told = next;
        let now = yard.good("GET", "/v1/farms/home/readiness", None, None).await;
        if now["pending"] == 0 && now["sequence"] == told {
            break;
        }
    }
    let mut again =
        Stream::events(&yard.server.address, None, Some(told - 1)).await.expect("a watcher is let in");
    assert_eq!(change(&mut again).await, told);
    let estimate = yard.good("GET", "/v1/farms/home/batches/heap/estimate", None, None).await;
    // An hour more, for a time zone that is ahead.
    let today = (Timestamp::now() + SignedDuration::from_hours(1)).to_string();
    assert!(text(&estimate["as_of"])[..10] <= today[..10], "{}", estimate["as_of"]);
    // A message that waited for its second attempt a day from now goes at once; what is signed can be verified again.
    delivery(&yard, &id, &tried_before, "delivered").await;
    let new = test(&yard, &id).await;
    delivery(&yard, &id, &new, "delivered").await;
    let received = receiver.arrived("/in", 3);
    assert_eq!([received[1].id(), received[2].id()], [tried_before, new]);
    received[1..].iter().for_each(|one| one.expect_verified(&[true]));
    assert_eq!(get(&yard.server, "/readyz").await.status, 200);
    let listed = yard.good("GET", &format!("{HOOKS}/{id}/deliveries?shown=waiting"), None, None).await;
    assert_eq!(listed["items"], json!([]));
}

/// Asks until the answer has a status, as often as it takes.
async fn until(server: &Server, status: u16) -> Answer {
    let begun = Instant::now();
    loop {
        let answer = send(server, "GET", "/v1/feedstocks?page_size=1", &[], Body::empty()).await;
        if answer.status == status {
            return answer;
        }
        assert!(begun.elapsed() < Duration::from_secs(20), "{} and never {status}", answer.status);
        if status == 200 {
            sleep(Duration::from_millis(200)).await;
        }
    }
}

#[tokio::test]
async fn a_limit_on_callers_goes_by_time_that_nobody_sets() {
    let clock = Clock::ahead("+1d");
    let server = clock.server(&["--requests-per-second", "1", "--burst", "3"]);
    until(&server, 429).await;
    clock.set("+0d");
    let limited = until(&server, 429).await;
    let wait: u64 = limited.header("retry-after").parse().expect("seconds");
    assert!(wait <= 3, "no caller waits for a day: {wait} s");
    until(&server, 200).await;
    until(&server, 429).await;
}
