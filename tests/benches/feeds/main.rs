//! A cached feed against a bare handler that returns the same bytes: requests a second, the same clients, by turns.
//!
//! The feed is the real binary's, by its address. The bare handler is all there is of an axum server in another process,
//! served the same way. Clients keep their connections, send one request after the other and read nothing but the number
//! of bytes, which is the same for every answer.
//!
//! `cargo bench -p baycast-tests --bench feeds` measures with the log as an operator has it (a line for each request, here
//! into a file); `-- warn` with warnings alone.

mod bare;
#[path = "../../end_to_end/binary.rs"]
mod binary;
mod clients;
#[path = "../../../crates/records/tests/databases/mod.rs"]
#[allow(dead_code, reason = "the tests of the records use more of it")]
mod databases;
mod farm;
#[path = "../../end_to_end/http.rs"]
#[allow(dead_code, reason = "the tests use more of it")]
mod http;
#[path = "../../end_to_end/server.rs"]
#[allow(dead_code, reason = "the tests use more of it")]
mod server;

use std::fs::File;

use bare::Bare;
use clients::turn;
use databases::Database;
use server::Server;

/// Turns of each.
const TURNS: usize = 7;
/// What is aimed at: the feed's requests a second over the bare handler's.
const TARGET: f64 = 0.7;

fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted[sorted.len() / 2]
}

/// Measures one form, plain and as it comes to whoever takes gzip.
async fn compare(server: &Server, path: &str, form: &str) {
    for encoding in ["identity", "gzip"] {
        let path = format!("{path}/readiness.{form}");
        let headers = [("accept-encoding", encoding)];
        let answer = http::send(server, "GET", &path, &headers, axum::body::Body::empty()).await;
        assert_eq!(answer.status, 200);
        let bare = Bare::start(&answer.body, answer.header("content-type"));
        let (mut of_feed, mut of_bare, mut ratios) = (Vec::new(), Vec::new(), Vec::new());
        for number in 0..TURNS {
            // By turns the one and the other comes first.
            let (feed, bare) = if number % 2 == 0 {
                let feed = turn(&server.address, &path, encoding).await;
                (feed, turn(&bare.address, "/", encoding).await)
            } else {
                let bare = turn(&bare.address, "/", encoding).await;
                (turn(&server.address, &path, encoding).await, bare)
            };
            of_feed.push(feed);
            of_bare.push(bare);
            ratios.push(feed / bare);
        }
        println!(
            "{form}, {encoding}, {} bytes: {:.0} feeds/s, {:.0} bare answers/s, ratio {:.2} (target {TARGET})",
            answer.body.len(),
            median(&of_feed),
            median(&of_bare),
            median(&ratios)
        );
    }
}

#[tokio::main]
async fn main() {
    let given: Vec<String> = std::env::args().skip(1).filter(|word| !word.starts_with("--")).collect();
    if let [role, bytes, content_type] = given.as_slice()
        && role == bare::ROLE
    {
        return bare::serve(bytes, content_type).await;
    }
    let level = given.first().map_or("info", String::as_str);
    let database = Database::sqlite();
    let path = farm::plant(&database).await;
    let log = File::create(database.folder.path().join("log")).expect("a log file");
    let server = Server::logging(&["--store", &database.url], level, log);
    farm::settled(&server, &path).await;
    println!("{} clients, log level {level}", clients::CLIENTS);
    for form in ["csv", "ics"] {
        compare(&server, &path, form).await;
    }
}
