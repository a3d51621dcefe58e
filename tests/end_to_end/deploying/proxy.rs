//! nginx with the product's configuration, in front of servers.

use std::fs;
use std::net::{TcpListener, TcpStream};
use std::os::unix::fs::chown;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use super::{deployed, succeed};
use crate::databases::Folder;

/// The user whom nginx runs as where the tests run as root.
const NOBODY: u32 = 65_534;
/// Longest time until it takes connections.
const PATIENCE: Duration = Duration::from_secs(20);

/// A running nginx, stopped when dropped.
pub struct Proxy {
    child: Child,
    folder: Folder,
    /// Where it speaks TLS, under the name `localhost`.
    pub port: u16,
    /// Where it sends on to that.
    pub plain_port: u16,
}

impl Proxy {
    /// Starts it before two servers.
    pub fn before(addresses: [&str; 2]) -> Self {
        let folder = Folder::new("baycast-proxy");
        let (port, plain_port) = (free_port(), free_port());
        let main = configure(folder.path(), addresses, port, plain_port);
        let mut command = unprivileged(folder.path());
        command.args(["-g", "daemon off;", "-e", "error.log", "-p"]).arg(folder.path()).arg("-c").arg(main);
        let mut child = command.stdin(Stdio::null()).spawn().expect("nginx runs");
        let started = Instant::now();
        while TcpStream::connect(("127.0.0.1", port)).is_err() {
            let ended = child.try_wait().expect("the process is ours");
            assert!(ended.is_none(), "nginx ended: {ended:?}");
            assert!(started.elapsed() < PATIENCE, "nginx takes no connections");
            std::thread::sleep(Duration::from_millis(20));
        }
        Self { child, folder, port, plain_port }
    }

    /// Who vouches for it.
    pub fn authority(&self) -> PathBuf {
        self.folder.path().join("secret/tls.crt")
    }

    /// All that it logged so far.
    pub fn logged(&self) -> String {
        let read = |name: &str| fs::read_to_string(self.folder.path().join(name)).expect("a log");
        read("access.log") + &read("error.log")
    }
}

impl Drop for Proxy {
    fn drop(&mut self) {
        // Its workers end with it.
        let kill = format!("kill -s TERM {}", self.child.id());
        let _ = Command::new("sh").args(["-c", &kill]).status();
        let _ = self.child.wait();
    }
}

/// A port that nobody had a moment ago.
fn free_port() -> u16 {
    let listener = TcpListener::bind("127.0.0.1:0").expect("a free port");
    listener.local_addr().expect("an address").port()
}

/// nginx as a user who may nothing but write to this folder.
fn unprivileged(folder: &Path) -> Command {
    let is_root = fs::metadata("/proc/self").is_ok_and(|own| std::os::unix::fs::MetadataExt::uid(&own) == 0);
    if !is_root {
        return Command::new("nginx");
    }
    let everything = ["", "conf.d", "secret", "secret/tls.key", "secret/tls.crt", "access.log", "error.log"];
    for path in everything {
        chown(folder.join(path), Some(NOBODY), Some(NOBODY)).expect("it is given away");
    }
    let mut command = Command::new("setpriv");
    command.arg(format!("--reuid={NOBODY}")).arg(format!("--regid={NOBODY}"));
    command.args(["--clear-groups", "--no-new-privs", "--bounding-set=-all", "nginx"]);
    command
}

/// Lays out the configuration with other ports and places, and a certificate by the script for the compose file; where it
/// begins.
fn configure(folder: &Path, addresses: [&str; 2], port: u16, plain_port: u16) -> PathBuf {
    let within = |path: &str| folder.join(path).display().to_string();
    fs::copy(deployed("compose/secrets"), folder.join("secrets")).expect("the script");
    succeed(&mut Command::new(folder.join("secrets")));
    fs::create_dir(folder.join("conf.d")).expect("a folder");
    for log in ["access.log", "error.log"] {
        fs::write(folder.join(log), "").expect("a log");
    }
    let mut places = vec![
        ("/etc/nginx/tls/".to_owned(), within("secret/")),
        ("/etc/nginx/conf.d/".to_owned(), within("conf.d/")),
        ("/var/log/nginx/".to_owned(), within("")),
        ("listen 443 ".to_owned(), format!("listen 127.0.0.1:{port} ")),
        ("listen 80;".to_owned(), format!("listen 127.0.0.1:{plain_port};")),
        ("    listen [::]:443 ssl http2;\n".to_owned(), String::new()),
        ("    listen [::]:80;\n".to_owned(), String::new()),
        ("172.30.83.11:8300".to_owned(), addresses[0].to_owned()),
        ("172.30.83.12:8300".to_owned(), addresses[1].to_owned()),
    ];
    let written = ["nginx.pid", "body", "proxy", "fastcgi", "uwsgi", "scgi"];
    places.extend(written.map(|name| (format!("/tmp/{name};"), format!("{};", within(name)))));
    let mut met = vec![0; places.len()];
    let mut lay = |from: &str, to: PathBuf| {
        let mut text = fs::read_to_string(deployed(from)).expect("the configuration");
        for ((own, other), met) in places.iter().zip(&mut met) {
            *met += text.matches(own.as_str()).count();
            text = text.replace(own, other);
        }
        fs::write(&to, text).expect("a file");
        to
    };
    lay("nginx/baycast.conf", folder.join("conf.d/baycast.conf"));
    lay("compose/replicas.conf", folder.join("conf.d/replicas.conf"));
    let main = lay("nginx/nginx.conf", folder.join("nginx.conf"));
    for ((own, _), met) in places.iter().zip(met) {
        assert!(met > 0, "{own} stands nowhere");
    }
    main
}

#[test]
fn nginx_takes_it_for_one_server_and_for_two() {
    for replicas in ["compose/replicas.conf", "nginx/replicas.conf"] {
        let folder = Folder::new("baycast-nginx");
        let main = configure(folder.path(), ["127.0.0.1:1", "127.0.0.1:2"], free_port(), free_port());
        fs::copy(deployed(replicas), folder.path().join("conf.d/replicas.conf")).expect("a file");
        let check = || {
            let mut command = unprivileged(folder.path());
            command.args(["-t", "-e", "error.log", "-p"]).arg(folder.path()).arg("-c").arg(&main);
            command
        };
        assert!(!succeed(&mut check()).contains("[warn]"));
        let place = folder.path().join("conf.d/baycast.conf");
        let text = fs::read_to_string(&place).expect("a file");
        fs::write(&place, text.replace("proxy_buffering off", "proxy_bufferring off")).expect("a file");
        assert!(super::fail(&mut check()).contains("proxy_bufferring"));
    }
}
