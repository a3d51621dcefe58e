//! A real Mosquitto in a private folder, on a free port of the loopback address.

use std::fs;
use std::io::Write;
use std::net::{TcpListener, TcpStream};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::time::{Duration, Instant};

/// How long the broker may take to start or stop.
const PATIENCE: Duration = Duration::from_secs(10);

/// A broker that keeps its sessions on disk; stopped by its id when dropped.
pub struct Broker {
    /// Its port.
    pub port: u16,
    folder: PathBuf,
    child: Child,
    /// What its clients must say besides.
    client_arguments: Vec<String>,
}

impl Broker {
    /// Starts one that keeps its things in `folder`.
    pub fn start(folder: &Path) -> Self {
        Self::with(folder, "allow_anonymous true\n", Vec::new())
    }

    /// Starts one with these lines in its configuration, whose clients need these arguments.
    pub fn with(folder: &Path, lines: &str, client_arguments: Vec<String>) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").expect("a free port");
        let port = listener.local_addr().expect("an address").port();
        drop(listener);
        let folder = folder.join("broker");
        fs::create_dir_all(&folder).expect("a folder can be made");
        let place = folder.display();
        // Run as root it would give that up and lose the folder; run as anyone else it ignores the line.
        let configuration = format!(
            "listener {port} 127.0.0.1\nuser root\npersistence true\npersistence_location {place}/\n\
             max_queued_messages 0\nlog_dest file {place}/log\nlog_type all\n{lines}"
        );
        fs::write(folder.join("mosquitto.conf"), configuration).expect("a file can be written");
        let child = run(&folder);
        let broker = Self { port, folder, child, client_arguments };
        broker.wait_until_open();
        broker
    }

    /// Its URL.
    pub fn url(&self) -> String {
        format!("mqtt://127.0.0.1:{}", self.port)
    }

    /// Stops it as an operator would, which has it save its sessions, and starts it again.
    pub fn restart(&mut self) {
        self.stop();
        self.child = run(&self.folder);
        self.wait_until_open();
    }

    /// What it logged.
    pub fn log(&self) -> String {
        fs::read_to_string(self.folder.join("log")).unwrap_or_default()
    }

    /// Publishes one message at QoS 1 and waits until the broker has it.
    pub fn publish(&self, topic: &str, message: &str) {
        let mut publisher = self.publisher(topic);
        publisher.send(message);
        publisher.finish();
    }

    /// Someone who publishes lines to a topic at QoS 1.
    pub fn publisher(&self, topic: &str) -> Publisher {
        let mut command = Command::new("mosquitto_pub");
        command.args(["-h", "127.0.0.1", "-V", "5", "-q", "1", "-l", "-t", topic, "-p"]);
        let mut child = command
            .arg(self.port.to_string())
            .args(&self.client_arguments)
            .stdin(Stdio::piped())
            .spawn()
            .expect("Mosquitto's clients are installed: Debian's package is `mosquitto-clients`");
        let lines = child.stdin.take();
        Publisher { child, lines }
    }

    /// Stops it as an operator would, if it runs.
    pub fn stop(&mut self) {
        drop(self.child.stdin.take());
        let _ = self.child.wait();
    }

    fn wait_until_open(&self) {
        let begun = Instant::now();
        while TcpStream::connect(("127.0.0.1", self.port)).is_err() {
            assert!(begun.elapsed() < PATIENCE, "Mosquitto does not start: {}", self.log());
            std::thread::sleep(Duration::from_millis(20));
        }
    }
}

impl Drop for Broker {
    fn drop(&mut self) {
        self.stop();
    }
}

/// Runs Mosquitto, which Debian puts where only root looks, until its own input ends, which it does when the test binary
/// ends, even by `kill -9`; then SIGTERM, by its id.
const SCRIPT: &str = "PATH=$PATH:/usr/sbin\nmosquitto -c \"$1\" &\nbroker=$!\nread -r _ || true\n\
                      kill -s TERM $broker && wait $broker";

/// Runs the broker of a folder.
fn run(folder: &Path) -> Child {
    Command::new("sh")
        .args(["-c", SCRIPT, "sh"])
        .arg(folder.join("mosquitto.conf"))
        .stdin(Stdio::piped())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .expect("a shell runs")
}

/// Someone who publishes.
pub struct Publisher {
    child: Child,
    lines: Option<ChildStdin>,
}

impl Publisher {
    /// Publishes a line.
    pub fn send(&mut self, line: &str) {
        let lines = self.lines.as_mut().expect("it was not finished");
        writeln!(lines, "{line}").expect("the publisher takes a line");
    }

    /// Waits until the broker has taken everything.
    pub fn finish(mut self) {
        drop(self.lines.take());
        assert!(self.child.wait().expect("the publisher ends").success(), "everything is published");
    }
}
