//! Clients that cost little: each sends the same bytes again and again, and counts answers by their length.

use std::time::{Duration, Instant};

use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

/// Connections at the same time.
pub const CLIENTS: usize = 32;
const TURN: Duration = Duration::from_secs(2);
const WARM_UP: Duration = Duration::from_millis(300);

/// Length of the one answer on its way: head and body.
async fn length(stream: &mut TcpStream) -> usize {
    let (mut answer, mut buffer) = (Vec::new(), vec![0; 65_536]);
    loop {
        let read = stream.read(&mut buffer).await.expect("an answer");
        assert!(read > 0, "the connection is kept");
        answer.extend_from_slice(&buffer[..read]);
        let text = String::from_utf8_lossy(&answer);
        let Some(head) = text.find("\r\n\r\n") else { continue };
        assert!(text.starts_with("HTTP/1.1 200 "), "{}", &text[..head]);
        let length = text[..head].lines().find_map(|line| line.strip_prefix("content-length: "));
        let whole = head + 4 + length.and_then(|length| length.parse::<usize>().ok()).expect("a length");
        if answer.len() >= whole {
            assert_eq!(answer.len(), whole, "one answer to one request");
            return whole;
        }
    }
}

/// One connection's answers until `end`, those before `start` left out.
async fn client(address: String, request: String, start: Instant, end: Instant) -> u64 {
    let mut stream = TcpStream::connect(&address).await.expect("a connection");
    stream.set_nodelay(true).expect("an option");
    stream.write_all(request.as_bytes()).await.expect("a request");
    let mut answer = vec![0; length(&mut stream).await];
    let mut done = 0;
    while Instant::now() < end {
        stream.write_all(request.as_bytes()).await.expect("a request");
        stream.read_exact(&mut answer).await.expect("an answer");
        assert!(answer.starts_with(b"HTTP/1.1 200 "), "{}", String::from_utf8_lossy(&answer[..64]));
        done += u64::from(Instant::now() >= start);
    }
    done
}

/// Answers a second over all connections.
pub async fn turn(address: &str, path: &str, encoding: &str) -> f64 {
    let request = format!("GET {path} HTTP/1.1\r\nhost: {address}\r\naccept-encoding: {encoding}\r\n\r\n");
    let start = Instant::now() + WARM_UP;
    let clients: Vec<_> = (0..CLIENTS)
        .map(|_| tokio::spawn(client(address.to_owned(), request.clone(), start, start + TURN)))
        .collect();
    let mut done = 0;
    for client in clients {
        done += client.await.expect("a client");
    }
    done as f64 / TURN.as_secs_f64()
}
