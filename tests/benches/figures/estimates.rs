//! Estimates over REST and gRPC: against the model alone in this process on as many cores, and against handlers that return the
//! same bytes.

use std::time::{Duration, Instant};

use axum::http::HeaderValue;
use baycast_model::estimate;
use bytes::Bytes;
use futures::future::join_all;
use http_body_util::{BodyExt, Full};
use hyper::client::conn::http2;
use hyper::{Method, Request};
use hyper_util::rt::{TokioExecutor, TokioIo};
use tokio::net::TcpStream;

use crate::beside::Beside;
use crate::clients::Asked;
use crate::server::Server;
use crate::table::Table;
use crate::{echo, typical};

/// Where estimates are asked for.
pub const REST: &str = "/v1/estimates";
/// The same over gRPC.
pub const CALL: &str = "/baycast.v1.MaturityService/EstimateMaturity";

const TURNS: usize = 7;
const TURN: Duration = Duration::from_secs(3);
/// Callers at the same time for each core: one is worked for, and one waits.
const CALLERS: usize = 2;

fn cores() -> usize {
    std::thread::available_parallelism().map_or(1, usize::from)
}

/// Estimates a second of the model on all cores.
fn in_process() -> f64 {
    let history = typical::history(0);
    let (started, history) = (Instant::now(), &history);
    let done: usize = std::thread::scope(|scope| {
        let worker = || {
            let mut done = 0;
            while started.elapsed() < TURN {
                std::hint::black_box(
                    estimate(std::hint::black_box(history), typical::TODAY).expect("an estimate"),
                );
                done += 1;
            }
            done
        };
        let workers: Vec<_> = (0..cores()).map(|_| scope.spawn(worker)).collect();
        workers.into_iter().map(|worker| worker.join().expect("an end")).sum()
    });
    done as f64 / started.elapsed().as_secs_f64()
}

/// Answers a second over REST.
async fn rest(address: &str) -> f64 {
    let asked = Asked::post(address, REST, &typical::json(0));
    asked.turn(CALLERS * cores(), TURN).await
}

/// One call over gRPC; hands the answer's bytes back.
async fn call(sender: &mut http2::SendRequest<Full<Bytes>>, address: &str, frame: &Bytes) -> Bytes {
    let request = Request::builder()
        .method(Method::POST)
        .uri(format!("http://{address}{CALL}"))
        .header("content-type", "application/grpc")
        .header("te", "trailers")
        .body(Full::new(frame.clone()))
        .expect("a request can be built");
    let (head, body) = sender.send_request(request).await.expect("an answer").into_parts();
    let body = body.collect().await.expect("a whole answer");
    let status =
        body.trailers().and_then(|trailers| trailers.get("grpc-status")).or(head.headers.get("grpc-status"));
    assert_eq!(status.map(HeaderValue::as_bytes), Some(&b"0"[..]), "{:?}", head.headers);
    body.to_bytes()
}

/// A connection of a caller of gRPC.
async fn connection(address: &str) -> http2::SendRequest<Full<Bytes>> {
    let stream = TcpStream::connect(address).await.expect("a connection");
    stream.set_nodelay(true).expect("an option");
    let (sender, connection) =
        http2::handshake(TokioExecutor::new(), TokioIo::new(stream)).await.expect("a handshake");
    tokio::spawn(connection);
    sender
}

/// Answers a second over gRPC.
async fn grpc(address: &str) -> f64 {
    let frame = Bytes::from(typical::frame(0));
    let mut senders = Vec::new();
    for _ in 0..CALLERS * cores() {
        let mut sender = connection(address).await;
        call(&mut sender, address, &frame).await;
        senders.push(sender);
    }
    let started = Instant::now();
    let callers = senders.into_iter().map(|mut sender| {
        let frame = frame.clone();
        let address = address.to_owned();
        let caller = async move {
            let mut done = 0_u32;
            while started.elapsed() < TURN {
                call(&mut sender, &address, &frame).await;
                done += 1;
            }
            done
        };
        tokio::spawn(caller)
    });
    let done: u32 = join_all(callers).await.into_iter().map(|done| done.expect("a caller")).sum();
    f64::from(done) / started.elapsed().as_secs_f64()
}

/// Measures both.
pub async fn measure(table: &mut Table) {
    let server = Server::start();
    let address = &server.address;
    let json = Asked::post(address, REST, &typical::json(0)).once().await;
    let question = Bytes::from(typical::frame(0));
    let frame = call(&mut connection(address).await, address, &question).await;
    let (mut model, mut over_rest, mut over_grpc) = (Vec::new(), Vec::new(), Vec::new());
    for _ in 0..TURNS {
        over_rest.push(rest(address).await);
        model.push(in_process());
        over_grpc.push(grpc(address).await);
    }
    let echo = Beside::start(echo::ROLE, &[&json, &frame], &[]);
    let (mut rest_echo, mut grpc_echo) = (Vec::new(), Vec::new());
    for _ in 0..TURNS {
        rest_echo.push(rest(&echo.address).await);
        grpc_echo.push(grpc(&echo.address).await);
    }
    let cores = cores();
    for (front, own, echo, bytes) in
        [("REST", &over_rest, &rest_echo, json.len()), ("gRPC", &over_grpc, &grpc_echo, frame.len())]
    {
        let what = format!("estimates over {front}, {bytes} bytes, {cores} cores");
        table.add(&what, own, &model, "/s", "model in process", "0.85");
        table.add(&what, own, echo, "/s", "handler that returns the bytes", "");
    }
}
