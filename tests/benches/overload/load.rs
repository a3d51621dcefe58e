//! Callers who come at a rate, over connections that are kept.

use std::sync::{Arc, Mutex};
use std::time::Duration;

use bytes::Bytes;
use tokio::io::{self, AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;
use tokio::task::JoinSet;
use tokio::time::{Instant, sleep_until};

/// Connections at once; whoever comes beyond them is not sent, and counted.
const MOST: usize = 512;
/// How often it is looked who comes.
const TICK: Duration = Duration::from_millis(1);
/// Callers at the same time who each ask again once they are answered: enough that no worker waits for one.
const EAGER: usize = 4;

/// What became of a request.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fate {
    /// It was answered.
    LetIn,
    /// It was told when to come back.
    Shed,
    /// Anything else.
    Lost,
    /// It was not sent for want of a connection.
    Unsent,
}

/// A request that is over.
#[derive(Clone, Copy, Debug)]
pub struct Answered {
    /// When its caller came, since the first one.
    pub came: Duration,
    /// How long after that it was answered to the end.
    pub took: Duration,
    /// What became of it.
    pub fate: Fate,
}

impl Answered {
    /// How long it took, ms.
    pub fn ms(&self) -> f64 {
        self.took.as_secs_f64() * 1000.0
    }
}

/// A request, ready to be sent.
pub struct Caller {
    address: String,
    request: Bytes,
    idle: Arc<Mutex<Vec<TcpStream>>>,
}

impl Caller {
    /// One that posts JSON.
    pub fn new(address: &str, path: &str, body: &str) -> Self {
        let head = format!(
            "POST {path} HTTP/1.1\r\nhost: {address}\r\ncontent-type: application/json\r\ncontent-length: {}\r\n\r\n",
            body.len()
        );
        Self { address: address.to_owned(), request: Bytes::from(head + body), idle: Arc::default() }
    }

    /// How many a second are answered where each caller waits for the answer.
    pub async fn as_fast_as_answered(&self, time: Duration) -> f64 {
        let until = Instant::now() + time;
        let mut eager = JoinSet::new();
        for _ in 0..EAGER {
            let (address, request) = (self.address.clone(), self.request.clone());
            eager.spawn(async move {
                let mut connection = TcpStream::connect(address).await.expect("a connection");
                let mut answers = 0;
                while Instant::now() < until {
                    let fate = ask(&mut connection, &request).await.expect("an answer");
                    answers += usize::from(fate == Fate::LetIn);
                }
                answers
            });
        }
        let answers: usize = eager.join_all().await.into_iter().sum();
        answers as f64 / time.as_secs_f64()
    }

    /// What becomes of those who come at a rate, 1/s, at random times, in the order in which they came.
    pub async fn at_rate(&self, rate: f64, time: Duration) -> Vec<Answered> {
        let (began, mut under_way, mut over) = (Instant::now(), JoinSet::new(), Vec::new());
        let mut random = fastrand::Rng::with_seed(1);
        // The time between two is that of a Poisson process.
        let mut pause = || Duration::from_secs_f64(-(1.0 - random.f64()).ln() / rate);
        let mut next = pause();
        while next < time {
            sleep_until((began + next).max(Instant::now() + TICK)).await;
            while next < time && began + next <= Instant::now() {
                let came = next;
                next += pause();
                let idle = self.idle.lock().expect("nobody panics").pop();
                if idle.is_none() && under_way.len() >= MOST {
                    over.push(Answered { came, took: Duration::ZERO, fate: Fate::Unsent });
                    continue;
                }
                let (address, request) = (self.address.clone(), self.request.clone());
                let kept = self.idle.clone();
                under_way.spawn(async move {
                    let fate = answer(idle, &address, &request, &kept).await.unwrap_or(Fate::Lost);
                    Answered { came, took: (began + came).elapsed(), fate }
                });
            }
            while let Some(answered) = under_way.try_join_next() {
                over.push(answered.expect("nobody panics"));
            }
        }
        over.extend(under_way.join_all().await);
        over.sort_by_key(|own| own.came);
        over
    }
}

/// Asks over a connection, which is kept for the next.
async fn answer(
    idle: Option<TcpStream>,
    address: &str,
    request: &[u8],
    kept: &Mutex<Vec<TcpStream>>,
) -> io::Result<Fate> {
    let mut connection = match idle {
        Some(connection) => connection,
        None => TcpStream::connect(address).await?,
    };
    let fate = ask(&mut connection, request).await?;
    kept.lock().expect("nobody panics").push(connection);
    Ok(fate)
}

/// Sends the request and reads the answer to its end.
async fn ask(connection: &mut TcpStream, request: &[u8]) -> io::Result<Fate> {
    connection.write_all(request).await?;
    let mut read = Vec::with_capacity(4096);
    let head = loop {
        if connection.read_buf(&mut read).await? == 0 {
            return Err(io::ErrorKind::UnexpectedEof.into());
        }
        if let Some(end) = read.windows(4).position(|four| four == b"\r\n\r\n") {
            break String::from_utf8_lossy(&read[..end + 4]).to_ascii_lowercase();
        }
    };
    let field = |name: &str| head.lines().find_map(|line| line.strip_prefix(name)).map(str::trim);
    let length: usize =
        field("content-length:").and_then(|text| text.parse().ok()).ok_or(io::ErrorKind::InvalidData)?;
    let mut left = (head.len() + length).saturating_sub(read.len());
    let mut scrap = vec![0; 1 << 14];
    while left > 0 {
        let most = left.min(scrap.len());
        let count = connection.read(&mut scrap[..most]).await?;
        if count == 0 {
            return Err(io::ErrorKind::UnexpectedEof.into());
        }
        left -= count;
    }
    Ok(match head.split(' ').nth(1) {
        Some("200") => Fate::LetIn,
        Some("503") if field("retry-after:").is_some() => Fate::Shed,
        _ => Fate::Lost,
    })
}
