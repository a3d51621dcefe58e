//! Two replicas over PostgreSQL behind nginx, one of which is killed while clients write.

use std::io::{BufRead, BufReader, Read, Write};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use serde_json::Value;

use super::proxy::Proxy;
use super::{said, succeed};
use crate::binary::{self, repository};
use crate::databases::Database;
use crate::python::python;
use crate::server::Server;

/// How soon a change is to be told, s.
const SOON_S: f64 = 1.0;
/// How long nginx waits for the head of a request, with what a busy machine needs beside.
const HEAD: std::ops::Range<Duration> = Duration::from_secs(9)..Duration::from_secs(25);

/// Two servers that are told of the proxy, over one PostgreSQL with a key.
struct Farm {
    servers: [Server; 2],
    proxy: Proxy,
    key: String,
    _database: Database,
}

impl Farm {
    async fn start() -> Self {
        let database = Database::postgres().await;
        let mut create = Command::new(binary::path());
        create.args(["keys", "create", "--scope", "admin", "--all-farms", "test", "--store", &database.url]);
        let made = create.stderr(Stdio::inherit()).output().expect("the binary runs");
        let key = String::from_utf8(made.stdout).expect("text").trim().to_owned();
        assert!(key.starts_with("bck_"), "a key");
        let start = || {
            let arguments = ["--store", &database.url];
            Server::with_environment(
                &arguments,
                &[("BAYCAST_BEHIND_PROXY", "true"), ("BAYCAST_REQUESTS_PER_SECOND", "0")],
            )
        };
        let servers = [start(), start()];
        let proxy = Proxy::before(servers.each_ref().map(|server| server.address.as_str()));
        Self { servers, proxy, key, _database: database }
    }

    /// What curl says of a request, headers first.
    fn curl(&self, path: &str, more: &[&str]) -> String {
        let mut command = Command::new("curl");
        command.args(["-sS", "-i", "--max-time", "60", "--cacert"]).arg(self.proxy.authority());
        command.args(more).arg(format!("https://localhost:{}{path}", self.proxy.port));
        succeed(&mut command)
    }
}

#[tokio::test]
async fn nothing_acknowledged_is_lost_and_no_reader_waits_in_vain() {
    let mut farm = Farm::start().await;
    let mut clients = Command::new(python());
    clients.arg(repository().join("tests/python/behind_proxy.py"));
    clients.args(["localhost", &farm.proxy.port.to_string()]).arg(farm.proxy.authority()).arg(&farm.key);
    clients.arg(repository().join("proto")).env("PYTHONDONTWRITEBYTECODE", "1");
    let mut clients =
        clients.stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().expect("the clients start");
    let mut told = BufReader::new(clients.stdout.take().expect("their output"));
    let mut line = String::new();
    told.read_line(&mut line).expect("their output reads");
    assert_eq!(line, "stop one\n");
    farm.servers[0].kill();
    clients.stdin.take().expect("their input").write_all(b"stopped\n").expect("they are told");
    let mut seen = String::new();
    told.read_to_string(&mut seen).expect("their output reads");
    assert!(clients.wait().expect("they end").success(), "{seen}");

    let seen: Value = serde_json::from_str(&seen).expect("JSON");
    println!("behind a proxy: {seen}");
    assert_eq!(seen["refused"], "UNAUTHENTICATED");
    assert_eq!(seen["batch"], "heap");
    assert_eq!(seen["faults"], Value::Array(vec![]));
    assert_eq!(seen["lost"], Value::Array(vec![]), "acknowledged, and not recorded");
    assert_eq!(seen["more"], 0, "recorded more than once");
    assert_eq!(seen["unread"], Value::Array(vec![]), "answers that readers never had");
    for (what, least) in [("acknowledged", 10), ("after", 5), ("read", 20)] {
        assert!(seen[what].as_u64() > Some(least), "{what}: {seen}");
    }
    let took = seen["changes_s"].as_array().expect("times").iter().filter_map(Value::as_f64);
    assert!(took.fold(f64::INFINITY, f64::min) < SOON_S, "a change is told within a second: {seen}");
    let logged = farm.proxy.logged();
    for server in &farm.servers {
        assert!(logged.contains(&format!("\"replica\":\"{}\"", server.address)), "both were asked");
    }
}

#[tokio::test]
async fn what_it_says_itself_is_said_as_the_service_does_and_no_feeds_address_is_logged() {
    let mut farm = Farm::start().await;
    let authorization = format!("authorization: Bearer {}", farm.key);
    let json = ["-H", &authorization, "-H", "content-type: application/json", "-d"];
    let home = r#"{"id": "home", "name": "", "site": {"latitude_deg": 52}, "time_zone": "Etc/UTC"}"#;
    let made = farm.curl("/v1/farms", &[&json[..], &[home]].concat());
    assert!(made.starts_with("HTTP/2 201"), "{made}");
    let made = farm.curl("/v1/farms/home/feeds", &[&json[..], &[r#"{"name": "crew"}"#]].concat());
    let path = made.split("\"path\":\"").nth(1).and_then(|rest| rest.split('"').next()).expect("a path");
    let feed = format!("{path}/readiness.csv");
    assert!(farm.curl(&feed, &[]).starts_with("HTTP/2 200"));
    let plain = format!("http://localhost:{}/readyz?a=b", farm.proxy.plain_port);
    let sent_on = said(&Command::new("curl").args(["-sS", "-i", &plain]).output().expect("curl runs"));
    assert!(
        sent_on.starts_with("HTTP/1.1 308") && sent_on.contains("https://localhost/readyz?a=b"),
        "{sent_on}"
    );
    // gRPC-Web, on the same paths as gRPC: one empty message, answered with its trailers in the body.
    let kind = "application/grpc-web-text";
    let (sent, taken) = (format!("content-type: {kind}"), format!("accept: {kind}"));
    let web = ["--http1.1", "-H", &sent, "-H", &taken, "-d", "AAAAAAA="];
    let web = farm.curl("/grpc.health.v1.Health/Check", &web);
    assert!(web.starts_with("HTTP/1.1 200") && web.contains("AAAAAAIIAQ=="), "{web}");

    for server in &mut farm.servers {
        server.kill();
    }
    let away = farm.curl("/v1/farms/home", &["-H", &authorization]).to_lowercase();
    assert!(away.starts_with("http/2 503"), "{away}");
    for part in
        ["retry-after: 2", "content-type: application/problem+json", "urn:baycast:problem:unavailable"]
    {
        assert!(away.contains(part), "{part} in {away}");
    }
    let call = ["-H", "content-type: application/grpc", "-H", "te: trailers", "-X", "POST"];
    let away = farm.curl("/baycast.v1.RecordsService/ListFarms", &call).to_lowercase();
    assert!(away.starts_with("http/2 200") && away.contains("grpc-status: 14"), "{away}");
    assert!(farm.curl(&feed, &[]).starts_with("HTTP/2 503"));

    let logged = farm.proxy.logged();
    let token = path.rsplit('/').next().expect("a token");
    assert!(!logged.contains(token), "the address of a feed opens a farm: {logged}");
    assert!(logged.contains("\"path\":\"/feeds/***/readiness.csv\""), "{logged}");
    assert!(!logged.contains(&farm.key));
}

#[tokio::test]
async fn who_never_ends_a_head_is_cut_off() {
    let farm = Farm::start().await;
    let mut slow = std::net::TcpStream::connect(("127.0.0.1", farm.proxy.plain_port)).expect("it connects");
    slow.set_read_timeout(Some(HEAD.end)).expect("a timeout");
    slow.write_all(b"GET / HTTP/1.1\r\nHost: localhost\r\nX-Slow: ").expect("it is taken");
    let since = Instant::now();
    let mut answer = String::new();
    slow.read_to_string(&mut answer).expect("it is ended");
    assert!(HEAD.contains(&since.elapsed()), "{:?}", since.elapsed());
    assert!(answer.is_empty() || answer.starts_with("HTTP/1.1 408"), "{answer}");
}
