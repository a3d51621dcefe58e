//! Very many batches estimated anew in one stream, against the model alone in this process on as many cores.

use std::convert::Infallible;
use std::env;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Instant;

use axum::body::Body;
use baycast_model::estimate;
use bytes::Bytes;
use futures::{StreamExt, stream};
use http_body_util::BodyExt;

use crate::server::Server;
use crate::table::Table;
use crate::{http, typical};

/// One in so many is estimated in this process, before and after.
const SAMPLE: usize = 20;

/// Estimates a second of the model on all cores, of every so many-th batch.
fn in_process(batches: usize) -> f64 {
    let (started, next) = (Instant::now(), AtomicUsize::new(0));
    std::thread::scope(|scope| {
        for _ in 0..std::thread::available_parallelism().map_or(1, usize::from) {
            scope.spawn(|| {
                loop {
                    let number = next.fetch_add(SAMPLE, Ordering::Relaxed);
                    if number >= batches {
                        return;
                    }
                    let estimate = estimate(&typical::history(number), typical::TODAY);
                    std::hint::black_box(estimate.expect("an estimate"));
                }
            });
        }
    });
    batches.div_ceil(SAMPLE) as f64 / started.elapsed().as_secs_f64()
}

/// Estimates a second over the stream, and the server's memory at most, MiB.
async fn streamed(batches: usize) -> (f64, u64) {
    let server = Server::start();
    let lines =
        stream::iter(0..batches).map(|number| Ok::<_, Infallible>(Bytes::from(typical::json(number) + "\n")));
    let lines_type = [("content-type", "application/x-ndjson")];
    let started = Instant::now();
    let answer =
        http::open(&server, "POST", "/v1/estimates:stream", &lines_type, Body::from_stream(lines)).await;
    assert_eq!(answer.status(), 200);
    let (mut body, mut answers, mut estimates) = (answer.into_body(), 0, 0);
    let mut held = Vec::new();
    while let Some(frame) = body.frame().await {
        for byte in frame.expect("the answer goes on").into_data().unwrap_or_default() {
            if byte == b'\n' {
                answers += 1;
                // A problem begins with its type.
                estimates += usize::from(held.starts_with(b"{\"batch\""));
                held.clear();
            } else if held.len() < 256 {
                held.push(byte);
            }
        }
    }
    assert_eq!((answers, estimates), (batches, batches), "each is answered with an estimate");
    (batches as f64 / started.elapsed().as_secs_f64(), server.memory_bytes("VmHWM") >> 20)
}

/// Measures both.
pub async fn measure(table: &mut Table) {
    let batches = env::var("BAYCAST_PORTFOLIO").map_or(100_000, |given| given.parse().expect("a number"));
    let before = in_process(batches);
    let (streamed, mib) = streamed(batches).await;
    let beside = before.midpoint(in_process(batches));
    let what = format!(
        "portfolio of {batches} batches in one stream: {:.0} s, at most {mib} MiB of memory",
        batches as f64 / streamed
    );
    table.add(&what, &[streamed], &[beside], "/s", "model in process", "");
}
