//! The bench as a process of its own beside what is measured.

use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};

use axum::Router;
use axum::serve::ListenerExt;
use tokio::net::TcpListener;

use crate::databases::Folder;

/// The process, ended when dropped.
pub struct Beside {
    child: Child,
    /// Host and port.
    pub address: String,
    _folder: Folder,
}

impl Beside {
    /// Starts the bench in a role: with files of these bytes, and more words.
    pub fn start(role: &str, files: &[&[u8]], words: &[&str]) -> Self {
        let folder = Folder::new("baycast-beside");
        let mut command = Command::new(std::env::current_exe().expect("a bench has a path"));
        command.arg(role).stdout(Stdio::piped());
        for (number, bytes) in files.iter().enumerate() {
            let file = folder.path().join(number.to_string());
            std::fs::write(&file, bytes).expect("a file is written");
            command.arg(file);
        }
        let mut child = command.args(words).spawn().expect("the bench starts again");
        let mut line = String::new();
        let stdout = child.stdout.take().expect("standard output is piped");
        BufReader::new(stdout).read_line(&mut line).expect("standard output can be read");
        Self { child, address: line.trim().to_owned(), _folder: folder }
    }
}

impl Drop for Beside {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// What such a process does: serves until it is ended, once it has told its address.
pub async fn serve(app: Router) {
    let listener = TcpListener::bind("127.0.0.1:0").await.expect("a free port");
    println!("{}", listener.local_addr().expect("an address"));
    let listener = listener.tap_io(|stream| {
        let _ = stream.set_nodelay(true);
    });
    axum::serve(listener, app).await.expect("it serves");
}
