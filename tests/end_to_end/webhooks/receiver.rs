//! A receiver in Python, which verifies with the Standard Webhooks library and parses with the CloudEvents SDK.

use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::{Arc, Condvar, Mutex};
use std::time::{Duration, Instant};

use serde_json::{Value, json};

use crate::binary::repository;
use crate::python::python;

/// How long a message may take to arrive.
const PATIENCE: Duration = Duration::from_mins(3);

/// What a receiver told so far, and word of more.
type Told = Arc<(Mutex<Vec<(Instant, Value)>>, Condvar)>;

/// A receiver on a free loopback port; it ends with its input, and so with the test.
pub struct Receiver {
    /// Its port.
    pub port: u16,
    child: Child,
    input: Option<ChildStdin>,
    told: Told,
}

/// A request that was received.
#[derive(Clone, Debug)]
pub struct Received {
    /// When it was told of.
    pub at: Instant,
    /// What came, and what was made of it.
    pub told: Value,
}

impl Receiver {
    /// Starts one without TLS.
    pub fn start() -> Self {
        Self::run(&[])
    }

    /// Starts one with a certificate and its key, both in PEM.
    pub fn with_tls(certificate: &Path, key: &Path) -> Self {
        Self::run(&[certificate, key])
    }

    fn run(arguments: &[&Path]) -> Self {
        let mut command = Command::new(python());
        command.arg(repository().join("tests/python/webhook_receiver.py")).args(arguments);
        let mut child =
            command.stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().expect("the receiver starts");
        let (input, output) = (child.stdin.take(), child.stdout.take().expect("output is piped"));
        let mut lines = BufReader::new(output).lines();
        let port = lines.next().expect("a line").expect("text").parse().expect("a port");
        let told = Told::default();
        let reading = told.clone();
        std::thread::spawn(move || {
            for line in lines.map_while(Result::ok) {
                let value = serde_json::from_str(&line).expect("a line is JSON");
                reading.0.lock().expect("nobody panics").push((Instant::now(), value));
                reading.1.notify_all();
            }
        });
        Self { port, child, input, told }
    }

    /// The URL of a path, by address.
    pub fn url(&self, path: &str) -> String {
        format!("http://127.0.0.1:{}{path}", self.port)
    }

    /// What verifies at a path, and what is answered there from now on.
    pub fn set(&mut self, path: &str, secrets: &[&str], answers: &[u16], more: &Value) {
        let heard = self.count(|value| value == "heard") + 1;
        let mut line = json!({ "path": path, "secrets": secrets, "answers": answers });
        line.as_object_mut().expect("an object").extend(more.as_object().expect("an object").clone());
        let input = self.input.as_mut().expect("it runs");
        writeln!(input, "{line}").and_then(|()| input.flush()).expect("the receiver takes a line");
        self.wait(heard, |value| value == "heard");
    }

    /// Waits until `count` requests came to a path, and hands all of them back.
    pub fn arrived(&self, path: &str, count: usize) -> Vec<Received> {
        self.wait(count, |value| value["path"] == path)
    }

    /// The requests that came to a path so far.
    pub fn so_far(&self, path: &str) -> Vec<Received> {
        self.wait(0, |value| value["path"] == path)
    }

    fn count(&self, is: impl Fn(&Value) -> bool) -> usize {
        self.told.0.lock().expect("nobody panics").iter().filter(|(_, value)| is(value)).count()
    }

    fn wait(&self, count: usize, is: impl Fn(&Value) -> bool) -> Vec<Received> {
        let begun = Instant::now();
        let mut told = self.told.0.lock().expect("nobody panics");
        loop {
            let found = told.iter().filter(|(_, value)| is(value));
            let found: Vec<_> = found.map(|(at, value)| Received { at: *at, told: value.clone() }).collect();
            if found.len() >= count {
                return found;
            }
            let left = PATIENCE.checked_sub(begun.elapsed());
            let left = left.unwrap_or_else(|| panic!("{} of {count} arrived: {found:?}", found.len()));
            told = self.told.1.wait_timeout(told, left).expect("nobody panics").0;
        }
    }
}

impl Drop for Receiver {
    fn drop(&mut self) {
        drop(self.input.take());
        let _ = self.child.wait();
    }
}

impl Received {
    /// The id of the message.
    pub fn id(&self) -> String {
        self.told["headers"]["webhook-id"].as_str().expect("an id").to_owned()
    }

    /// The part of its type that is the kind of news.
    pub fn kind(&self) -> String {
        let kind = self.told["event"]["type"].as_str().expect("a type");
        kind.trim_start_matches("baycast.batch.").trim_end_matches(".v1").to_owned()
    }

    /// Expects that each secret that the receiver has verifies it as said, and none a message that was tampered with.
    pub fn expect_verified(&self, by: &[bool]) {
        assert_eq!(self.told["verified"], json!(by), "{}", self.told);
        assert_eq!(self.told["tampered"], json!(vec![false; by.len() * 3]), "{}", self.told);
    }
}
