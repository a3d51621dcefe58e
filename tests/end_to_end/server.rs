//! Servers run from the real binary.

use std::fs::File;
use std::io::{BufRead, BufReader};
use std::os::unix::process::ExitStatusExt;
use std::process::{Child, Command, Stdio};

use crate::databases::Database;
use crate::{binary, http};

/// A server on a free loopback port, stopped when dropped.
pub struct Server {
    /// The process.
    pub child: Child,
    /// Host and port.
    pub address: String,
}

impl Server {
    /// Starts with the default settings.
    pub fn start() -> Self {
        Self::with(&[])
    }

    /// Starts on a store.
    pub fn on(database: &Database) -> Self {
        Self::with(&["--store", &database.url])
    }

    /// Starts with more arguments.
    pub fn with(arguments: &[&str]) -> Self {
        Self::listening(Self::spawn(arguments))
    }

    /// Starts with more arguments and a log of its own.
    pub fn logging(arguments: &[&str], level: &str, log: File) -> Self {
        let mut command = Self::command(arguments);
        Self::listening(command.env("RUST_LOG", level).stderr(log).spawn().expect("the binary starts"))
    }

    /// Starts with more arguments and these variables.
    pub fn with_environment(arguments: &[&str], environment: &[(&str, &str)]) -> Self {
        let mut command = Self::command(arguments);
        Self::listening(command.envs(environment.iter().copied()).spawn().expect("the binary starts"))
    }

    /// The server that a process is, once it takes connections.
    pub fn listening(mut child: Child) -> Self {
        let mut line = String::new();
        let stdout = child.stdout.take().expect("standard output is piped");
        BufReader::new(stdout).read_line(&mut line).expect("standard output can be read");
        let url = line.trim().strip_prefix("listening on http");
        let address = url.and_then(|url| url.strip_prefix("://").or(url.strip_prefix("s://")));
        let address = address.unwrap_or_else(|| panic!("no address in {line:?}")).to_owned();
        Self { child, address }
    }

    /// A process that may not take connections yet.
    pub fn spawn(arguments: &[&str]) -> Child {
        Self::command(arguments).spawn().expect("the binary starts")
    }

    /// The command that serves with more arguments.
    pub fn command(arguments: &[&str]) -> Command {
        let mut command = Command::new(binary::path());
        command.args(["serve", "--listen", "127.0.0.1:0"]).args(arguments).env("RUST_LOG", "warn");
        command.stdout(Stdio::piped());
        command
    }

    /// SIGKILL, which leaves it no moment to tidy up.
    pub fn kill(&mut self) {
        self.child.kill().expect("the server runs until it is killed");
        let status = self.child.wait().expect("the server ends");
        assert_eq!(status.signal(), Some(9), "it ran until it was killed");
    }

    /// Posts JSON and hands back the body of the answer, for tests that are not asynchronous.
    pub fn post_json(&self, path: &str, json: &str) -> String {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
        let headers = [("content-type", "application/json")];
        let sent = http::send(self, "POST", path, &headers, json.to_owned());
        let answer = runtime.expect("a runtime starts").block_on(sent);
        String::from_utf8_lossy(&answer.body).into_owned()
    }

    /// A figure from `/proc/<pid>/status`, bytes.
    pub fn memory_bytes(&self, figure: &str) -> u64 {
        let path = format!("/proc/{}/status", self.child.id());
        let status = std::fs::read_to_string(path).expect("the server runs");
        let line = status.lines().find_map(|line| line.strip_prefix(figure)).expect("the figure is there");
        let kibibytes = line.trim_start_matches(':').trim().trim_end_matches("kB").trim();
        kibibytes.parse::<u64>().expect("a number of kB") * 1024
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
