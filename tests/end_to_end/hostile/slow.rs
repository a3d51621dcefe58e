//! Requests that come in by drops.

use std::time::Duration;

use futures::future::join_all;
use tokio::io::AsyncWriteExt;
use tokio::net::TcpStream;

use super::{having_sent, last_words, others_are_served};
use crate::server::Server;

/// Sends a drop every now and then, until nobody takes it any more or it was sent often enough.
async fn drip(stream: &mut TcpStream, drop: &[u8], times: usize) {
    for _ in 0..times {
        tokio::time::sleep(Duration::from_millis(250)).await;
        if stream.write_all(drop).await.is_err() {
            return;
        }
    }
}

#[tokio::test]
async fn heads_by_drops_are_ended() {
    let server = Server::with(&["--head-s", "2"]);
    let slow = (0..200).map(|_| having_sent(&server, "GET /livez HTTP/1.1\r\nhost: a\r\n"));
    let mut slow = join_all(slow).await;
    let dripping = join_all(slow.iter_mut().map(|stream| drip(stream, b"x-more: 1\r\n", 60)));
    let others = async {
        for _ in 0..4 {
            others_are_served(&server).await;
            tokio::time::sleep(Duration::from_millis(500)).await;
        }
    };
    tokio::join!(dripping, others);
    for stream in &mut slow {
        assert_eq!(last_words(stream, 5).await, "");
    }
}

#[tokio::test]
async fn who_says_nothing_at_all_is_ended_and_who_said_something_too() {
    let server = Server::with(&["--idle-s", "1"]);
    let mut silent = having_sent(&server, "").await;
    let mut answered = having_sent(&server, "GET /livez HTTP/1.1\r\nhost: a\r\n\r\n").await;
    let mut http2 = having_sent(&server, super::frames::BEGIN).await;
    assert_eq!(last_words(&mut silent, 10).await, "");
    assert!(last_words(&mut answered, 10).await.starts_with("HTTP/1.1 200"));
    last_words(&mut http2, 10).await;
}

#[tokio::test]
async fn bodies_by_drops_are_answered_and_ended() {
    let server = Server::with(&["--timeout-s", "2"]);
    let head = "POST /v1/estimates HTTP/1.1\r\nhost: a\r\ncontent-type: application/json\r\ncontent-length: 1000\r\n\r\n";
    let form = "POST /board/sign-in HTTP/1.1\r\nhost: a\r\nsec-fetch-site: same-origin\r\n\
                content-type: application/x-www-form-urlencoded\r\ncontent-length: 1000\r\n\r\n";
    for head in [head, form] {
        let mut slow = join_all((0..50).map(|_| having_sent(&server, head))).await;
        let dripping = join_all(slow.iter_mut().map(|stream| drip(stream, b" ", 40)));
        tokio::join!(dripping, others_are_served(&server));
        for stream in &mut slow {
            let answer = last_words(stream, 10).await;
            assert!(answer.starts_with("HTTP/1.1 504"), "{answer}");
        }
    }
}

#[tokio::test]
async fn messages_of_grpc_by_drops_are_given_up() {
    let server = Server::with(&["--timeout-s", "2"]);
    let (sender, body) =
        futures::channel::mpsc::unbounded::<Result<bytes::Bytes, std::convert::Infallible>>();
    // A message of a hundred bytes is announced, of which three come.
    let sent = bytes::Bytes::from_static(&[0, 0, 0, 0, 100, 1, 2, 3]);
    sender.unbounded_send(Ok(sent)).expect("it is read");
    let headers = [("content-type", "application/grpc-web+proto")];
    let path = "/baycast.v1.MaturityService/GetFeedstock";
    let body = axum::body::Body::from_stream(body);
    let (answer, ()) =
        tokio::join!(crate::http::send(&server, "POST", path, &headers, body), others_are_served(&server));
    let told = String::from_utf8_lossy(&answer.body).into_owned();
    let status = answer.header("grpc-status");
    assert!(status == "4" || told.contains("grpc-status:4"), "{status} {told}");
}

#[tokio::test]
async fn who_reads_no_answer_holds_up_nobody() {
    let server = Server::start();
    let asked = "GET /openapi.json HTTP/1.1\r\nhost: a\r\n\r\n".repeat(50);
    let _deaf = join_all((0..5).map(|_| having_sent(&server, &asked))).await;
    others_are_served(&server).await;
}
