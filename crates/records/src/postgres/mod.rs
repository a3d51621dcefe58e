//! The larger database: any number of replicas over one PostgreSQL.

mod notices;
mod session;

use std::path::Path;
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use sqlx::postgres::{PgConnectOptions, PgConnection, PgPool, PgPoolOptions};
use sqlx::{ConnectOptions, Connection};
use tokio::sync::broadcast;
use tokio::task::JoinHandle;

use crate::changes::Change;
use crate::error::{Error, Result};
use crate::store::{Later, Purpose, Session, Store, WRITING_LOOK};
use session::PostgresSession;

/// Connections of one replica.
const CONNECTIONS: u32 = 16;
/// Groups of appends under way at once: while one waits for the disk, another is worked on.
const WRITERS: usize = 3;
/// How long to wait for a connection.
const ACQUIRE_TIMEOUT: Duration = Duration::from_secs(10);
/// How long an idle connection is taken to be alive. One idle for longer is asked first, which costs a round trip.
const TRUSTED: Duration = Duration::from_secs(1);
/// The advisory lock that replicas queue on before they look at the schema: "baycast" in ASCII.
const MIGRATION_LOCK: i64 = 0x0062_6179_6361_7374;
/// Changes kept for a receiver that falls behind.
const CHANGES_KEPT: usize = 1024;

/// A PostgreSQL server.
pub(crate) struct PostgresStore {
    pool: PgPool,
    changes: broadcast::Sender<Change>,
    listener: JoinHandle<()>,
    options: PgConnectOptions,
    /// Whoever looks takes it, and puts it back where all was well.
    looking: Mutex<Option<PgConnection>>,
}

impl PostgresStore {
    /// Connects by URL.
    pub async fn open(url: &str) -> Result<Self> {
        let options: PgConnectOptions = url
            .parse::<PgConnectOptions>()
            .map_err(|error| Error::invalid("url", &error.to_string(), "postgres://user@host:port/database"))?
            .disable_statement_logging();
        let pool = PgPoolOptions::new()
            .max_connections(CONNECTIONS)
            .acquire_timeout(ACQUIRE_TIMEOUT)
            .test_before_acquire(false)
            .before_acquire(|connection, told| {
                Box::pin(async move {
                    if told.idle_for > TRUSTED {
                        connection.ping().await?;
                    }
                    Ok(true)
                })
            })
            .connect_with(options.clone())
            .await?;
        let changes = broadcast::channel(CHANGES_KEPT).0;
        let listener = notices::listen(&pool, changes.clone()).await?;
        Ok(Self { pool, changes, listener, options, looking: Mutex::default() })
    }
}

impl Drop for PostgresStore {
    fn drop(&mut self) {
        self.listener.abort();
    }
}

impl Store for PostgresStore {
    fn begin(&self, purpose: Purpose) -> Later<'_, Box<dyn Session>> {
        Box::pin(async move {
            let transaction = match purpose {
                Purpose::Read => {
                    let session = PostgresSession::free(self.pool.acquire().await?);
                    return Ok(Box::new(session) as Box<dyn Session>);
                }
                Purpose::Snapshot => "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY",
                Purpose::Write | Purpose::Migrate => "BEGIN ISOLATION LEVEL READ COMMITTED",
            };
            // On a task of its own: where whoever asked goes away between the two halves of a BEGIN, the driver would hand the
            // connection to the next one inside a transaction that it does not know of.
            let pool = self.pool.clone();
            let begun = tokio::spawn(async move { pool.begin_with(transaction).await });
            let mut transaction =
                begun.await.map_err(|error| Error::Unavailable { detail: error.to_string() })??;
            if purpose == Purpose::Migrate {
                sqlx::query("SELECT pg_advisory_xact_lock($1)")
                    .bind(MIGRATION_LOCK)
                    .execute(&mut *transaction)
                    .await?;
            }
            Ok(Box::new(PostgresSession::within(transaction)) as Box<dyn Session>)
        })
    }

    fn writers(&self) -> usize {
        WRITERS
    }

    fn changes(&self) -> &broadcast::Sender<Change> {
        &self.changes
    }

    fn copy_to<'a>(&'a self, path: &'a Path) -> Later<'a, ()> {
        let refused =
            Error::invalid("backup", &path.to_string_lossy(), "pg_dump or the export, on PostgreSQL");
        Box::pin(async move { Err(refused) })
    }

    fn look(&self, purpose: Purpose) -> Later<'_, ()> {
        Box::pin(async move {
            let held = self.looking.lock().unwrap_or_else(PoisonError::into_inner).take();
            let mut connection = match held {
                Some(connection) => connection,
                None => PgConnection::connect_with(&self.options).await?,
            };
            let read_only: String =
                sqlx::query_scalar("SHOW transaction_read_only").fetch_one(&mut connection).await?;
            if read_only == "on" {
                let detail = "transactions are read-only there, as on a standby".to_owned();
                return Err(Error::ReadOnly { detail });
            }
            if purpose == Purpose::Write {
                sqlx::query(WRITING_LOOK).execute(&mut connection).await?;
            }
            *self.looking.lock().unwrap_or_else(PoisonError::into_inner) = Some(connection);
            Ok(())
        })
    }

    fn connections(&self) -> (usize, usize) {
        let idle = self.pool.num_idle();
        (idle, (self.pool.size() as usize).saturating_sub(idle))
    }

    fn close(&self) -> Later<'_, ()> {
        Box::pin(async move {
            self.listener.abort();
            self.pool.close().await;
            Ok(())
        })
    }
}
