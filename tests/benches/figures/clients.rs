//! Clients that cost little: each sends the same bytes again and again, and counts answers by their length.

use std::time::{Duration, Instant};

use bytes::Bytes;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

/// Time until answers count.
const WARM_UP: Duration = Duration::from_millis(300);

/// What is asked again and again.
pub struct Asked {
    address: String,
    request: Bytes,
}

/// The one answer on its way, and where its body begins.
async fn answer(stream: &mut TcpStream) -> (Vec<u8>, usize) {
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
            return (answer, head + 4);
        }
    }
}

/// One connection's answers until `end`, those before `start` left out.
async fn client(address: String, request: Bytes, start: Instant, end: Instant) -> u64 {
    let mut stream = connect(&address).await;
    stream.write_all(&request).await.expect("a request");
    let (mut answer, _) = answer(&mut stream).await;
    let mut done = 0;
    while Instant::now() < end {
        stream.write_all(&request).await.expect("a request");
        stream.read_exact(&mut answer).await.expect("an answer");
        assert!(answer.starts_with(b"HTTP/1.1 200 "), "{}", String::from_utf8_lossy(&answer[..64]));
        done += u64::from(Instant::now() >= start);
    }
    done
}

async fn connect(address: &str) -> TcpStream {
    let stream = TcpStream::connect(address).await.expect("a connection");
    stream.set_nodelay(true).expect("an option");
    stream
}

impl Asked {
    /// A reading of a path, in an encoding.
    pub fn get(address: &str, path: &str, encoding: &str) -> Self {
        let request =
            format!("GET {path} HTTP/1.1\r\nhost: {address}\r\naccept-encoding: {encoding}\r\n\r\n");
        Self { address: address.to_owned(), request: Bytes::from(request) }
    }

    /// JSON sent to a path.
    pub fn post(address: &str, path: &str, json: &str) -> Self {
        let head = format!("POST {path} HTTP/1.1\r\nhost: {address}\r\ncontent-type: application/json\r\n");
        let request = Bytes::from(format!("{head}content-length: {}\r\n\r\n{json}", json.len()));
        Self { address: address.to_owned(), request }
    }

    /// The body of one answer.
    pub async fn once(&self) -> Vec<u8> {
        let mut stream = connect(&self.address).await;
        stream.write_all(&self.request).await.expect("a request");
        let (mut answer, head) = answer(&mut stream).await;
        answer.split_off(head)
    }

    /// Answers a second over so many connections.
    pub async fn turn(&self, connections: usize, time: Duration) -> f64 {
        let start = Instant::now() + WARM_UP;
        let clients: Vec<_> = (0..connections)
            .map(|_| tokio::spawn(client(self.address.clone(), self.request.clone(), start, start + time)))
            .collect();
        let mut done = 0;
        for client in clients {
            done += client.await.expect("a client");
        }
        done as f64 / time.as_secs_f64()
    }
}
