//! A stream of any length in bounded memory.

use std::convert::Infallible;

use axum::body::Body;
use bytes::Bytes;
use futures::stream;
use http_body_util::BodyExt;
use serde_json::json;

use crate::histories::short;
use crate::http::open;
use crate::server::Server;

/// Lines sent.
const LINES: usize = 20_000;

/// One line in so many is a history that is estimated; the others are told what is wrong with them. All are
/// parsed, held and answered alike, and the test ends within a minute.
const ESTIMATED: usize = 100;

/// Most that the server may grow by between the first thousand lines and the last.
const GROWTH_BYTES: u64 = 16 << 20;

#[tokio::test]
async fn twenty_thousand_lines_take_no_more_memory_than_one_thousand() {
    let server = Server::start();
    let good = Bytes::from(format!("{}\n", short("good")));
    let mut turns = vec![json!({ "at": "2026-05-01T00:00:00Z", "turn": {} }); 220];
    turns.push(json!({ "at": "2026-05-01", "watering": { "litres": -1 } }));
    let mut wrong = short("wrong");
    wrong["events"].as_array_mut().expect("events").extend(turns);
    let bad = Bytes::from(format!("{wrong}\n"));
    let mut sent_bytes = 0;
    let lines =
        (0..LINES).map(move |number| if number % ESTIMATED == 0 { good.clone() } else { bad.clone() });
    let lines: Vec<_> = lines.inspect(|line| sent_bytes += line.len()).map(Ok::<_, Infallible>).collect();
    let headers = [("content-type", "application/x-ndjson")];
    let body = Body::from_stream(stream::iter(lines));
    let mut answer = open(&server, "POST", "/v1/estimates:stream", &headers, body).await.into_body();
    let (mut answered, mut received_bytes, mut early) = (0, 0, None);
    while let Some(frame) = answer.frame().await {
        let chunk = frame.expect("the answer goes on").into_data().unwrap_or_default();
        answered += chunk.split(|byte| *byte == b'\n').count() - 1;
        received_bytes += chunk.len();
        if answered > 1000 && early.is_none() {
            early = Some(server.memory_bytes("VmHWM"));
        }
    }
    assert_eq!(answered, LINES);
    let early = early.expect("a thousand lines went by");
    let growth = server.memory_bytes("VmHWM") - early;
    let through = sent_bytes + received_bytes;
    println!(
        "{LINES} lines, {} MB through, peak memory grew by {growth} B from {early} B",
        through / 1_000_000
    );
    assert!(through as u64 > 10 * GROWTH_BYTES, "too little to tell: {through} B");
    assert!(growth < GROWTH_BYTES, "grew by {growth} B from {early} B");
}
