//! Bare inserts, which appends are measured against, and turns of many clients.
//!
//! A bare insert is one row and one commit into a table with the columns and the primary key of `events`, no other index
//! and no reference: on SQLite over the one connection that may write, on PostgreSQL over a connection for each client.

use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use sqlx::postgres::PgPoolOptions;
use sqlx::sqlite::{SqliteConnectOptions, SqliteJournalMode, SqlitePoolOptions, SqliteSynchronous};
use sqlx::{PgPool, SqlitePool};

/// Clients at the same time.
pub const CLIENTS: u64 = 32;
/// Batches that they add to.
pub const BATCHES: u64 = 100;
/// Turns of each kind.
const TURNS: usize = 5;
const TURN: Duration = Duration::from_secs(3);
const TABLE: &str = "CREATE TABLE bare (farm_id TEXT NOT NULL, batch_id TEXT NOT NULL, id TEXT NOT NULL, \
    external_id TEXT, kind TEXT NOT NULL, at TEXT, event TEXT, source_batch TEXT, supersedes TEXT, \
    recorded_at TEXT NOT NULL, recorded_by TEXT NOT NULL, PRIMARY KEY (farm_id, batch_id, id))";
const INSERT: &str = "INSERT INTO bare (farm_id, batch_id, id, kind, at, event, recorded_at, recorded_by) \
    VALUES ($1, $2, $3, 'reading', '2026-04-07', $4, $5, 'key_0123456789abcdef')";

/// A table for bare inserts in a database.
#[derive(Clone)]
pub enum Bare {
    Sqlite(SqlitePool),
    Postgres(PgPool),
}

impl Bare {
    /// Makes the table in the database of a URL.
    pub async fn open(url: &str) -> Self {
        if let Some(path) = url.strip_prefix("sqlite:") {
            let options = SqliteConnectOptions::new()
                .filename(path)
                .create_if_missing(true)
                .journal_mode(SqliteJournalMode::Wal)
                .synchronous(SqliteSynchronous::Full)
                .busy_timeout(Duration::from_secs(10));
            let pool = SqlitePoolOptions::new().max_connections(1).test_before_acquire(false);
            let pool = pool.connect_with(options).await.expect("SQLite opens");
            sqlx::query(TABLE).execute(&pool).await.expect("a table");
            return Self::Sqlite(pool);
        }
        let pool = PgPoolOptions::new().max_connections(CLIENTS as u32).test_before_acquire(false);
        let pool = pool.connect(url).await.expect("PostgreSQL answers");
        sqlx::query(TABLE).execute(&pool).await.expect("a table");
        Self::Postgres(pool)
    }

    /// Inserts the event of a number.
    pub async fn insert(&self, farm: &str, number: u64, event: &str) {
        let (batch, id) =
            (format!("b{}", number % BATCHES), format!("017f22e2-79b0-7cc3-98c4-{number:012x}"));
        macro_rules! insert {
            ($pool:expr) => {
                sqlx::query(INSERT)
                    .bind(farm)
                    .bind(batch)
                    .bind(id)
                    .bind(event)
                    .bind("2026-04-07T10:00:00.000000Z")
                    .execute($pool)
                    .await
                    .map(|_| ())
            };
        }
        let inserted = match self {
            Self::Sqlite(pool) => insert!(pool),
            Self::Postgres(pool) => insert!(pool),
        };
        inserted.expect("a bare insert");
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

/// Inserts and appends by turns, of each kind so many a second.
pub async fn by_turns<I, A>(
    insert: impl Fn(u64) -> I + Send + Sync + Clone + 'static,
    append: impl Fn(u64) -> A + Send + Sync + Clone + 'static,
) -> [Vec<f64>; 2]
where
    I: Future<Output = ()> + Send + 'static,
    A: Future<Output = ()> + Send + 'static,
{
    let (mut inserts, mut appends) = (Vec::new(), Vec::new());
    for _ in 0..TURNS {
        inserts.push(turn(insert.clone()).await);
        appends.push(turn(append.clone()).await);
    }
    [inserts, appends]
}
