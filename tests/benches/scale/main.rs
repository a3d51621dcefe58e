//! What a hundred times as many readings cost, and what a whole server takes in, both of the real binary over HTTP.
//!
//! Two servers stand side by side, one with 10 000 readings in 100 batches, one with 1 000 000 in 10 000. The same clients
//! ask both by turns for the estimate of a batch drawn at random, to which they have just appended a reading; then they
//! append without asking for estimates. Then 32 clients append single events, by turns with bare inserts into the same
//! database.
//!
//! `cargo bench -p baycast-tests --bench scale` measures on SQLite; `-- postgres` on PostgreSQL, `-- sqlite postgres` on
//! both.

#[path = "../../../crates/records/benches/bare/mod.rs"]
mod bare;
#[path = "../../end_to_end/binary.rs"]
mod binary;
#[path = "../../../crates/records/tests/databases/mod.rs"]
#[allow(dead_code, reason = "the tests of the records use more of it")]
mod databases;
#[path = "../../end_to_end/http.rs"]
#[allow(dead_code, reason = "the tests use more of it")]
mod http;
mod latency;
mod load;
#[path = "../../../crates/records/tests/one_bay/mod.rs"]
mod one_bay;
#[path = "../../end_to_end/server.rs"]
#[allow(dead_code, reason = "the tests use more of it")]
mod server;

use std::sync::Arc;

use bare::Bare;
use databases::Database;
use latency::Connection;
use load::{FARM, batch, reading};
use server::Server;

/// Readings of each batch.
const READINGS: usize = 100;
/// Batches of the smaller and the larger store.
const BATCHES: [usize; 2] = [100, 10_000];

async fn database(store: &str) -> Database {
    match store {
        "sqlite" => Database::sqlite(),
        "postgres" => Database::postgres().await,
        other => panic!("`{other}` given, sqlite or postgres is taken"),
    }
}

/// Single acknowledged events through the server against bare inserts.
async fn throughput(store: &str) {
    let database = database(store).await;
    load::load(&database, bare::BATCHES as usize, 0).await;
    let server = Server::on(&database);
    let (table, connection) = (Bare::open(&database.url).await, Arc::new(Connection::to(&server)));
    let insert = move |number: u64| {
        let table = table.clone();
        async move {
            let body = serde_json::to_string(&reading(number as usize)).expect("JSON");
            table.insert(FARM, number, &body).await;
        }
    };
    let append = move |number: u64| {
        let connection = connection.clone();
        async move {
            connection.append(&batch((number % bare::BATCHES) as usize), number as usize).await;
        }
    };
    bare::compare(&format!("{store}, over HTTP"), insert, append).await;
}

#[tokio::main]
async fn main() {
    let given: Vec<String> = std::env::args().skip(1).filter(|word| !word.starts_with("--")).collect();
    let stores = if given.is_empty() { vec!["sqlite".to_owned()] } else { given };
    for store in &stores {
        let databases = [database(store).await, database(store).await];
        for (database, batches) in databases.iter().zip(BATCHES) {
            load::load(database, batches, READINGS).await;
        }
        latency::compare(store, &databases.each_ref().map(Server::on)).await;
        throughput(store).await;
    }
}
