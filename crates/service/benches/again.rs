//! The estimate of a stored batch of 365 readings after an append, against one by a service that has just started: by
//! turns in one run on one SQLite file, reading the history included, both answers compared.

#[path = "../tests/yard/mod.rs"]
#[allow(dead_code, reason = "the tests use more of it")]
mod yard;

use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};

use baycast_model::estimate::Estimate;
use baycast_model::history::{Event, MoistureNote, Turn};
use baycast_service::Service;
use yard::larkfield::year::{LAST_DAY, READINGS, reading};
use yard::{BATCH, FARM, Yard};

const TURNS: u32 = 25;

/// The estimate, and the time it took.
async fn timed(yard: &Yard, service: &Service) -> (Arc<Estimate>, Duration) {
    let started = Instant::now();
    let estimate = yard.estimate(service).await;
    (estimate, started.elapsed())
}

/// Takes turns and prints the medians and their ratio; `events` gives what is appended in each.
async fn compare(yard: &Yard, name: &str, events: impl Fn(u32) -> Vec<Event>) {
    let warm = yard.service();
    yard.estimate(&warm).await;
    let [mut appends, mut again, mut full, mut reads] = [const { Vec::new() }; 4];
    for turn in 1..=TURNS {
        let events = events(turn);
        let started = Instant::now();
        yard.append(&warm, events).await;
        appends.push(started.elapsed());
        let (estimate, taken) = timed(yard, &warm).await;
        again.push(taken);
        let (from_the_start, taken) = timed(yard, &yard.service()).await;
        full.push(taken);
        assert_eq!(estimate, from_the_start);
        let started = Instant::now();
        yard.records.history(FARM, BATCH).await.expect("a history");
        reads.push(started.elapsed());
    }
    let [appends, again, full, reads] = [appends, again, full, reads].map(median);
    println!(
        "{name}: {again:.2} ms, from the start {full:.2} ms: {:.3}; with the append, {appends:.2} ms: {:.3}; \
         {reads:.2} ms of each read the history",
        again / full,
        (appends + again) / full
    );
}

fn median(mut times: Vec<Duration>) -> f64 {
    times.sort();
    times[times.len() / 2].as_secs_f64() * 1e3
}

#[tokio::main]
async fn main() {
    let yard = Yard::open().await;
    let today = LAST_DAY.to_string();
    let now = || Event::at(today.parse().expect("a date"));
    // The reading of the day and, in further turns, another a minute later each time.
    compare(&yard, "a reading", |turn| {
        let at = format!("{LAST_DAY}T08:{turn:02}:00Z").parse().expect("a time");
        vec![Event { at, ..reading(READINGS) }]
    })
    .await;
    compare(&yard, "a turn", |_| vec![Event { turn: Some(Turn::default()), ..now() }]).await;
    let note = MoistureNote { percent: Some(55.0), squeeze: None };
    compare(&yard, "a moisture note", |_| vec![Event { moisture: Some(note), ..now() }]).await;
    compare(&yard, "a reading, a day later", |turn| {
        yard.today.fetch_add(1, Ordering::Relaxed);
        vec![reading(READINGS + turn)]
    })
    .await;
}
