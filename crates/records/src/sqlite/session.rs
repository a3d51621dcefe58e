//! A connection to SQLite. Rows go in as one JSON parameter, so that their number does not change the statement.

use serde_json::Value as Json;
use sqlx::Transaction;
use sqlx::pool::PoolConnection;
use sqlx::sqlite::{Sqlite, SqliteConnection};
use tokio::sync::broadcast;

use crate::changes::Change;
use crate::error::Result;
use crate::statement::{bind, read};
use crate::store::{Dialect, Later, Session, Table};
use crate::value::{Row, Value, to_json};

/// A writing transaction is alone, so there is nothing to lock.
const DIALECT: Dialect = Dialect {
    lock: "",
    skip_locked: "",
    own_ids: "INDEXED BY events_external_once",
    placing: "INDEXED BY events_placing",
    text: "TEXT",
    clustered: "WITHOUT ROWID",
};

enum Held {
    Free(PoolConnection<Sqlite>),
    Within(Transaction<'static, Sqlite>),
}

/// A connection, and what to tell once its transaction is committed.
pub(crate) struct SqliteSession {
    held: Held,
    changes: broadcast::Sender<Change>,
    pending: Vec<Change>,
}

impl SqliteSession {
    /// A connection outside any transaction.
    pub fn free(connection: PoolConnection<Sqlite>, changes: broadcast::Sender<Change>) -> Self {
        Self { held: Held::Free(connection), changes, pending: Vec::new() }
    }

    /// A connection inside one.
    pub fn within(transaction: Transaction<'static, Sqlite>, changes: broadcast::Sender<Change>) -> Self {
        Self { held: Held::Within(transaction), changes, pending: Vec::new() }
    }

    async fn fetch(&mut self, sql: String, values: Vec<Value>) -> Result<Vec<Row>> {
        let connection: &mut SqliteConnection = match &mut self.held {
            Held::Free(connection) => connection,
            Held::Within(transaction) => transaction,
        };
        let rows = bind::<Sqlite>(sql, values).fetch_all(connection).await?;
        rows.iter().map(read::<Sqlite>).collect()
    }
}

impl Session for SqliteSession {
    fn run<'a>(&'a mut self, sql: &'static str, values: Vec<Value>) -> Later<'a, Vec<Row>> {
        Box::pin(self.fetch(DIALECT.speak(sql, ""), values))
    }

    fn run_rows<'a>(&'a mut self, sql: &'static str, table: Table) -> Later<'a, Vec<Row>> {
        Box::pin(async move {
            let columns: Vec<String> = table
                .columns
                .iter()
                .enumerate()
                .map(|(index, (name, _))| format!("value ->> {index} AS {name}"))
                .collect();
            let rows = format!("(SELECT {} FROM json_each($1)) AS k", columns.join(", "));
            let json: Vec<Vec<Json>> =
                table.rows.into_iter().map(|row| row.into_iter().map(json).collect()).collect();
            self.fetch(DIALECT.speak(sql, &rows), vec![Value::Text(to_json(&json)?)]).await
        })
    }

    fn announce(&mut self, changes: Vec<Change>) -> Later<'_, ()> {
        self.pending.extend(changes);
        Box::pin(async { Ok(()) })
    }

    fn commit(self: Box<Self>) -> Later<'static, ()> {
        Box::pin(async move {
            if let Held::Within(transaction) = self.held {
                transaction.commit().await?;
            }
            for change in self.pending {
                // Nobody listening is no fault.
                let _ = self.changes.send(change);
            }
            Ok(())
        })
    }
}

fn json(value: Value) -> Json {
    match value {
        Value::Null(_) => Json::Null,
        Value::Int(number) => number.into(),
        Value::Real(number) => number.into(),
        Value::Text(text) => text.into(),
    }
}
