//! A cached feed of the real binary, by its address, against a bare handler that returns the same bytes in another process:
//! requests a second, the same clients, by turns. The log is as an operator has it, here in a file.

use std::fs::File;
use std::time::Duration;

use bytes::Bytes;

use crate::beside::Beside;
use crate::clients::Asked;
use crate::databases::Database;
use crate::server::Server;
use crate::table::Table;
use crate::{bare, farm, http};

/// Turns of each: many short ones, since the machine is not as fast at one time as at another.
const TURNS: usize = 31;
const TURN: Duration = Duration::from_millis(500);
/// Connections at the same time.
const CLIENTS: usize = 32;

/// Measures one form, plain and as it comes to whoever takes gzip.
async fn compare(table: &mut Table, server: &Server, path: &str, form: &str) {
    for encoding in ["identity", "gzip"] {
        let path = format!("{path}/readiness.{form}");
        let headers = [("accept-encoding", encoding)];
        let answer = http::send(server, "GET", &path, &headers, Bytes::new()).await;
        assert_eq!(answer.status, 200);
        let bare = Beside::start(bare::ROLE, &[&answer.body], &[answer.header("content-type")]);
        let (feed, bytes) =
            (Asked::get(&server.address, &path, encoding), Asked::get(&bare.address, bare::PATH, encoding));
        let (mut of_feed, mut of_bare) = (Vec::new(), Vec::new());
        for number in 0..TURNS {
            // By turns the one and the other comes first.
            if number % 2 == 0 {
                of_feed.push(feed.turn(CLIENTS, TURN).await);
                of_bare.push(bytes.turn(CLIENTS, TURN).await);
            } else {
                of_bare.push(bytes.turn(CLIENTS, TURN).await);
                of_feed.push(feed.turn(CLIENTS, TURN).await);
            }
        }
        let what = format!("cached feed, {form}, {encoding}, {} bytes", answer.body.len());
        table.add(&what, &of_feed, &of_bare, "/s", "handler that returns the bytes", "0.7");
    }
}

/// Measures two forms.
pub async fn measure(table: &mut Table) {
    let database = Database::sqlite();
    let path = farm::plant(&database).await;
    let log = File::create(database.folder.path().join("log")).expect("a log file");
    let server = Server::logging(&["--store", &database.url], "info", log);
    farm::settled(&server, &path).await;
    for form in ["csv", "ics"] {
        compare(table, &server, &path, form).await;
    }
}
