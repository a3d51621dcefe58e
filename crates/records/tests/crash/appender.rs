//! The process that appends with eight tasks until it is killed.

use std::io::Write;
use std::sync::Arc;

use baycast_model::history::{Event, Reading};
use baycast_records::{Entry, Records, Stamp};

/// The farm it appends to.
pub const FARM: &str = "farm";
/// Tasks that append at the same time.
pub const TASKS: usize = 8;
/// Batches they append to.
pub const BATCHES: usize = 3;
/// The variable with the database's URL.
pub const URL: &str = "BAYCAST_CRASH_URL";
/// What a line begins with that says an event was acknowledged.
pub const ACKNOWLEDGED: &str = "acknowledged ";

/// The variable with the number of the round.
pub const ROUND: &str = "BAYCAST_CRASH_ROUND";

/// The variable with the name of the process, which its own ids begin with.
pub const NAME: &str = "BAYCAST_CRASH_NAME";

/// A batch of a round.
pub fn batch_id(round: usize, number: usize) -> String {
    format!("r{round}-b{number}")
}

/// The batch of a task's event of a number.
pub fn batch_of(round: usize, task: usize, number: usize) -> String {
    batch_id(round, (task + number) % BATCHES)
}

/// A task's event of a number.
pub fn event(name: &str, task: usize, number: usize) -> Event {
    Event {
        id: Some(format!("{name}-{task}-{number}")),
        reading: Some(Reading { temperature_c: Some(55.0), ..Reading::default() }),
        ..Event::at("2026-04-07".parse().expect("a date"))
    }
}

/// Appends, and writes a line for each event after it was acknowledged.
pub async fn append_until_killed() {
    let url = std::env::var(URL).expect("the crash tests say where");
    let round: usize = std::env::var(ROUND).expect("a round").parse().expect("a number");
    let records = Arc::new(Records::open(&url).await.expect("the records open"));
    let name = std::env::var(NAME).expect("a name");
    let tasks: Vec<_> =
        (0..TASKS).map(|task| tokio::spawn(append(records.clone(), name.clone(), round, task))).collect();
    for task in tasks {
        task.await.expect("it appends until it is killed");
    }
}

async fn append(records: Arc<Records>, name: String, round: usize, task: usize) {
    for number in 0.. {
        let batch = batch_of(round, task, number);
        let entry = Entry::Add { event: event(&name, task, number) };
        let stamp = Stamp::new(jiff::Timestamp::now(), "appender");
        let made = records.record(FARM, &batch, entry, None, &stamp).await.expect("an event");
        let line = format!("{ACKNOWLEDGED}{batch} {name}-{task}-{number} {}\n", made.id);
        std::io::stdout().lock().write_all(line.as_bytes()).expect("the line is written");
    }
}
