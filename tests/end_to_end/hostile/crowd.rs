//! Very many connections on which nothing is asked.

use futures::future::join_all;
use rustix::process::{Resource, Rlimit, getrlimit, setrlimit};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

use super::{having_sent, last_words, others_are_served};
use crate::http::get;
use crate::server::Server;

/// Connections that are held.
const IDLE: usize = 10_000;

/// As many connections as the machine lets this process hold besides what else it has open, up to [`IDLE`].
fn as_many_as_allowed() -> usize {
    let Rlimit { maximum, .. } = getrlimit(Resource::Nofile);
    let wanted = (IDLE + 500) as u64;
    let allowed = maximum.map_or(wanted, |maximum| wanted.min(maximum));
    setrlimit(Resource::Nofile, Rlimit { current: Some(allowed), maximum })
        .expect("it is within the maximum");
    allowed as usize - 500
}

/// Opens connections, a hundred at a time.
async fn open(server: &Server, count: usize) -> Vec<TcpStream> {
    let mut held = Vec::new();
    while held.len() < count {
        let more = (0..100.min(count - held.len())).map(|_| TcpStream::connect(&server.address));
        held.extend(join_all(more).await.into_iter().map(|stream| stream.expect("a connection")));
    }
    held
}

#[tokio::test(flavor = "multi_thread")]
async fn ten_thousand_that_ask_nothing_stop_nobody() {
    let count = as_many_as_allowed();
    println!("{count} idle connections");
    // More than is taken at once, and many fewer than is taken at once.
    for most in ["8192", "500", "20000"] {
        let server = Server::with(&["--max-connections", most]);
        let held = open(&server, count).await;
        // Behind all of them in the queue of those that are to be taken.
        assert_eq!(get(&server, "/livez").await.status, 200);
        for _ in 0..3 {
            others_are_served(&server).await;
        }
        println!("at most {most}: {} MiB", server.memory_bytes("VmHWM") >> 20);
        drop(held);
        others_are_served(&server).await;
    }
}

#[tokio::test]
async fn who_asks_is_not_ended_to_make_room() {
    let server = Server::with(&["--max-connections", "20"]);
    let history = crate::histories::full().to_string();
    let head = format!(
        "POST /v1/estimates HTTP/1.1\r\nhost: a\r\nconnection: close\r\nexpect: 100-continue\r\n\
         content-type: application/json\r\ncontent-length: {}\r\n\r\n",
        history.len()
    );
    let mut asking = having_sent(&server, head).await;
    let mut word = [0; 25];
    asking.read_exact(&mut word).await.expect("the body is asked for");
    assert_eq!(&word, b"HTTP/1.1 100 Continue\r\n\r\n");
    let _held = open(&server, 200).await;
    others_are_served(&server).await;
    asking.write_all(history.as_bytes()).await.expect("the body is taken");
    assert!(last_words(&mut asking, 20).await.starts_with("HTTP/1.1 200"));
}
