//! How long an append takes and the estimate after it, on a server with 10 000 readings in 100 batches and on one with 1 000 000
//! in 10 000: the same clients ask both by turns, for the estimate of a batch drawn at random to which they have just appended a
//! reading; then they append without asking for estimates.

use std::time::Instant;

use axum::body::Body;
use axum::http::Request;
use fastrand::Rng;
use futures::future::join_all;
use http_body_util::BodyExt;
use hyper_util::client::legacy::Client;
use hyper_util::client::legacy::connect::HttpConnector;
use hyper_util::rt::TokioExecutor;
use serde_json::json;

use crate::databases::Database;
use crate::load::{self, FARM, batch, reading};
use crate::server::Server;
use crate::table::Table;

/// Readings of each batch.
const READINGS: usize = 100;
/// Batches of the smaller and the larger store.
const BATCHES: [usize; 2] = [100, 10_000];

/// Clients at the same time.
const CLIENTS: usize = 2;
/// Estimates that each client measures on each store, each after an append.
const ESTIMATES: usize = 600;
/// Appends that each client measures on each store, with no estimate between them.
const APPENDS: usize = 3000;
/// One in so many before them does not count.
const WARM_UP: usize = 10;

/// Connections to a server that are kept alive.
pub struct Connection {
    address: String,
    client: Client<HttpConnector, Body>,
}

impl Connection {
    /// To a server.
    pub fn to(server: &Server) -> Self {
        let client = Client::builder(TokioExecutor::new()).build_http();
        Self { address: server.address.clone(), client }
    }

    async fn send(&self, method: &str, path: &str, body: Body) {
        let request = Request::builder()
            .method(method)
            .uri(format!("http://{}/v1/farms/{FARM}/batches/{path}", self.address))
            .header("content-type", "application/json")
            .body(body)
            .expect("a request can be built");
        let (head, body) = self.client.request(request).await.expect("an answer").into_parts();
        let body = body.collect().await.expect("a whole answer").to_bytes();
        assert_eq!(head.status, 200, "{path}: {}", String::from_utf8_lossy(&body));
    }

    /// Appends the reading of a number.
    pub async fn append(&self, batch: &str, number: usize) {
        let entries = json!({ "entries": [{ "event": reading(number) }] });
        self.send("POST", &format!("{batch}/events"), Body::from(entries.to_string())).await;
    }

    async fn estimate(&self, batch: &str) {
        self.send("GET", &format!("{batch}/estimate?as_of=2026-08-01"), Body::empty()).await;
    }
}

/// What is measured.
#[derive(Clone, Copy)]
enum Measure {
    /// An append.
    Append,
    /// The estimate after one.
    Estimate,
}

/// Times on the smaller and the larger store, ms.
type Times = [Vec<f64>; 2];

fn percentile(times: &[f64], share: f64) -> f64 {
    let mut sorted = times.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted[((sorted.len() - 1) as f64 * share).round() as usize]
}

/// One client's times.
async fn client(servers: &[Server; 2], mut random: Rng, measure: Measure, count: usize) -> Times {
    let connections = servers.each_ref().map(Connection::to);
    let mut times = Times::default();
    let warm_up = count / WARM_UP;
    for turn in 0..warm_up + count {
        let mut order = [0, 1];
        random.shuffle(&mut order);
        for place in order {
            let connection = &connections[place];
            let (batch, number) = (batch(random.usize(..BATCHES[place])), random.usize(..1000));
            let mut started = Instant::now();
            connection.append(&batch, number).await;
            if let Measure::Estimate = measure {
                started = Instant::now();
                connection.estimate(&batch).await;
            }
            if turn >= warm_up {
                times[place].push(started.elapsed().as_secs_f64() * 1000.0);
            }
        }
    }
    times
}

/// Measures both servers.
pub async fn measure(table: &mut Table) {
    let databases = BATCHES.map(|_| Database::sqlite());
    for (database, batches) in databases.iter().zip(BATCHES) {
        load::load(database, batches, READINGS).await;
    }
    let servers = databases.each_ref().map(Server::on);
    let mut random = Rng::new();
    // Estimates first: appends make the smaller store's few histories longer.
    for (name, measure, count) in
        [("estimate after an append", Measure::Estimate, ESTIMATES), ("append", Measure::Append, APPENDS)]
    {
        let clients: Vec<_> = (0..CLIENTS).map(|_| client(&servers, random.fork(), measure, count)).collect();
        let mut all = Times::default();
        for own in join_all(clients).await {
            for (all, own) in all.iter_mut().zip(own) {
                all.extend(own);
            }
        }
        for (share, named) in [(0.5, "p50"), (0.99, "p99")] {
            let [small, large] = all.each_ref().map(|times| percentile(times, share));
            let what = format!("{name} over HTTP, {} batches of {READINGS} readings, {named}", BATCHES[1]);
            table.add(&what, &[large], &[small], "ms", &format!("{} batches", BATCHES[0]), "1.5");
        }
    }
}
