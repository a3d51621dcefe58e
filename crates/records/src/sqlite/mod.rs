//! The embedded database: one file beside its write-ahead log, one writer, any number of readers.

mod session;

use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use sqlx::sqlite::{
    Sqlite, SqliteConnectOptions, SqliteConnection, SqliteJournalMode, SqlitePool, SqlitePoolOptions,
    SqliteSynchronous,
};
use sqlx::{AssertSqlSafe, Pool};
use sqlx::{ConnectOptions, Connection};
use tokio::sync::broadcast;

use crate::changes::Change;
use crate::error::{Error, Result};
use crate::store::{Later, Purpose, Session, Store, WRITING_LOOK};
use session::SqliteSession;

/// How long a statement waits for another process that writes.
const BUSY_TIMEOUT: Duration = Duration::from_secs(10);
/// Pages of the write-ahead log, 32 MiB of them, after which a commit also copies them into the file. That commit takes
/// longer, the more so the larger the file: it is to be one in a thousand, where SQLite's own 1000 pages make it one in a
/// hundred.
const CHECKPOINT_PAGES: &str = "8192";
/// Reads the file.
const READING_LOOK: &str = "SELECT name FROM migrations WHERE version = 1";
/// Connections for reading.
const READERS: u32 = 8;
/// Bytes that must be free on the disk of the file for it to count as one with room: a group of appends, and some more.
const ROOM_BYTES: u64 = 1 << 20;
/// Changes kept for a receiver that falls behind.
const CHANGES_KEPT: usize = 1024;

/// An SQLite file.
pub(crate) struct SqliteStore {
    /// One connection: SQLite has one writer at a time, and waiting here is fair where SQLite's own is not.
    writer: SqlitePool,
    readers: SqlitePool,
    changes: broadcast::Sender<Change>,
    path: PathBuf,
    /// Whoever looks takes it, and puts it back where all was well.
    looking: Mutex<Option<SqliteConnection>>,
}

/// How every connection is opened. A commit is on disk before it returns (`synchronous=FULL`).
pub(crate) fn options(path: &Path) -> SqliteConnectOptions {
    SqliteConnectOptions::new()
        .filename(path)
        .journal_mode(SqliteJournalMode::Wal)
        .synchronous(SqliteSynchronous::Full)
        .pragma("wal_autocheckpoint", CHECKPOINT_PAGES)
        .foreign_keys(true)
        .busy_timeout(BUSY_TIMEOUT)
        .disable_statement_logging()
}

/// Whether a connection can be used again. Where the disk is full SQLite undoes a transaction by itself; the driver takes it
/// to go on and would begin no other.
async fn is_between_transactions(connection: &mut SqliteConnection) -> sqlx::Result<bool> {
    // Behind whatever the driver still had to do.
    connection.ping().await?;
    Ok(!connection.is_in_transaction())
}

impl SqliteStore {
    /// Opens or creates the file.
    pub async fn open(path: &Path) -> Result<Self> {
        // A file does not go away: connections are neither tested nor renewed.
        let pool = |most| {
            SqlitePoolOptions::new()
                .max_connections(most)
                .test_before_acquire(false)
                .max_lifetime(None)
                .idle_timeout(None)
                .after_release(|connection, _| Box::pin(is_between_transactions(connection)))
        };
        let writer = pool(1).connect_with(options(path).create_if_missing(true)).await?;
        let readers = pool(READERS).connect_lazy_with(options(path));
        let changes = broadcast::channel(CHANGES_KEPT).0;
        Ok(Self { writer, readers, changes, path: path.to_owned(), looking: Mutex::default() })
    }

    fn take_looking(&self) -> Option<SqliteConnection> {
        self.looking.lock().unwrap_or_else(PoisonError::into_inner).take()
    }

    /// Whether the disk takes a new file. One that was put to read-only for its own faults may still take what lies over what was
    /// written before, so that no small write to the records would tell.
    async fn try_disk(&self) -> Result<()> {
        let mut name = self.path.clone().into_os_string();
        name.push("-look");
        let tried = async {
            tokio::fs::write(&name, "").await?;
            tokio::fs::remove_file(&name).await
        };
        tried.await.map_err(|error: io::Error| {
            let detail = format!("{}: {error}", Path::new(&name).display());
            match error.kind() {
                io::ErrorKind::ReadOnlyFilesystem | io::ErrorKind::PermissionDenied => {
                    Error::ReadOnly { detail }
                }
                io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => Error::Full { detail },
                _ => Error::Unavailable { detail },
            }
        })
    }

    /// Whether the disk has room.
    fn check_room(&self) -> Result<()> {
        let folder = self.path.parent().filter(|folder| !folder.as_os_str().is_empty());
        let folder = folder.unwrap_or(Path::new("."));
        let disk = rustix::fs::statvfs(folder)
            .map_err(|error| Error::Unavailable { detail: format!("{}: {error}", folder.display()) })?;
        let free = disk.f_bavail.saturating_mul(disk.f_frsize);
        if free < ROOM_BYTES {
            let detail = format!("{free} bytes are free in {}, {ROOM_BYTES} must be", folder.display());
            return Err(Error::Full { detail });
        }
        Ok(())
    }

    async fn transaction(&self, pool: &Pool<Sqlite>, statement: &'static str) -> Result<Box<dyn Session>> {
        let transaction = pool.begin_with(statement).await?;
        Ok(Box::new(SqliteSession::within(transaction, self.changes.clone())))
    }
}

impl Store for SqliteStore {
    fn begin(&self, purpose: Purpose) -> Later<'_, Box<dyn Session>> {
        Box::pin(async move {
            match purpose {
                Purpose::Read => {
                    Ok(Box::new(SqliteSession::free(self.readers.acquire().await?, self.changes.clone()))
                        as Box<dyn Session>)
                }
                Purpose::Snapshot => self.transaction(&self.readers, "BEGIN DEFERRED").await,
                // A transaction that begins as a read and then writes can fail as busy whatever the timeout.
                Purpose::Write => self.transaction(&self.writer, "BEGIN IMMEDIATE").await,
                Purpose::Migrate => self.transaction(&self.writer, "BEGIN EXCLUSIVE").await,
            }
        })
    }

    fn writers(&self) -> usize {
        1
    }

    fn changes(&self) -> &broadcast::Sender<Change> {
        &self.changes
    }

    fn copy_to<'a>(&'a self, path: &'a Path) -> Later<'a, ()> {
        Box::pin(async move {
            let name = path
                .to_str()
                .ok_or_else(|| Error::invalid("path", &path.to_string_lossy(), "a path in UTF-8"))?
                .to_owned();
            sqlx::query(AssertSqlSafe("VACUUM INTO $1".to_owned())).bind(name).execute(&self.readers).await?;
            Ok(())
        })
    }

    fn look(&self, purpose: Purpose) -> Later<'_, ()> {
        Box::pin(async move {
            let mut connection = match self.take_looking() {
                Some(connection) => connection,
                None => SqliteConnection::connect_with(&options(&self.path)).await?,
            };
            sqlx::query(READING_LOOK).execute(&mut connection).await?;
            self.check_room()?;
            if purpose == Purpose::Write {
                self.try_disk().await?;
                sqlx::query(WRITING_LOOK).execute(&mut connection).await?;
            }
            *self.looking.lock().unwrap_or_else(PoisonError::into_inner) = Some(connection);
            Ok(())
        })
    }

    fn connections(&self) -> (usize, usize) {
        let idle = self.readers.num_idle() + self.writer.num_idle();
        (idle, ((self.readers.size() + self.writer.size()) as usize).saturating_sub(idle))
    }

    fn close(&self) -> Later<'_, ()> {
        Box::pin(async move {
            if let Some(connection) = self.take_looking() {
                connection.close().await?;
            }
            self.readers.close().await;
            self.writer.close().await;
            Ok(())
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn every_connection_is_durable_and_checks_references() {
        let folder = std::env::temp_dir().join(format!("baycast-pragmas-{}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        let store = SqliteStore::open(&folder.join("records.db")).await.unwrap();
        for pool in [&store.writer, &store.readers] {
            let mode: String = sqlx::query_scalar("PRAGMA journal_mode").fetch_one(pool).await.unwrap();
            assert_eq!(mode, "wal");
            // 2 is FULL.
            for (pragma, expected) in [("PRAGMA synchronous", 2_i64), ("PRAGMA foreign_keys", 1)] {
                let found: i64 = sqlx::query_scalar(pragma).fetch_one(pool).await.unwrap();
                assert_eq!(found, expected, "{pragma}");
            }
        }
        store.close().await.unwrap();
        std::fs::remove_dir_all(&folder).unwrap();
    }
}
