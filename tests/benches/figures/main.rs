//! The figures of the service, each beside a baseline that runs by turns with it, as one table.
//!
//! `cargo bench -p baycast-tests --bench figures` measures all; `-- estimates feeds` the parts that are named: `course`,
//! `estimates`, `feeds`, `appends`, `latencies`, `history`, `batches`, `portfolio`. What takes its size from the environment:
//! `BAYCAST_PORTFOLIO` (batches of the portfolio, 100,000 where not given), `BAYCAST_BATCHES` (of the largest store, 1,000,000).

mod appends;
mod bare;
#[path = "../../../crates/records/benches/bare/mod.rs"]
mod bare_inserts;
mod batches;
mod beside;
#[path = "../../end_to_end/binary.rs"]
mod binary;
mod clients;
mod course;
#[path = "../../../crates/records/tests/databases/mod.rs"]
#[allow(dead_code, reason = "the tests of the records use more of it")]
mod databases;
mod echo;
mod estimates;
mod farm;
mod feeds;
mod history;
#[path = "../../end_to_end/http.rs"]
#[allow(dead_code, reason = "the tests use more of it")]
mod http;
mod latencies;
mod load;
#[path = "../../end_to_end/messages.rs"]
mod messages;
#[path = "../../../crates/records/tests/one_bay/mod.rs"]
mod one_bay;
mod portfolio;
#[path = "../../end_to_end/python.rs"]
mod python;
#[path = "../../end_to_end/scenarios.rs"]
#[allow(dead_code, reason = "the tests use more of it")]
mod scenarios;
#[path = "../../end_to_end/server.rs"]
#[allow(dead_code, reason = "the tests use more of it")]
mod server;
mod table;
mod typical;

use table::Table;

/// What the service allocates with: the model in process is measured with the same.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

/// The parts, in the order in which they are measured.
const PARTS: [&str; 8] =
    ["course", "estimates", "feeds", "appends", "latencies", "history", "batches", "portfolio"];

#[tokio::main]
async fn main() {
    let given: Vec<String> = std::env::args().skip(1).filter(|word| !word.starts_with("--")).collect();
    match given.as_slice() {
        [role, bytes, content_type] if role == bare::ROLE => return bare::serve(bytes, content_type).await,
        [role, json, frame] if role == echo::ROLE => return echo::serve(json, frame).await,
        _ => {}
    }
    if let Some(unknown) = given.iter().find(|part| !PARTS.contains(&part.as_str())) {
        panic!("`{unknown}` given, taken are: {}", PARTS.join(", "));
    }
    let mut table = Table::default();
    for part in PARTS.iter().filter(|part| given.is_empty() || given.iter().any(|own| own == **part)) {
        match *part {
            "course" => course::measure(&mut table),
            "estimates" => estimates::measure(&mut table).await,
            "feeds" => feeds::measure(&mut table).await,
            "appends" => appends::measure(&mut table).await,
            "latencies" => latencies::measure(&mut table).await,
            "history" => history::measure(&mut table),
            "batches" => batches::measure(&mut table).await,
            _ => portfolio::measure(&mut table).await,
        }
    }
    println!("\n{table}");
}
