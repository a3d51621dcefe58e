//! A farm with two bays, a broker, and servers that subscribe.

use std::collections::BTreeSet;
use std::fs;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Command, ExitStatus, Stdio};
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::{Duration, Instant};

use serde_json::{Value, json};

use super::broker::Broker;
use crate::binary;
use crate::http::{get, send};
use crate::server::Server;

/// How long readings may take to arrive.
const PATIENCE: Duration = Duration::from_mins(2);

/// What the tests' probes publish to.
const SUBSCRIPTIONS: &str = r#"
[[mqtt.subscription]]
topic = "bay/{farm}/{bay}/{zone}"
farms = ["home"]
temperature = "/t"
unit = "f"
at = "/at"
ambient_c = "/air/c"
depth_m = 0.4

[[mqtt.subscription]]
topic = "timed/{batch}/+"
farm = "home"
temperature = "/t"
at = "/ms"
at_form = "unix_ms"

[[mqtt.subscription]]
topic = "named/{batch}"
farm = "home"
temperature = "/t"
id = "/id"

[[mqtt.subscription]]
topic = "plain/{batch}/+"
farm = "home"
payload = "number"
"#;

/// A folder with a broker and a store in it.
pub struct Farm {
    /// The broker.
    pub broker: Broker,
    /// The folder.
    pub folder: PathBuf,
    /// Where the records are kept.
    store: String,
    servers: AtomicU32,
}

impl Farm {
    /// A farm in an SQLite file.
    pub async fn new() -> Self {
        Self::with(Broker::start).await
    }

    /// A farm at a store's URL.
    pub async fn at(store: String) -> Self {
        let folder = folder();
        let broker = Broker::start(&folder);
        Self::planted(folder, store, broker).await
    }

    /// A farm in an SQLite file, with the broker that `start` starts in its folder.
    pub async fn with(start: impl FnOnce(&Path) -> Broker) -> Self {
        let folder = folder();
        let store = format!("sqlite:{}", folder.join("records.db").display());
        let broker = start(&folder);
        Self::planted(folder, store, broker).await
    }

    async fn planted(folder: PathBuf, store: String, broker: Broker) -> Self {
        let server = Server::with(&["--store", &store]);
        let site = json!({ "latitude_deg": 52 });
        post(
            &server,
            "/v1/farms",
            &json!({ "id": "home", "name": "", "site": site, "time_zone": "Etc/UTC" }),
        )
        .await;
        for (bay, batch) in [("east", "heap"), ("west", "other")] {
            let bay = json!({ "id": bay, "length_m": 1.2, "width_m": 1.2, "height_m": 1.2,
                "wall": { "construction": "block" } });
            post(&server, "/v1/farms/home/bays", &json!({ "bay": bay })).await;
            let batch = json!({ "id": batch, "start_bay": bay["id"] });
            post(&server, "/v1/farms/home/batches", &batch).await;
        }
        drop(server);
        Self { broker, folder, store, servers: AtomicU32::new(0) }
    }

    /// A server that subscribes, with its log in the folder.
    pub fn serve(&self) -> Subscriber {
        self.serve_with("baycast-test", "")
    }

    /// The same under this client id, with more lines for the table `[mqtt]`.
    pub fn serve_with(&self, client_id: &str, lines: &str) -> Subscriber {
        self.serve_on(&self.broker.url(), client_id, lines)
    }

    /// The same with the broker at this URL.
    pub fn serve_on(&self, url: &str, client_id: &str, lines: &str) -> Subscriber {
        let number = self.servers.fetch_add(1, Ordering::Relaxed);
        let configuration = self.folder.join(format!("baycast-{number}.toml"));
        let store = &self.store;
        let text = format!(
            "listen = \"127.0.0.1:0\"\nlog = \"json\"\nstore = \"{store}\"\n\n[mqtt]\nbroker = \"{url}\"\n\
             client_id = \"{client_id}\"\n{lines}\n{SUBSCRIPTIONS}"
        );
        fs::write(&configuration, text).expect("a file can be written");
        let log = self.folder.join(format!("baycast-{number}.log"));
        let mut child = Command::new(binary::path())
            .args(["serve", "--config"])
            .arg(configuration)
            .env("RUST_LOG", "info")
            .env("BAYCAST_TEST_PASSWORD", "three words long")
            .stdout(Stdio::piped())
            .stderr(fs::File::create(&log).expect("a file can be made"))
            .spawn()
            .expect("the binary starts");
        let mut line = String::new();
        let stdout = child.stdout.take().expect("standard output is piped");
        BufReader::new(stdout).read_line(&mut line).expect("standard output can be read");
        let told = fs::read_to_string(&log).unwrap_or_default();
        let address = line.trim().strip_prefix("listening on http://");
        let address = address.unwrap_or_else(|| panic!("no address in {line:?}: {told}")).to_owned();
        Subscriber { server: Server { child, address }, log }
    }
}

impl Drop for Farm {
    fn drop(&mut self) {
        self.broker.stop();
        let _ = fs::remove_dir_all(&self.folder);
    }
}

/// A server that subscribes.
pub struct Subscriber {
    /// The server.
    pub server: Server,
    log: PathBuf,
}

impl Subscriber {
    /// Waits until the broker has taken the subscriptions.
    pub async fn subscribed(self) -> Self {
        self.logged("subscribed", SUBSCRIPTIONS.matches("[[").count()).await;
        self
    }

    /// Waits until the log has `count` lines with this message, and hands all of those back.
    pub async fn logged(&self, message: &str, count: usize) -> Vec<Value> {
        let begun = Instant::now();
        loop {
            let found = self.lines(message);
            if found.len() >= count {
                return found;
            }
            assert!(begun.elapsed() < PATIENCE, "{message:?} is not in the log: {}", self.text());
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
    }

    /// The lines of the log so far with this message.
    pub fn lines(&self, message: &str) -> Vec<Value> {
        let text = self.text();
        let lines = text.lines().filter_map(|line| serde_json::from_str(line).ok());
        lines.filter(|line: &Value| line["message"] == message).collect()
    }

    /// The log so far.
    pub fn text(&self) -> String {
        fs::read_to_string(&self.log).unwrap_or_default()
    }

    /// Every event ever recorded of a batch.
    pub async fn events(&self, batch: &str) -> Vec<Value> {
        let (mut all, mut token) = (Vec::new(), String::new());
        loop {
            let path =
                format!("/v1/farms/home/batches/{batch}/events?shown=all&page_size=1000&page_token={token}");
            let page = send(&self.server, "GET", &path, &[], "").await.json();
            all.extend(page["items"].as_array().expect("items").iter().cloned());
            match page["next_page_token"].as_str() {
                Some(next) => next.clone_into(&mut token),
                None => return all,
            }
        }
    }

    /// Waits until a batch has at least `count` events, and hands all of them back.
    pub async fn arrived(&self, batch: &str, count: usize) -> Vec<Value> {
        let (begun, path) = (Instant::now(), format!("/v1/farms/home/batches/{batch}"));
        loop {
            // How many there are: asking for all of them that often would keep the server busy with nothing else.
            let there = get(&self.server, &path).await.json()["event_version"].as_u64().expect("a number");
            if there >= count as u64 {
                return self.events(batch).await;
            }
            assert!(begun.elapsed() < PATIENCE, "{there} of {count} arrived: {}", self.text());
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
    }

    /// Sends it a signal.
    pub fn signal(&self, signal: &str) {
        let kill = format!("kill -s {signal} {}", self.server.child.id());
        assert!(Command::new("sh").args(["-c", &kill]).status().expect("a shell runs").success());
    }

    /// Stops it as an operator would; how it ended.
    pub fn stop(&mut self) -> ExitStatus {
        self.signal("TERM");
        self.server.child.wait().expect("the process is ours")
    }
}

/// The temperatures of events, sorted; each must be there once.
pub fn temperatures(events: &[Value]) -> BTreeSet<String> {
    let all: Vec<String> =
        events.iter().map(|event| event["event"]["reading"]["temperature_c"].to_string()).collect();
    let once: BTreeSet<String> = all.iter().cloned().collect();
    assert_eq!(once.len(), all.len(), "a reading is there twice");
    once
}

/// Posts JSON and expects success.
pub async fn post(server: &Server, path: &str, body: &Value) -> Value {
    let answer = send(server, "POST", path, &[("content-type", "application/json")], body.to_string()).await;
    assert!(answer.status.is_success(), "{path}: {}", answer.json());
    answer.json()
}

/// A folder of this test's own.
fn folder() -> PathBuf {
    static COUNT: AtomicU32 = AtomicU32::new(0);
    let number = COUNT.fetch_add(1, Ordering::Relaxed);
    let path = std::env::temp_dir().join(format!("baycast-mqtt-{}-{number}", std::process::id()));
    // One of a process that had the same id and was killed.
    let _ = fs::remove_dir_all(&path);
    fs::create_dir_all(&path).expect("a folder can be made");
    path
}
