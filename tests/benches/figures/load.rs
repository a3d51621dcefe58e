//! Fills a store with batches and readings, by appends of as many entries as one may have.

use std::time::Instant;

use baycast_model::history::{Addition, Event, Reading};
use baycast_model::moment::Moment;
use baycast_records::{Append, BatchDraft, Entry, Mode, Placed, Stamp};
use futures::stream::{self, StreamExt};

use crate::databases::Database;
use crate::one_bay::plant;

/// The farm.
pub const FARM: &str = "farm";
/// Entries of an append.
const AT_ONCE: usize = 10_000;
/// Batches created at the same time.
const TOGETHER: usize = 32;
/// Day on which every batch is filled.
const FIRST: jiff::civil::Date = jiff::civil::date(2026, 4, 1);

/// Id of a batch.
pub fn batch(number: usize) -> String {
    format!("b{number}")
}

/// A reading of a number: every 12 hours from the day after the filling, over and over within 60 days.
pub fn reading(number: usize) -> Event {
    let after = jiff::SignedDuration::from_hours(12 * i64::try_from(number % 120).expect("small"));
    let at = "2026-04-02T00:00:00Z".parse::<jiff::Timestamp>().expect("an instant") + after;
    let temperature_c = Some(25.0 + (number % 400) as f64 / 10.0);
    let reading = Reading { temperature_c, depth_m: Some(0.5), ..Reading::default() };
    Event { reading: Some(reading), ..Event::at(Moment::Instant(at)) }
}

fn filling() -> Event {
    let addition =
        Addition { feedstock: "grass_mowings".into(), mass_kg: Some(300.0), ..Addition::default() };
    Event { addition: Some(addition), ..Event::at(Moment::Date(FIRST)) }
}

/// Fills a store: `batches`, each filled once and with `readings`; prints how long it took.
pub async fn load(database: &Database, batches: usize, readings: usize) {
    let records = database.open().await;
    let stamp = Stamp::new(jiff::Timestamp::now(), "load");
    plant(&records, FARM).await;
    let started = Instant::now();
    let created = stream::iter(0..batches).for_each_concurrent(TOGETHER, |number| {
        let records = &records;
        async move {
            let draft = BatchDraft { start_bay: "bay".into(), ..BatchDraft::default() };
            records.create_batch(FARM, &batch(number), &draft).await.expect("a batch");
        }
    });
    created.await;
    let creating = started.elapsed().as_secs_f64();

    let started = Instant::now();
    let mut entries = Vec::with_capacity(AT_ONCE);
    for number in 0..batches {
        let events = std::iter::once(filling()).chain((0..readings).map(reading));
        let own = events.map(|event| Placed { batch: batch(number), entry: Entry::Add { event } });
        entries.extend(own);
        if entries.len() + readings >= AT_ONCE || number + 1 == batches {
            let entries = std::mem::take(&mut entries);
            let append =
                Append { farm: FARM.into(), entries, mode: Mode::AllOrNothing, idempotency_key: None };
            records.append(append, &stamp).await.expect("the events");
        }
    }
    records.close().await.expect("the records close");
    let (events, taken) = (batches * (readings + 1), started.elapsed().as_secs_f64());
    println!(
        "loaded {batches} batches in {creating:.1} s and {events} events in {taken:.1} s, {:.0} events/s",
        events as f64 / taken
    );
}
