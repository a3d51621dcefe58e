//! A process that appends, and is killed.

use std::io::{BufRead, BufReader};
use std::os::unix::process::ExitStatusExt;
use std::process::{Child, ChildStdout, Command, Stdio};
use std::sync::mpsc::{Sender, channel};
use std::thread::JoinHandle;
use std::time::Duration;

use crate::appender::{ACKNOWLEDGED, NAME, ROUND, TASKS, URL};
use crate::databases::Database;

/// Batch, own id and id of an event that was acknowledged.
pub type Acknowledged = (String, String, String);

/// This binary, running again to append.
pub struct Process {
    child: Child,
    reading: JoinHandle<Vec<Acknowledged>>,
}

impl Process {
    /// Starts it; returns when its first events were acknowledged.
    pub fn start(database: &Database, round: usize, name: &str) -> Self {
        let mut child = Command::new(std::env::current_exe().expect("this binary's path"))
            .args(["--ignored", "--exact", "append_until_killed", "--nocapture"])
            .env(URL, &database.url)
            .env(ROUND, round.to_string())
            .env(NAME, name)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::inherit())
            .spawn()
            .expect("this binary runs again");
        let output = child.stdout.take().expect("its output");
        let (first, begun) = channel();
        let reading = std::thread::spawn(move || read(output, &first));
        let begun = begun.recv_timeout(Duration::from_mins(1));
        if begun.is_err() {
            let _ = child.kill();
        }
        begun.expect("the process acknowledges its first events");
        Self { child, reading }
    }

    /// SIGKILL, which leaves it no moment to tidy up; what it had acknowledged by then.
    pub fn kill(mut self) -> Vec<Acknowledged> {
        self.child.kill().expect("the process is killed");
        let status = self.child.wait().expect("the process ends");
        assert_eq!(status.signal(), Some(9), "it ran until it was killed");
        self.reading.join().expect("its output is read")
    }
}

/// Reads what is acknowledged, and tells once the first events are.
fn read(output: ChildStdout, first: &Sender<()>) -> Vec<Acknowledged> {
    let mut lines = Vec::new();
    let mut output = BufReader::new(output);
    let mut line = String::new();
    // A line without its end was cut off by the kill: not acknowledged in full.
    while output.read_line(&mut line).is_ok_and(|bytes| bytes > 0) && line.ends_with('\n') {
        if let Some(rest) = line.trim_end().strip_prefix(ACKNOWLEDGED) {
            let words: Vec<&str> = rest.split(' ').collect();
            let [batch, own_id, id] = words[..] else { panic!("{line:?}") };
            lines.push((batch.to_owned(), own_id.to_owned(), id.to_owned()));
            if lines.len() == TASKS {
                // Nobody waits any more where the process was given up.
                let _ = first.send(());
            }
        }
        line.clear();
    }
    lines
}
