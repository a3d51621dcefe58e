//! A handler that returns bytes, and nothing else of an axum server, in a process of its own.

use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};

use axum::Router;
use axum::http::HeaderValue;
use axum::http::header::CONTENT_TYPE;
use axum::routing::get;
use axum::serve::ListenerExt;
use bytes::Bytes;
use tokio::net::TcpListener;

/// What the bench is started with to be that process.
pub const ROLE: &str = "bare";

/// The process, ended when dropped.
pub struct Bare {
    child: Child,
    /// Host and port.
    pub address: String,
    _folder: crate::databases::Folder,
}

impl Bare {
    /// Starts it with the bytes that it is to return.
    pub fn start(bytes: &Bytes, content_type: &str) -> Self {
        let folder = crate::databases::Folder::new("baycast-bare");
        let file = folder.path().join("bytes");
        std::fs::write(&file, bytes).expect("a file is written");
        let mut command = Command::new(std::env::current_exe().expect("a bench has a path"));
        command.arg(ROLE).arg(file).arg(content_type).stdout(Stdio::piped());
        let mut child = command.spawn().expect("the bench starts again");
        let mut line = String::new();
        let stdout = child.stdout.take().expect("standard output is piped");
        BufReader::new(stdout).read_line(&mut line).expect("standard output can be read");
        Self { child, address: line.trim().to_owned(), _folder: folder }
    }
}

impl Drop for Bare {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Serves the bytes of a file until it is ended.
pub async fn serve(file: &str, content_type: &str) {
    let bytes = Bytes::from(std::fs::read(file).expect("the bytes"));
    let content_type = HeaderValue::from_str(content_type).expect("a media type");
    let app = Router::new().route("/", get(async move || ([(CONTENT_TYPE, content_type)], bytes)));
    let listener = TcpListener::bind("127.0.0.1:0").await.expect("a free port");
    println!("{}", listener.local_addr().expect("an address"));
    let listener = listener.tap_io(|stream| {
        let _ = stream.set_nodelay(true);
    });
    axum::serve(listener, app).await.expect("it serves");
}
