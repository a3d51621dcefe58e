//! Someone who reads a farm over and over, whatever becomes of the database.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use axum::body::Body;
use hyper_util::client::legacy::Client;
use hyper_util::rt::TokioExecutor;
use tokio::task::JoinHandle;
use tokio::time::{sleep, timeout};

use crate::appending::FARM;

/// What they read.
const PATHS: [&str; 4] = ["batches/heap0/events", "batches/heap1", "readiness", "readiness/changes?after=0"];
/// Longest time for any answer.
const PROMPT: Duration = Duration::from_secs(4);
/// Pause between two.
const PAUSE: Duration = Duration::from_millis(100);

/// A reader.
pub struct Reading {
    over: Arc<AtomicBool>,
    reader: JoinHandle<(usize, usize)>,
}

impl Reading {
    /// Begins to read at an address.
    pub fn begin(address: &str) -> Self {
        let over = Arc::<AtomicBool>::default();
        Self { reader: tokio::spawn(read(address.to_owned(), over.clone())), over }
    }

    /// Ends it: how many answers were good, and how many said to come back.
    pub async fn end(self) -> (usize, usize) {
        self.over.store(true, Ordering::Relaxed);
        self.reader.await.expect("no reader fails")
    }
}

async fn read(address: String, over: Arc<AtomicBool>) -> (usize, usize) {
    let client: Client<_, Body> = Client::builder(TokioExecutor::new()).build_http();
    let (mut good, mut put_off) = (0, 0);
    for path in PATHS.iter().cycle() {
        if over.load(Ordering::Relaxed) {
            break;
        }
        let uri = format!("http://{address}/v1/farms/{FARM}/{path}").parse().expect("an address");
        let answer = timeout(PROMPT, client.get(uri)).await;
        let answer = answer.unwrap_or_else(|_| panic!("{path} is not answered within {PROMPT:?}"));
        let answer = answer.expect("the server is there all the time");
        match answer.status().as_u16() {
            200 => good += 1,
            503 => {
                assert!(answer.headers().contains_key("retry-after"), "{path}: {:?}", answer.headers());
                put_off += 1;
            }
            other => panic!("{path}: {other}"),
        }
        sleep(PAUSE).await;
    }
    (good, put_off)
}
