//! Databases for tests: an SQLite file in a folder of its own, or a database on a real PostgreSQL server.

mod folder;
mod postgres_server;

pub use folder::Folder;
pub use postgres_server::PostgresServer;

use std::sync::OnceLock;
use std::sync::atomic::{AtomicU32, Ordering};

use baycast_records::Records;
use sqlx::{AssertSqlSafe, Connection, PgConnection};

/// One server for the test binary; it stops when the binary ends, however it ends.
static SERVER: OnceLock<PostgresServer> = OnceLock::new();
static NUMBER: AtomicU32 = AtomicU32::new(0);

/// An empty database.
pub struct Database {
    /// Where it is.
    pub url: String,
    /// Kept as long as it is used.
    pub folder: Folder,
}

impl Database {
    /// An SQLite file that is yet to be created.
    pub fn sqlite() -> Self {
        let folder = Folder::new("baycast-sqlite");
        let url = format!("sqlite:{}", folder.path().join("records.db").display());
        Self { url, folder }
    }

    /// A database on the server, which is started for the first one.
    pub async fn postgres() -> Self {
        Self::postgres_on(SERVER.get_or_init(PostgresServer::start)).await
    }

    /// A database on this server.
    pub async fn postgres_on(server: &PostgresServer) -> Self {
        let name = format!("records_{}", NUMBER.fetch_add(1, Ordering::Relaxed));
        let mut connection =
            PgConnection::connect(&server.url("postgres")).await.expect("the server answers");
        sqlx::query(AssertSqlSafe(format!("CREATE DATABASE {name}")))
            .execute(&mut connection)
            .await
            .expect("a database is created");
        Self { url: server.url(&name), folder: Folder::new("baycast-postgres") }
    }

    /// Opens the records.
    pub async fn open(&self) -> Records {
        Records::open(&self.url).await.expect("the records open")
    }
}
