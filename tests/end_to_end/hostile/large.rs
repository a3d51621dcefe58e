//! Requests of more than is taken.

use std::io::Write;

use axum::body::Body;
use baycast_grpc::proto::maturity_service_client::MaturityServiceClient;
use baycast_grpc::proto::{EstimateMaturityRequest, History};
use flate2::Compression;
use flate2::write::GzEncoder;
use futures::future::join_all;
use tonic::transport::Channel;

use super::{having_sent, last_words, others_are_served};
use crate::http::send;
use crate::server::Server;

/// The method that takes the most.
const ESTIMATE: &str = "/baycast.v1.MaturityService/EstimateMaturity";

/// A gigabyte of spaces, packed into a megabyte: what is packed may stand side by side (RFC 1952 section 2.2).
fn bomb() -> Vec<u8> {
    let mut packed = GzEncoder::new(Vec::new(), Compression::best());
    packed.write_all(&vec![b' '; 1 << 20]).expect("memory");
    packed.finish().expect("memory").repeat(1024)
}

#[tokio::test]
async fn nothing_is_unpacked_that_is_packed_to_burst() {
    let server = Server::start();
    let bomb = bomb();
    assert!(bomb.len() < 2 << 20, "{}", bomb.len());
    let headers = [("content-type", "application/json"), ("content-encoding", "gzip")];
    let sent = join_all((0..8).map(|_| send(&server, "POST", "/v1/estimates", &headers, bomb.clone())));
    let (answers, ()) = tokio::join!(sent, others_are_served(&server));
    for answer in answers {
        assert_eq!(answer.status, 415, "{}", answer.json());
    }
    // The same as a message that says to be compressed.
    let message = [&[1], &(bomb.len() as u32).to_be_bytes()[..], &bomb].concat();
    let headers = [("content-type", "application/grpc-web+proto"), ("grpc-encoding", "gzip")];
    let sent = send(&server, "POST", ESTIMATE, &headers, message);
    let (refused, ()) = tokio::join!(sent, others_are_served(&server));
    assert_eq!(refused.header("grpc-status"), "12", "{:?}", refused.headers);
    assert!(server.memory_bytes("VmHWM") < 400 << 20, "{}", server.memory_bytes("VmHWM"));
}

async fn channel(server: &Server) -> Channel {
    let endpoint = Channel::from_shared(format!("http://{}", server.address)).expect("an address");
    endpoint.connect().await.expect("a connection")
}

#[tokio::test]
async fn json_as_deep_as_a_body_may_be_long_is_refused() {
    let server = Server::start();
    let headers = [("content-type", "application/json")];
    let deep = "[".repeat(4 << 20);
    for path in ["/v1/estimates", "/v1/recipes", "/v1/plans"] {
        let sent = send(&server, "POST", path, &headers, deep.clone());
        let (answer, ()) = tokio::join!(sent, others_are_served(&server));
        assert!([400, 422].contains(&answer.status.as_u16()), "{path}: {}", answer.status);
    }
}

#[tokio::test]
async fn a_huge_head_is_refused() {
    let server = Server::start();
    let one = format!("GET /livez HTTP/1.1\r\nhost: a\r\nx-long: {}\r\n\r\n", "x".repeat(1 << 20));
    let many = format!("GET /livez HTTP/1.1\r\nhost: a\r\n{}\r\n", "x-more: 1\r\n".repeat(500));
    for head in [one, many] {
        let sent = async {
            let mut stream = tokio::net::TcpStream::connect(&server.address).await.expect("a connection");
            // The server may end the connection before all of it is sent.
            let _ = tokio::io::AsyncWriteExt::write_all(&mut stream, head.as_bytes()).await;
            last_words(&mut stream, 10).await
        };
        let (answer, ()) = tokio::join!(sent, others_are_served(&server));
        assert!(answer.is_empty() || answer.starts_with("HTTP/1.1 431"), "{answer}");
    }
    let moderate = format!(
        "GET /livez HTTP/1.1\r\nhost: a\r\nx-long: {}\r\nconnection: close\r\n\r\n",
        "x".repeat(16 << 10)
    );
    let mut stream = having_sent(&server, moderate).await;
    assert!(last_words(&mut stream, 10).await.starts_with("HTTP/1.1 200"));
}

#[tokio::test]
async fn a_giant_message_of_grpc_is_refused() {
    let server = Server::start();
    let mut client = MaturityServiceClient::new(channel(&server).await);
    let history = History { batch: "x".repeat(64 << 20), ..History::default() };
    let asked = EstimateMaturityRequest { history: Some(history) };
    let (refused, ()) = tokio::join!(client.estimate_maturity(asked), others_are_served(&server));
    assert_eq!(refused.expect_err("it is refused").code(), tonic::Code::OutOfRange);
    // Four gigabytes announced, of which none comes.
    let announced = Body::from(vec![0_u8, 0xff, 0xff, 0xff, 0xff]);
    let headers = [("content-type", "application/grpc-web+proto")];
    let answer = send(&server, "POST", ESTIMATE, &headers, announced).await;
    assert_eq!(answer.header("grpc-status"), "11", "{:?}", answer.headers);
    assert!(server.memory_bytes("VmHWM") < 400 << 20, "{}", server.memory_bytes("VmHWM"));
}
