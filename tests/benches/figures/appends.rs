//! Single acknowledged events of 32 clients over HTTP, by turns with bare inserts into the same database, on both stores.

use std::sync::Arc;

use crate::bare_inserts::{self as bare, Bare};
use crate::databases::Database;
use crate::latencies::Connection;
use crate::load::{self, FARM, batch, reading};
use crate::server::Server;
use crate::table::Table;

/// Measures both stores.
pub async fn measure(table: &mut Table) {
    for (store, database) in [("SQLite", Database::sqlite()), ("PostgreSQL", Database::postgres().await)] {
        load::load(&database, bare::BATCHES as usize, 0).await;
        let server = Server::on(&database);
        let (own, connection) = (Bare::open(&database.url).await, Arc::new(Connection::to(&server)));
        let insert = move |number: u64| {
            let own = own.clone();
            async move {
                let body = serde_json::to_string(&reading(number as usize)).expect("JSON");
                own.insert(FARM, number, &body).await;
            }
        };
        let append = move |number: u64| {
            let connection = connection.clone();
            async move {
                connection.append(&batch((number % bare::BATCHES) as usize), number as usize).await;
            }
        };
        let [inserts, appends] = bare::by_turns(insert, append).await;
        let what = format!("appends over HTTP, {store}, {} clients", bare::CLIENTS);
        table.add(&what, &appends, &inserts, "/s", "bare inserts", "");
    }
}
