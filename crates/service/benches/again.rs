//! The estimate of a stored batch of 365 readings after an append, against one by a service that has just started: by
//! turns in one run on one SQLite file, reading the history included, both answers compared.

#[path = "../../records/tests/databases/folder.rs"]
mod folder;
#[path = "../../model/tests/larkfield/mod.rs"]
mod larkfield;

use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::{Duration, Instant};

use baycast_model::history::{Event, MoistureNote, Turn};
use baycast_model::moment::{date_to_days, days_to_date};
use baycast_records::Records;
use baycast_service::records::{AppendEvents, AppendMode, Batch, EventEntry, Farm, FarmBay};
use baycast_service::{Caller, Limits, Service};
use folder::Folder;
use jiff::Timestamp;
use larkfield::year::{LAST_DAY, READINGS, read_daily, reading};

const TURNS: u32 = 25;
const FARM: &str = "larkfield";
const BATCH: &str = "timber";

/// A farm with the batch on it.
struct Yard {
    records: Arc<Records>,
    caller: Caller,
    /// Days since [`LAST_DAY`].
    today: Arc<AtomicU32>,
}

impl Yard {
    async fn open(folder: &Folder) -> Self {
        let url = format!("sqlite:{}", folder.path().join("records.db").display());
        let records = Arc::new(Records::open(&url).await.expect("the records open"));
        let today = Arc::default();
        let service = service(&records, &today);
        let caller = service.caller(None).await.expect("a caller");
        let yard = Self { records, caller, today };
        let history = read_daily(READINGS - 1);
        let farm = Farm {
            id: FARM.into(),
            name: String::new(),
            site: history.site,
            time_zone: "Etc/UTC".into(),
            barrow_m3: None,
            etag: String::new(),
            archived: None,
        };
        service.create_farm(&yard.caller, &farm).await.expect("a farm");
        let start_bay = history.bay.id.clone();
        let bay = FarmBay { bay: history.bay, position: 0, etag: String::new(), archived: None };
        service.create_bay(&yard.caller, FARM, &bay).await.expect("a bay");
        let batch = Batch {
            id: BATCH.into(),
            name: String::new(),
            start_bay,
            horizon_days: None,
            forecast_step_days: None,
            criteria: Vec::new(),
            event_version: 0,
            last_event: None,
            etag: String::new(),
            archived: None,
        };
        service.create_batch(&yard.caller, FARM, &batch).await.expect("a batch");
        yard.append(&service, history.events).await;
        yard
    }

    async fn append(&self, service: &Service, events: Vec<Event>) {
        let entries =
            events.into_iter().map(|event| EventEntry { event: Some(event), ..EventEntry::default() });
        let append = AppendEvents { entries: entries.collect(), mode: AppendMode::AllOrNothing };
        service.append_events(&self.caller, FARM, BATCH, &append, None).await.expect("events");
    }

    /// The estimate as it is sent, and the time it took.
    async fn estimate(&self, service: &Service) -> (String, Duration) {
        let started = Instant::now();
        let answer = service.estimate_batch(&self.caller, FARM, BATCH, None, |_| false).await;
        let taken = started.elapsed();
        let estimate = answer.expect("an estimate").estimate.expect("not held");
        (serde_json::to_string(&*estimate).expect("JSON"), taken)
    }

    /// Takes turns and prints the medians and their ratio; `events` gives what is appended in each.
    async fn compare(&self, name: &str, events: impl Fn(u32) -> Vec<Event>) {
        let warm = service(&self.records, &self.today);
        self.estimate(&warm).await;
        let [mut appends, mut again, mut full, mut reads] = [const { Vec::new() }; 4];
        for turn in 1..=TURNS {
            let events = events(turn);
            let started = Instant::now();
            self.append(&warm, events).await;
            appends.push(started.elapsed());
            let (estimate, taken) = self.estimate(&warm).await;
            again.push(taken);
            let (from_the_start, taken) = self.estimate(&service(&self.records, &self.today)).await;
            full.push(taken);
            assert_eq!(estimate, from_the_start);
            let started = Instant::now();
            self.records.history(FARM, BATCH).await.expect("a history");
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
}

/// A service that has just started, with nothing kept.
fn service(records: &Arc<Records>, today: &Arc<AtomicU32>) -> Service {
    let today = today.clone();
    let clock = move || days_to_date(date_to_days(LAST_DAY) + f64::from(today.load(Ordering::Relaxed)));
    Service::new(Limits::default(), Arc::new(clock)).with_records(records.clone(), Arc::new(Timestamp::now))
}

fn median(mut times: Vec<Duration>) -> f64 {
    times.sort();
    times[times.len() / 2].as_secs_f64() * 1e3
}

#[tokio::main]
async fn main() {
    let folder = Folder::new("baycast-again");
    let yard = Yard::open(&folder).await;
    let today = LAST_DAY.to_string();
    let now = || Event::at(today.parse().expect("a date"));
    // The reading of the day and, in further turns, another a minute later each time.
    yard.compare("a reading", |turn| {
        let at = format!("{LAST_DAY}T08:{turn:02}:00Z").parse().expect("a time");
        vec![Event { at, ..reading(READINGS) }]
    })
    .await;
    yard.compare("a turn", |_| vec![Event { turn: Some(Turn::default()), ..now() }]).await;
    let note = MoistureNote { percent: Some(55.0), squeeze: None };
    yard.compare("a moisture note", |_| vec![Event { moisture: Some(note), ..now() }]).await;
    yard.compare("a reading, a day later", |turn| {
        yard.today.fetch_add(1, Ordering::Relaxed);
        vec![reading(READINGS + turn)]
    })
    .await;
}
