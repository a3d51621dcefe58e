//! `POST /v1/estimates:stream`: order, bad lines in their place, both directions at once, a reader who stops.

use std::convert::Infallible;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

use axum::body::Body;
use bytes::{Bytes, BytesMut};
use futures::{StreamExt, stream};
use http_body_util::{BodyExt, BodyStream};
use hyper::body::Incoming;
use serde_json::Value;

use crate::histories::short;
use crate::http::{open, send};
use crate::server::Server;

/// The content type of lines.
const LINES: [(&str, &str); 1] = [("content-type", "application/x-ndjson")];

/// Lines of an answer as they come.
struct Lines {
    body: BodyStream<Incoming>,
    held: BytesMut,
}

impl Lines {
    /// The next line; fails the test where it takes longer than a minute.
    async fn next(&mut self) -> Option<Value> {
        loop {
            if let Some(end) = self.held.iter().position(|byte| *byte == b'\n') {
                let line = self.held.split_to(end + 1);
                return Some(serde_json::from_slice(&line).expect("a line is JSON"));
            }
            let frame =
                tokio::time::timeout(Duration::from_mins(1), self.body.next()).await.expect("in time");
            let frame = frame?.expect("the answer goes on");
            self.held.extend_from_slice(&frame.into_data().unwrap_or_default());
        }
    }
}

#[tokio::test]
async fn bad_lines_are_answered_in_their_place_and_the_rest_is_served() {
    let server = Server::start();
    let mut wrong = short("seven");
    wrong["events"][2]["reading"]["temperature_c"] = 180.into();
    let long = format!("\"{}\"", "x".repeat(9 << 20));
    let lines = [
        short("one").to_string(),
        String::new(),
        "{\"batch\":".to_owned(),
        short("four").to_string(),
        long,
        "[]".to_owned(),
        wrong.to_string(),
        short("eight").to_string(),
    ];
    let answer = send(&server, "POST", "/v1/estimates:stream", &LINES, lines.join("\n")).await;
    assert_eq!(answer.status, 200);
    assert_eq!(answer.header("content-type"), "application/x-ndjson");
    let text = String::from_utf8(answer.body.to_vec()).expect("UTF-8");
    let told: Vec<_> = text
        .lines()
        .map(|line| serde_json::from_str(line).expect("a line is JSON"))
        .map(|line: Value| match line.get("batch") {
            Some(batch) => batch.as_str().expect("a name").to_owned(),
            None => format!("{} {} {}", line["line"], line["status"], line["errors"][0]["pointer"]),
        })
        .collect();
    assert_eq!(
        told,
        [
            "one",
            r#"3 400 "/batch""#,
            "four",
            r#"5 413 """#,
            r#"6 422 """#,
            r#"7 422 "/events/2/reading/temperature_c""#,
            "eight"
        ]
    );
}

#[tokio::test]
async fn answers_come_while_lines_are_still_being_sent() {
    let server = Server::start();
    let (send, lines) = tokio::sync::mpsc::channel::<String>(1);
    let lines = stream::unfold(lines, async |mut lines| lines.recv().await.map(|line| (line, lines)));
    let body = Body::from_stream(lines.map(Ok::<_, Infallible>));
    let answer = open(&server, "POST", "/v1/estimates:stream", &LINES, body).await;
    let mut answers = Lines { body: BodyStream::new(answer.into_body()), held: BytesMut::new() };
    for number in 1..=5 {
        // The line's end is not sent before the next line: a whole line is answered as soon as it is whole.
        let line = format!("{}\n", short(&format!("batch {number}")));
        let (first, rest) = line.split_at(100);
        send.send(first.to_owned()).await.expect("the stream is open");
        send.send(rest.to_owned()).await.expect("the stream is open");
        let answer = answers.next().await.expect("an answer");
        assert_eq!(answer["batch"], format!("batch {number}"));
    }
    drop(send);
    assert_eq!(answers.next().await, None);
}

#[tokio::test]
async fn a_reader_who_stops_reading_stops_the_sender() {
    let server = Server::start();
    let sent = Arc::new(AtomicUsize::new(0));
    let count = sent.clone();
    // Lines that cost next to nothing and are answered at length.
    let line = Bytes::from(format!("{{\"events\":[{}]}}\n", vec!["{\"at\":0}"; 200].join(",")));
    let lines = stream::iter(0..200_000).map(move |_| {
        count.fetch_add(1, Ordering::Relaxed);
        Ok::<_, Infallible>(line.clone())
    });
    let answer = open(&server, "POST", "/v1/estimates:stream", &LINES, Body::from_stream(lines)).await;
    let mut last = usize::MAX;
    for _ in 0..100 {
        tokio::time::sleep(Duration::from_millis(300)).await;
        let now = sent.load(Ordering::Relaxed);
        if now == last && now > 0 {
            break;
        }
        last = now;
    }
    assert!(last < 40_000, "{last} lines of 200 000 were taken with no answer read");
    assert_eq!(crate::http::get(&server, "/livez").await.status, 200);
    // Read on, and it goes on.
    let mut body = answer.into_body();
    for _ in 0..2000 {
        body.frame().await.expect("more").expect("the answer goes on");
    }
    tokio::time::sleep(Duration::from_millis(300)).await;
    assert!(sent.load(Ordering::Relaxed) > last);
}
