//! A real PostgreSQL server in a private folder, on a free port of the loopback address.

use std::io::{BufRead, BufReader, Write};
use std::net::TcpListener;
use std::path::PathBuf;
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::sync::Mutex;

/// Starts the server, says so, breaks it off or starts it again where it is told to, and stops it and removes its folder when its own input ends, which it does when the test
/// binary ends, even by `kill -9`. The server refuses to run as root, so root runs it as the user who came with it.
const SCRIPT: &str = r#"
set -eu
bin=$1 port=$2
dir=$(mktemp -d "${TMPDIR:-/tmp}/baycast-server-XXXXXX")
as=
if [ "$(id -u)" = 0 ]; then
    user=postgres
    id -u "$user" >/dev/null 2>&1 || user=nobody
    chown "$user" "$dir"
    as="setpriv --reuid=$user --regid=$(id -g "$user") --clear-groups"
fi
cd "$dir"
$as "$bin/initdb" -D "$dir/data" -U baycast -A trust -E UTF8 --no-locale >"$dir/log" 2>&1 || { cat "$dir/log" >&2; exit 1; }
start() {
    $as "$bin/postgres" -D "$dir/data" -p "$port" -c listen_addresses=127.0.0.1 -c unix_socket_directories= \
        -c max_connections=300 >>"$dir/log" 2>&1 </dev/null &
    server=$!
    tries=0
    until "$bin/pg_isready" -q -h 127.0.0.1 -p "$port"; do
        tries=$((tries + 1))
        [ "$tries" -lt 300 ] || { cat "$dir/log" >&2; exit 1; }
        sleep 0.1
    done
}
trap 'kill -INT $server 2>/dev/null || true; wait $server || true; rm -rf "$dir"' EXIT
start
echo ready
while read -r word; do
    case $word in
        # What `pg_ctl stop -m immediate` sends: it breaks off whatever it does.
        stop) kill -QUIT $server; wait $server || true ;;
        start) start ;;
    esac
    echo ready
done
"#;

/// A running server.
pub struct PostgresServer {
    port: u16,
    /// The server runs as long as the first of these is open.
    script: Mutex<(ChildStdin, BufReader<ChildStdout>)>,
    _process: Child,
}

impl PostgresServer {
    /// Starts one.
    pub fn start() -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").expect("a free port");
        let port = listener.local_addr().expect("an address").port();
        drop(listener);
        let mut process = Command::new("sh")
            .args(["-c", SCRIPT, "sh"])
            .arg(binaries())
            .arg(port.to_string())
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("a shell runs");
        let input = process.stdin.take().expect("its input");
        let mut output = BufReader::new(process.stdout.take().expect("its output"));
        ready(&mut output);
        Self { port, script: Mutex::new((input, output)), _process: process }
    }

    /// Stops it at once: whoever is connected is cut off, and what was not committed is gone.
    pub fn stop(&self) {
        self.tell("stop");
    }

    /// Starts it again; returns once it takes connections.
    pub fn start_again(&self) {
        self.tell("start");
    }

    fn tell(&self, word: &str) {
        let (input, output) = &mut *self.script.lock().expect("no test fails in it");
        writeln!(input, "{word}").expect("its input is open");
        ready(output);
    }

    /// The URL of a database on it.
    pub fn url(&self, database: &str) -> String {
        format!("postgres://baycast@127.0.0.1:{}/{database}", self.port)
    }
}

/// Waits until the script has done what it was told.
fn ready(output: &mut BufReader<ChildStdout>) {
    let mut line = String::new();
    output.read_line(&mut line).expect("its output reads");
    assert_eq!(line, "ready\n", "PostgreSQL starts");
}

/// The folder of `initdb` and `postgres`: the newest version that is installed, or that on the path.
fn binaries() -> PathBuf {
    let versions = std::fs::read_dir("/usr/lib/postgresql").into_iter().flatten().flatten();
    let installed = versions
        .filter_map(|entry| {
            Some((entry.file_name().to_str()?.parse::<u32>().ok()?, entry.path().join("bin")))
        })
        .filter(|(_, bin)| bin.join("initdb").exists())
        .max();
    if let Some((_, bin)) = installed {
        return bin;
    }
    let path = std::env::var_os("PATH").unwrap_or_default();
    let found = std::env::split_paths(&path).find(|folder| folder.join("initdb").exists());
    found.expect("PostgreSQL is installed: Debian's package is `postgresql`")
}
