//! The schema against its description.

use std::collections::BTreeSet;

use sqlx::{AssertSqlSafe, Connection, PgConnection, Row, SqliteConnection};

use crate::databases::Database;

/// Runs a statement beside the records; the first two columns of its rows as text.
pub async fn run(database: &Database, sql: &str) -> Vec<(String, String)> {
    let sql = AssertSqlSafe(sql.to_owned());
    if database.url.starts_with("postgres") {
        let mut connection = PgConnection::connect(&database.url).await.unwrap();
        let rows = sqlx::query(sql).fetch_all(&mut connection).await.unwrap();
        rows.iter().map(|row| (row.get(0), row.get(1))).collect()
    } else {
        let mut connection = SqliteConnection::connect(&database.url).await.unwrap();
        let rows = sqlx::query(sql).fetch_all(&mut connection).await.unwrap();
        rows.iter().map(|row| (row.get(0), row.get(1))).collect()
    }
}

pub async fn every_table_and_column_is_described(database: Database) {
    database.open().await.close().await.unwrap();
    let sql = if database.url.starts_with("postgres") {
        "SELECT table_name::text, column_name::text FROM information_schema.columns WHERE table_schema = 'public'"
    } else {
        "SELECT t.name, c.name FROM sqlite_schema t, pragma_table_info(t.name) c \
         WHERE t.type = 'table' AND t.name NOT LIKE 'sqlite%'"
    };
    let live: BTreeSet<(String, String)> = run(&database, sql).await.into_iter().collect();
    assert!(live.len() > 50, "{live:?}");
    // A table is a heading `## name`, a column the first cell of a row, in back quotes.
    let mut described = BTreeSet::new();
    let mut table = String::new();
    for line in include_str!("../../SCHEMA.md").lines() {
        if let Some(name) = line.strip_prefix("## `").and_then(|rest| rest.strip_suffix('`')) {
            name.clone_into(&mut table);
        } else if let Some((column, meaning)) =
            line.strip_prefix("| `").and_then(|rest| rest.split_once("` | "))
        {
            assert!(meaning.len() > 10, "{table}.{column} is described");
            described.insert((table.clone(), column.to_owned()));
        }
    }
    assert_eq!(live, described);
}
