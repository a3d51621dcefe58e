//! Copies of the embedded database, made while it serves, and putting one in its place.
//!
//! On PostgreSQL a backup is `pg_dump`, or the export of each farm.

use std::fmt::Display;
use std::path::{Path, PathBuf};

use sqlx::{AssertSqlSafe, ConnectOptions, Connection, Row};
use tokio::fs;

use crate::error::{Error, Result};
use crate::migrate::migrate;
use crate::records::Records;
use crate::sqlite::{SqliteStore, options};
use crate::store::Store;

/// What a restoring takes.
const BACKUP_EXPECTED: &str = "a file made by a backup is expected";

impl Records {
    /// Copies everything to a new file, as of one moment, while others read and write. The copy is checked and on disk
    /// under its name when this returns; a copy cut short never gets the name. SQLite only.
    pub async fn backup(&self, to: &Path) -> Result<()> {
        refuse_existing(to).await?;
        let part = beside(to, ".part")?;
        remove_if_there(&part).await?;
        self.store.copy_to(&part).await?;
        verify(&part).await?;
        publish(&part, to).await
    }
}

/// Puts a backup where a database is to be, after checking it; there must be none. It is brought to the newest schema.
pub async fn restore(backup: &Path, to: &Path) -> Result<()> {
    refuse_existing(to).await?;
    for suffix in ["-wal", "-shm"] {
        refuse_existing(&beside(to, suffix)?).await?;
    }
    let part = beside(to, ".part")?;
    remove_if_there(&part).await?;
    take(backup, &part).await?;
    verify(&part).await?;
    let store = SqliteStore::open(&part).await?;
    let migrated = migrate(&store).await;
    store.close().await?;
    migrated?;
    publish(&part, to).await
}

/// Copies the backup to where it can be checked.
async fn take(backup: &Path, part: &Path) -> Result<()> {
    let found = fs::metadata(backup).await;
    match found.map(|found| found.is_file()) {
        Ok(true) => {}
        Ok(false) => return Err(unusable(backup, "not a file", BACKUP_EXPECTED)),
        Err(error) => return Err(unusable(backup, error, BACKUP_EXPECTED)),
    }
    fs::copy(backup, part).await.map(|_| ()).map_err(|error| file(backup, &error))
}

/// Whether the file is a whole database of this schema's making: every page, index and reference.
async fn verify(path: &Path) -> Result<()> {
    let mut connection = options(path).connect().await?;
    let sound: String = sqlx::query(AssertSqlSafe("PRAGMA integrity_check".to_owned()))
        .fetch_one(&mut connection)
        .await?
        .try_get(0)?;
    if sound != "ok" {
        return Err(Error::corrupt(sound));
    }
    let dangling = sqlx::query("PRAGMA foreign_key_check").fetch_all(&mut connection).await?;
    if !dangling.is_empty() {
        return Err(Error::corrupt(format!("{} rows point to others that are gone", dangling.len())));
    }
    let steps = sqlx::query("SELECT version FROM migrations").fetch_all(&mut connection).await;
    if !steps.is_ok_and(|steps| !steps.is_empty()) {
        return Err(Error::corrupt("these are no records"));
    }
    connection.close().await?;
    Ok(())
}

/// Flushes `part` and gives it its name.
async fn publish(part: &Path, to: &Path) -> Result<()> {
    let opened =
        fs::OpenOptions::new().read(true).write(true).open(part).await.map_err(|error| file(part, &error))?;
    opened.sync_all().await.map_err(|error| file(part, &error))?;
    fs::rename(part, to).await.map_err(|error| file(to, &error))?;
    let folder = match to.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let opened = fs::File::open(folder).await.map_err(|error| file(folder, &error))?;
    opened.sync_all().await.map_err(|error| file(folder, &error))
}

fn beside(path: &Path, suffix: &str) -> Result<PathBuf> {
    let shown = path.to_string_lossy().into_owned();
    let mut name =
        path.file_name().ok_or_else(|| Error::invalid("path", &shown, "the name of a file"))?.to_owned();
    name.push(suffix);
    Ok(path.with_file_name(name))
}

async fn refuse_existing(path: &Path) -> Result<()> {
    if fs::try_exists(path).await.map_err(|error| file(path, &error))? {
        return Err(unusable(path, "there is already such a file", "a name that is not taken is expected"));
    }
    Ok(())
}

async fn remove_if_there(path: &Path) -> Result<()> {
    match fs::remove_file(path).await {
        Err(error) if error.kind() != std::io::ErrorKind::NotFound => Err(file(path, &error)),
        _ => Ok(()),
    }
}

fn file(path: &Path, error: &std::io::Error) -> Error {
    match error.kind() {
        std::io::ErrorKind::StorageFull => Error::Full { detail: path.display().to_string() },
        _ => unusable(path, error, "a file that can be read and written is expected"),
    }
}

fn unusable(path: &Path, problem: impl Display, expected: &str) -> Error {
    Error::File {
        path: path.display().to_string(),
        problem: problem.to_string(),
        expected: expected.to_owned(),
    }
}
