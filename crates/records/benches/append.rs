//! Single acknowledged events from 32 clients against bare inserts into the same database, by turns in one run.
//!
//! Bare inserts are one row and one commit each into a table with the columns and the primary key of `events`, no other
//! index and no reference: on SQLite over the one connection that may write, on PostgreSQL over 32 connections.

#[path = "../tests/databases/mod.rs"]
#[allow(dead_code, reason = "the tests use more of it")]
mod databases;

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use baycast_model::bay::{Base, Bay, Construction, Top, Wall};
use baycast_model::history::{Event, Reading};
use baycast_model::site::Site;
use baycast_records::{BatchDraft, Entry, FarmDraft, Records, Stamp};
use sqlx::postgres::PgPoolOptions;
use sqlx::sqlite::{SqliteConnectOptions, SqliteJournalMode, SqlitePoolOptions, SqliteSynchronous};
use sqlx::{PgPool, SqlitePool};

use databases::Database;

const CLIENTS: u64 = 32;
const BATCHES: u64 = 100;
const TURNS: usize = 5;
const TURN: Duration = Duration::from_secs(3);
const FARM: &str = "farm";
const TABLE: &str = "CREATE TABLE bare (farm_id TEXT NOT NULL, batch_id TEXT NOT NULL, id TEXT NOT NULL, \
    external_id TEXT, kind TEXT NOT NULL, at TEXT, event TEXT, source_batch TEXT, supersedes TEXT, \
    recorded_at TEXT NOT NULL, recorded_by TEXT NOT NULL, PRIMARY KEY (farm_id, batch_id, id))";
const INSERT: &str = "INSERT INTO bare (farm_id, batch_id, id, kind, at, event, recorded_at, recorded_by) \
    VALUES ($1, $2, $3, 'reading', '2026-04-07', $4, $5, 'key_0123456789abcdef')";

fn event(number: u64) -> Event {
    let temperature_c = Some(20.0 + (number % 500) as f64 / 10.0);
    Event {
        reading: Some(Reading { temperature_c, depth_m: Some(0.5), ..Reading::default() }),
        ..Event::at("2026-04-07".parse().expect("a date"))
    }
}

/// Runs one turn: every client does one thing after the other until time is up. Things a second.
async fn turn<F>(act: impl Fn(u64) -> F + Send + Sync + Clone + 'static) -> f64
where
    F: Future<Output = ()> + Send + 'static,
{
    static NUMBER: AtomicU64 = AtomicU64::new(0);
    let started = Instant::now();
    let clients: Vec<_> = (0..CLIENTS)
        .map(|_| {
            let act = act.clone();
            tokio::spawn(async move {
                let mut done = 0_u32;
                while started.elapsed() < TURN {
                    act(NUMBER.fetch_add(1, Ordering::Relaxed)).await;
                    done += 1;
                }
                done
            })
        })
        .collect();
    let mut done = 0;
    for client in clients {
        done += client.await.expect("a client");
    }
    f64::from(done) / started.elapsed().as_secs_f64()
}

async fn set_up(records: &Records) {
    let site = Site { latitude_deg: 50.0, normals: None, daily: vec![] };
    let draft = FarmDraft { name: String::new(), site, time_zone: "Etc/UTC".into(), barrow_m3: None };
    records.create_farm(FARM, &draft).await.expect("a farm");
    let bay = Bay {
        id: "bay".into(),
        length_m: 2.0,
        width_m: 2.0,
        height_m: 1.0,
        wall: Wall { construction: Construction::Block, layers: vec![] },
        base: Base::Slab,
        top: Top::Open,
    };
    records.create_bay(FARM, &bay, 0).await.expect("a bay");
    for number in 0..BATCHES {
        let draft = BatchDraft { start_bay: "bay".into(), ..BatchDraft::default() };
        records.create_batch(FARM, &format!("b{number}"), &draft).await.expect("a batch");
    }
}

/// One bare insert, on either database.
macro_rules! bare {
    ($pool:expr) => {{
        let pool = $pool.clone();
        move |number: u64| {
            let pool = pool.clone();
            async move {
                let body = serde_json::to_string(&event(number)).expect("JSON");
                sqlx::query(INSERT)
                    .bind(FARM)
                    .bind(format!("b{}", number % BATCHES))
                    .bind(format!("017f22e2-79b0-7cc3-98c4-{number:012x}"))
                    .bind(body)
                    .bind("2026-04-07T10:00:00.000000Z")
                    .execute(&pool)
                    .await
                    .expect("a bare insert");
            }
        }
    }};
}

async fn append(records: Arc<Records>, number: u64) {
    let stamp = Stamp::new(jiff::Timestamp::now(), "key_0123456789abcdef");
    let batch = format!("b{}", number % BATCHES);
    let entry = Entry::Add { event: event(number) };
    records.record(FARM, &batch, entry, None, &stamp).await.expect("an event");
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

/// Takes turns and prints the medians and their ratio.
async fn compare<F: Future<Output = ()> + Send + 'static>(
    name: &str,
    database: &Database,
    bare: impl Fn(u64) -> F + Send + Sync + Clone + 'static,
) {
    let records = Arc::new(database.open().await);
    set_up(&records).await;
    let (mut inserts, mut appends) = (Vec::new(), Vec::new());
    for _ in 0..TURNS {
        inserts.push(turn(bare.clone()).await);
        let records = records.clone();
        appends.push(turn(move |number| append(records.clone(), number)).await);
    }
    let (inserts, appends) = (median(inserts), median(appends));
    let ratio = appends / inserts;
    println!(
        "{name}: {appends:.0} acknowledged events/s, {inserts:.0} bare inserts/s, {CLIENTS} clients: {ratio:.2}"
    );
}

#[tokio::main]
async fn main() {
    let database = Database::sqlite();
    let path = database.url.strip_prefix("sqlite:").expect("a path");
    let options = SqliteConnectOptions::new()
        .filename(path)
        .create_if_missing(true)
        .journal_mode(SqliteJournalMode::Wal)
        .synchronous(SqliteSynchronous::Full)
        .busy_timeout(Duration::from_secs(10));
    let pool: SqlitePool = SqlitePoolOptions::new()
        .max_connections(1)
        .test_before_acquire(false)
        .connect_with(options)
        .await
        .expect("SQLite opens");
    sqlx::query(TABLE).execute(&pool).await.expect("a table");
    compare("SQLite", &database, bare!(pool)).await;

    let database = Database::postgres().await;
    let pool: PgPool = PgPoolOptions::new()
        .max_connections(CLIENTS as u32)
        .test_before_acquire(false)
        .connect(&database.url)
        .await
        .expect("PostgreSQL answers");
    sqlx::query(TABLE).execute(&pool).await.expect("a table");
    compare("PostgreSQL", &database, bare!(pool)).await;
}
