//! The records, opened by URL.

use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use tokio::sync::watch;
use tokio::time::{Instant, sleep};

use crate::attended::Attended;
use crate::door::Door;
use crate::error::{Error, Result};
use crate::migrate::migrate;
use crate::postgres::PostgresStore;
use crate::sqlite::SqliteStore;
use crate::store::{Purpose, Session, Store};
use crate::writer::Writers;

/// How long opening goes on trying while other processes open the same file.
const OPEN_TIMEOUT: Duration = Duration::from_secs(20);
/// Pause between two tries.
const OPEN_PAUSE: Duration = Duration::from_millis(25);

/// All farms' records. Cheap to share behind an [`Arc`]; one for each database and process.
pub struct Records {
    pub(crate) store: Arc<dyn Store>,
    pub(crate) writers: Writers,
    pub(crate) door: Door,
    trouble: watch::Receiver<Option<Error>>,
}

impl Records {
    /// Opens `sqlite:PATH` or `postgres://…`, creating or migrating the schema where needed. Safe while others open the
    /// same database. Needs a Tokio runtime, on which the writers run.
    pub async fn open(url: &str) -> Result<Self> {
        let store: Arc<dyn Store> = if let Some(path) = url.strip_prefix("sqlite:") {
            let started = Instant::now();
            loop {
                match open_file(Path::new(path)).await {
                    Ok(store) => break Arc::new(store),
                    // Switching a new file to its write-ahead log fails at once while another process does the same.
                    Err(Error::Unavailable { detail })
                        if detail.contains("locked") && started.elapsed() < OPEN_TIMEOUT =>
                    {
                        sleep(OPEN_PAUSE).await;
                    }
                    Err(Error::Unavailable { detail }) => {
                        return Err(Error::Unavailable { detail: format!("{path}: {detail}") });
                    }
                    Err(error) => return Err(error),
                }
            }
        } else if url.starts_with("postgres://") || url.starts_with("postgresql://") {
            let store = PostgresStore::open(url).await?;
            migrate(&store).await?;
            Arc::new(store)
        } else {
            // The URL may hold a password: only its scheme is shown.
            let scheme = url.split(':').next().unwrap_or_default();
            return Err(Error::invalid("url", scheme, "sqlite:PATH or postgres://…"));
        };
        let attended = Attended::new(store);
        let trouble = attended.trouble();
        let store: Arc<dyn Store> = Arc::new(attended);
        Ok(Self { writers: Writers::start(&store), door: Door::open(&store), store, trouble })
    }

    /// Keeps the appends that were handed over, then ends all connections.
    pub async fn close(self) -> Result<()> {
        self.writers.finish().await;
        self.store.close().await
    }

    /// What is the matter with the database, and word of every change: [`Error::Unavailable`] where it is away,
    /// [`Error::ReadOnly`] or [`Error::Full`]; nothing where it is sound. It is looked after from opening on.
    #[must_use]
    pub fn trouble(&self) -> watch::Receiver<Option<Error>> {
        self.trouble.clone()
    }

    /// Looks, by a write that changes nothing, whether the database takes anything now.
    pub async fn try_writing(&self) -> Result<()> {
        self.store.look(Purpose::Write).await
    }

    /// Connections to the database that are open and idle, and those in use.
    #[must_use]
    pub fn connections(&self) -> (usize, usize) {
        self.store.connections()
    }

    pub(crate) async fn read(&self) -> Result<Box<dyn Session>> {
        self.store.begin(Purpose::Read).await
    }

    pub(crate) async fn snapshot(&self) -> Result<Box<dyn Session>> {
        self.store.begin(Purpose::Snapshot).await
    }

    pub(crate) async fn write(&self) -> Result<Box<dyn Session>> {
        self.store.begin(Purpose::Write).await
    }
}

async fn open_file(path: &Path) -> Result<SqliteStore> {
    let store = SqliteStore::open(path).await?;
    migrate(&store).await?;
    Ok(store)
}
