//! A connection to PostgreSQL. Rows go in as one array a column.

use sqlx::pool::PoolConnection;
use sqlx::postgres::{PgArguments, PgConnection, Postgres};
use sqlx::query::Query;
use sqlx::{AssertSqlSafe, Transaction};

use super::notices::CHANNEL;
use crate::changes::Change;
use crate::error::{Error, Result};
use crate::statement::{bind, read};
use crate::store::{Dialect, Later, Session, Table};
use crate::value::{Kind, Row, Value, to_json, values};

/// The lock keeps the rows from other writers; keys that point to them may still be added.
const DIALECT: Dialect = Dialect {
    lock: "FOR NO KEY UPDATE OF b",
    skip_locked: "FOR NO KEY UPDATE OF b SKIP LOCKED",
    own_ids: "",
    placing: "",
    text: "TEXT COLLATE \"C\"",
    clustered: "",
};

enum Held {
    Free(PoolConnection<Postgres>),
    Within(Transaction<'static, Postgres>),
}

/// A connection.
pub(crate) struct PostgresSession {
    held: Held,
}

impl PostgresSession {
    /// A connection outside any transaction.
    pub fn free(connection: PoolConnection<Postgres>) -> Self {
        Self { held: Held::Free(connection) }
    }

    /// A connection inside one.
    pub fn within(transaction: Transaction<'static, Postgres>) -> Self {
        Self { held: Held::Within(transaction) }
    }

    async fn fetch(&mut self, query: Query<'static, Postgres, PgArguments>) -> Result<Vec<Row>> {
        let connection: &mut PgConnection = match &mut self.held {
            Held::Free(connection) => connection,
            Held::Within(transaction) => transaction,
        };
        let rows = query.fetch_all(connection).await?;
        rows.iter().map(read::<Postgres>).collect()
    }
}

impl Session for PostgresSession {
    fn run<'a>(&'a mut self, sql: &'static str, values: Vec<Value>) -> Later<'a, Vec<Row>> {
        Box::pin(self.fetch(bind(DIALECT.speak(sql, ""), values)))
    }

    fn run_rows<'a>(&'a mut self, sql: &'static str, table: Table) -> Later<'a, Vec<Row>> {
        Box::pin(async move {
            let mut names = Vec::new();
            let mut arrays = Vec::new();
            for (index, (name, kind)) in table.columns.iter().enumerate() {
                let of = match kind {
                    Kind::Text => "text",
                    Kind::Int => "bigint",
                    Kind::Real => "double precision",
                };
                arrays.push(format!("${}::{of}[]", index + 1));
                names.push(*name);
            }
            let rows = format!("UNNEST({}) AS k({})", arrays.join(", "), names.join(", "));
            let query = columns(DIALECT.speak(sql, &rows), table)?;
            self.fetch(query).await
        })
    }

    fn announce(&mut self, changes: Vec<Change>) -> Later<'_, ()> {
        Box::pin(async move {
            let mut rows = Vec::new();
            for change in changes {
                rows.push(values![CHANNEL, to_json(&change)?]);
            }
            let table = Table::new(&[("channel", Kind::Text), ("payload", Kind::Text)], rows);
            self.run_rows("SELECT pg_notify(k.channel, k.payload) FROM {rows}", table).await?;
            Ok(())
        })
    }

    fn commit(self: Box<Self>) -> Later<'static, ()> {
        Box::pin(async move {
            if let Held::Within(transaction) = self.held {
                transaction.commit().await?;
            }
            Ok(())
        })
    }
}

/// Binds each column of `table` as an array.
fn columns(sql: String, table: Table) -> Result<Query<'static, Postgres, PgArguments>> {
    let mut query = sqlx::query(AssertSqlSafe(sql));
    let mut rows: Vec<_> = table.rows.into_iter().map(Vec::into_iter).collect();
    for (name, kind) in table.columns {
        let column = rows.iter_mut().filter_map(Iterator::next);
        let wrong = |value: Value| Error::corrupt(format!("{value:?} for {name}"));
        query = match kind {
            Kind::Text => query.bind(
                column
                    .map(|value| match value {
                        Value::Text(text) => Ok(Some(text)),
                        Value::Null(_) => Ok(None),
                        other => Err(wrong(other)),
                    })
                    .collect::<Result<Vec<Option<String>>>>()?,
            ),
            Kind::Int => query.bind(
                column
                    .map(|value| match value {
                        Value::Int(number) => Ok(Some(number)),
                        Value::Null(_) => Ok(None),
                        other => Err(wrong(other)),
                    })
                    .collect::<Result<Vec<Option<i64>>>>()?,
            ),
            Kind::Real => query.bind(
                column
                    .map(|value| match value {
                        Value::Real(number) => Ok(Some(number)),
                        Value::Null(_) => Ok(None),
                        other => Err(wrong(other)),
                    })
                    .collect::<Result<Vec<Option<f64>>>>()?,
            ),
        };
    }
    Ok(query)
}
