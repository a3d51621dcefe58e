//! Single acknowledged events from 32 clients against bare inserts into the same database, by turns in one run.

mod bare;
#[path = "../tests/databases/mod.rs"]
#[allow(dead_code, reason = "the tests use more of it")]
mod databases;
#[path = "../tests/one_bay/mod.rs"]
mod one_bay;

use std::sync::Arc;

use baycast_model::history::{Event, Reading};
use baycast_records::{BatchDraft, Entry, Records, Stamp};

use bare::{BATCHES, Bare};
use databases::Database;

const FARM: &str = "farm";

fn event(number: u64) -> Event {
    let temperature_c = Some(20.0 + (number % 500) as f64 / 10.0);
    Event {
        reading: Some(Reading { temperature_c, depth_m: Some(0.5), ..Reading::default() }),
        ..Event::at("2026-04-07".parse().expect("a date"))
    }
}

async fn set_up(records: &Records) {
    one_bay::plant(records, FARM).await;
    for number in 0..BATCHES {
        let draft = BatchDraft { start_bay: "bay".into(), ..BatchDraft::default() };
        records.create_batch(FARM, &format!("b{number}"), &draft).await.expect("a batch");
    }
}

async fn append(records: Arc<Records>, number: u64) {
    let stamp = Stamp::new(jiff::Timestamp::now(), "key_0123456789abcdef");
    let batch = format!("b{}", number % BATCHES);
    let entry = Entry::Add { event: event(number) };
    records.record(FARM, &batch, entry, None, &stamp).await.expect("an event");
}

async fn insert(table: Bare, number: u64) {
    let body = serde_json::to_string(&event(number)).expect("JSON");
    table.insert(FARM, number, &body).await;
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

#[tokio::main]
async fn main() {
    for (name, database) in [("SQLite", Database::sqlite()), ("PostgreSQL", Database::postgres().await)] {
        let records = Arc::new(database.open().await);
        set_up(&records).await;
        let table = Bare::open(&database.url).await;
        let [inserts, appends] = bare::by_turns(
            move |number| insert(table.clone(), number),
            move |number| append(records.clone(), number),
        )
        .await
        .map(median);
        println!(
            "{name}: {appends:.0} acknowledged events/s, {inserts:.0} bare inserts/s, {} clients: {:.2}",
            bare::CLIENTS,
            appends / inserts
        );
    }
}
