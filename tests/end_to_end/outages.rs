//! The records' database away, full or read-only for a while: nothing that was acknowledged is lost, who asks is told what is
//! the matter and when to come back, and all goes on by itself.

mod away;
mod disk;
mod full;
mod growing;
mod read_only;
mod reading;

use std::fs::{self, File};
use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use tokio::time::sleep;
use tonic_health::pb::health_check_response::ServingStatus;
use tonic_health::pb::{HealthCheckRequest, health_client::HealthClient};

use crate::appending::{plant, recorded};
use crate::databases::Folder;
use crate::http::get;
use crate::server::Server;
use growing::Growing;
use reading::Reading;

/// Longest time until `/readyz` tells of a change.
const SOON: Duration = Duration::from_secs(5);

/// A server with a log that can be read.
struct Logged {
    server: Server,
    log: PathBuf,
    _folder: Folder,
}

impl Logged {
    /// A server on a store.
    fn on(store: &str) -> Self {
        Self::run(Server::command(&["--store", store, "--log", "json"]))
    }

    /// The server that a command starts.
    fn run(mut command: Command) -> Self {
        let folder = Folder::new("baycast-outage");
        let log = folder.path().join("log");
        let file = File::create(&log).expect("a file can be made");
        command.env("RUST_LOG", "warn").stdout(Stdio::piped()).stderr(file);
        let server = Server::listening(command.spawn().expect("the binary starts"));
        Self { server, log, _folder: folder }
    }

    /// What it logged so far at the level of warnings or above, but for what it says at the start.
    fn lines(&self) -> Vec<String> {
        let text = fs::read_to_string(&self.log).expect("the log can be read");
        text.lines().filter(|line| !line.contains("there are no API keys yet")).map(str::to_owned).collect()
    }

    /// How long `/readyz` takes to answer so. Whatever it answers, it answers in time.
    async fn readyz(&self, status: u16, said: &str) -> Duration {
        let begun = Instant::now();
        loop {
            let answer = get(&self.server, "/readyz").await;
            let text = String::from_utf8_lossy(&answer.body).into_owned();
            if answer.status == status && text.contains(said) {
                return begun.elapsed();
            }
            assert!(begun.elapsed() < SOON, "/readyz says {} {text:?}, not {status} {said:?}", answer.status);
            sleep(Duration::from_millis(50)).await;
        }
    }

    /// What gRPC's health service says.
    async fn health(&self) -> ServingStatus {
        let endpoint = tonic::transport::Channel::from_shared(format!("http://{}", self.server.address));
        let channel = endpoint.expect("an address").connect().await.expect("it takes connections");
        let request = HealthCheckRequest { service: String::new() };
        let answer = HealthClient::new(channel).check(request).await.expect("an answer").into_inner();
        answer.status()
    }
}

/// A trouble in which the records can be read and take nothing.
struct Trouble<B, E> {
    name: &'static str,
    /// What is told of it.
    why: &'static str,
    lasts: Duration,
    begins: B,
    ends: E,
}

impl<B: AsyncFn(), E: AsyncFn()> Trouble<B, E> {
    /// Farms are read and written before, in and after it.
    async fn comes_and_goes(&self, logged: &Logged) {
        let Self { name, why, lasts, begins, ends } = self;
        plant(&logged.server).await;
        let reading = Reading::begin(&logged.server.address);
        let (growing, growers) = Growing::begin(name, &logged.server.address, why);
        growing.more(20).await;

        begins().await;
        let unready = logged.readyz(503, why).await;
        assert_eq!(logged.health().await, ServingStatus::NotServing);
        growing.more_put_off(20).await;
        sleep(*lasts).await;
        logged.readyz(503, why).await;
        ends().await;
        let ready = logged.readyz(200, "ready").await;
        growing.more(20).await;

        let acknowledged = growing.end(growers).await;
        let (read, read_again) = reading.end().await;
        assert_eq!(read_again, 0, "what is there can be read all the time");
        acknowledged.assert_all_of(&recorded(&logged.server).await);
        let lines = logged.lines();
        println!(
            "{name} for {lasts:?}: told after {unready:?}, and {ready:?} after its end; {} events acknowledged and there once, \
             {} appends put off, {read} reads good; {} lines in the log",
            acknowledged.0.len(),
            growing.put_off(),
            lines.len()
        );
        let count = |words: &str| lines.iter().filter(|line| line.contains(words)).count();
        assert_eq!((count(why), count("take everything again")), (1, 1), "{lines:#?}");
        assert_eq!(lines.len(), 2, "{lines:#?}");
    }
}
