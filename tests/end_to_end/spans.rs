//! Spans as someone who gathers them gets them: a server in Python with OpenTelemetry's own definitions.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{BufRead, BufReader};
use std::path::PathBuf;
use std::process::{Child, ChildStdin, Command, Output, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

use baycast_grpc::proto::GetFeedstockRequest;
use baycast_grpc::proto::maturity_service_client::MaturityServiceClient;
use rustix::process::{Pid, Signal, kill_process};
use serde_json::{Value, json};
use tonic::Request;
use tonic::transport::Channel;

use crate::binary::{self, repository};
use crate::databases::Database;
use crate::histories::full;
use crate::http;
use crate::metrics::free;
use crate::python::python;
use crate::server::Server;

/// How long spans may take to arrive.
const PATIENCE: Duration = Duration::from_mins(1);
/// The example of the W3C recommendation "Trace Context" (2021), section 3.2: trace and parent.
const TRACE: &str = "0af7651916cd43dd8448eb211c80319c";
const PARENT: &str = "b7ad6b7169203331";

/// What gathers spans.
struct Collector {
    child: Child,
    /// It ends with it.
    _input: Option<ChildStdin>,
    port: String,
    spans: Receiver<Value>,
}

impl Collector {
    /// On a free port.
    fn start() -> Self {
        Self::at("0", &[])
    }

    /// On a port, with a certificate and its key or none.
    fn at(port: &str, tls: &[PathBuf]) -> Self {
        let mut command = Command::new(python());
        command.arg("-B").arg(repository().join("tests/python/span_collector.py")).arg(port).args(tls);
        let mut child =
            command.stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().expect("the collector starts");
        let mut lines = BufReader::new(child.stdout.take().expect("output is piped")).lines();
        let port = lines.next().expect("a line").expect("text");
        let (told, spans) = channel();
        std::thread::spawn(move || {
            for line in lines.map_while(Result::ok) {
                let _ = told.send(serde_json::from_str(&line).expect("a line is JSON"));
            }
        });
        Self { _input: child.stdin.take(), child, port, spans }
    }

    fn url(&self) -> String {
        format!("http://127.0.0.1:{}", self.port)
    }

    /// What came until a span of this name did, that one last.
    fn until(&self, name: &str) -> Vec<Value> {
        let (mut came, until) = (Vec::<Value>::new(), Instant::now() + PATIENCE);
        while came.last().is_none_or(|span| span["name"] != name) {
            let left = until.saturating_duration_since(Instant::now());
            let next = self.spans.recv_timeout(left);
            came.push(next.unwrap_or_else(|error| panic!("no `{name}`: {error}: {came:#?}")));
        }
        came
    }
}

impl Drop for Collector {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// A server that sends spans soon, and logs to a file.
fn exporting(arguments: &[&str], to: &str, more: &[(&str, &str)], log: &File) -> Server {
    let mut command = Server::command(arguments);
    command
        .env("OTEL_EXPORTER_OTLP_ENDPOINT", to)
        .env("OTEL_BSP_SCHEDULE_DELAY", "100")
        .envs(more.iter().copied());
    command.env("RUST_LOG", "debug").stderr(log.try_clone().expect("a handle"));
    Server::listening(command.spawn().expect("the binary starts"))
}

fn run(arguments: &[&str]) -> Output {
    Command::new(binary::path()).args(arguments).output().expect("the binary runs")
}

#[tokio::test]
async fn requests_become_spans_of_their_callers_traces() {
    let (collector, database) = (Collector::start(), Database::sqlite());
    let made = run(&["keys", "create", "--scope", "admin", "--all-farms", "--store", &database.url, "spans"]);
    let key = String::from_utf8(made.stdout).expect("a key").trim().to_owned();
    let path = database.folder.path().join("log");
    let log = File::create(&path).expect("a log file");
    let named = [
        ("OTEL_RESOURCE_ATTRIBUTES", "deployment.environment.name=test"),
        ("OTEL_EXPORTER_OTLP_HEADERS", "tenant=larkfield"),
    ];
    let mut server = exporting(&["--store", &database.url, "--log", "json"], &collector.url(), &named, &log);

    let bearer = format!("Bearer {key}");
    let with_key = ("authorization", bearer.as_str());

    // One that its caller does not follow, and so nobody does.
    let unfollowed = format!("00-{TRACE}-{PARENT}-00");
    let headers = [with_key, ("content-type", "application/json"), ("traceparent", unfollowed.as_str())];
    let answer = http::send(&server, "POST", "/v1/estimates", &headers, full().to_string()).await;
    assert!(
        answer.header("traceparent").starts_with(&format!("00-{TRACE}-"))
            && answer.header("traceparent").ends_with("-00")
    );
    let followed = format!("00-{TRACE}-{PARENT}-01");
    let headers = [
        with_key,
        ("content-type", "application/json"),
        ("traceparent", followed.as_str()),
        ("tracestate", "farm=7"),
    ];
    let answer = http::send(&server, "POST", "/v1/estimates", &headers, full().to_string()).await;
    assert_eq!(answer.status, 200);
    let came = collector.until("POST /v1/estimates");
    let whole = came.last().expect("it came");
    println!("{whole:#}");
    assert_eq!(whole["kind"], "SPAN_KIND_SERVER");
    assert_eq!([&whole["trace"], &whole["parent"], &whole["state"]], [TRACE, PARENT, "farm=7"]);
    assert_eq!(
        answer.header("traceparent"),
        format!("00-{TRACE}-{}-01", whole["span"].as_str().expect("an id"))
    );
    assert_eq!(answer.header("x-request-id"), TRACE);
    assert_eq!(
        whole["attributes"],
        json!({ "http.request.method": "POST", "http.route": "/v1/estimates", "http.response.status_code": 200 })
    );
    assert_eq!((&whole["status"], &whole["events"]), (&json!("STATUS_CODE_UNSET"), &json!(0)));
    let resource = &whole["resource"];
    assert_eq!([&resource["service.name"], &resource["deployment.environment.name"]], ["baycast", "test"]);
    assert_eq!(whole["headers"]["tenant"], "larkfield");
    let inner: BTreeMap<&str, &Value> =
        came[..came.len() - 1].iter().map(|span| (span["name"].as_str().expect("a name"), span)).collect();
    assert_eq!(inner.keys().copied().collect::<Vec<_>>(), ["wait for a worker", "work"], "{came:#?}");
    assert!(
        inner.values().all(|span| span["parent"] == whole["span"] && span["trace"] == TRACE),
        "{came:#?}"
    );
    let took = |span: &Value| span["took_ns"].as_u64().expect("a time");
    assert!(took(inner["work"]) > 100_000 && took(inner["work"]) <= took(whole), "{came:#?}");

    // A trace of our own; the key and what is asked for by name stay here.
    let answer = http::send(&server, "GET", "/v1/farms/nobodys-business", &[with_key], String::new()).await;
    assert_eq!(answer.status, 404);
    let came = collector.until("GET /v1/farms/{farm}");
    let whole = came.last().expect("it came");
    assert_eq!((&whole["parent"], &whole["status"]), (&json!(""), &json!("STATUS_CODE_UNSET")));
    assert_eq!(answer.header("x-request-id"), whole["trace"]);
    assert!(
        came.iter().any(|span| span["name"] == "records" && span["parent"] == whole["span"]),
        "{came:#?}"
    );
    let told = format!("{came:?}");
    assert!(!told.contains("nobodys") && !told.contains(&key), "{told}");

    let endpoint = Channel::from_shared(format!("http://{}", server.address)).expect("an address");
    let mut client = MaturityServiceClient::new(endpoint.connect().await.expect("a connection"));
    let mut unknown = Request::new(GetFeedstockRequest { feedstock: "granite".to_owned() });
    unknown.metadata_mut().insert("authorization", bearer.parse().expect("letters"));
    client.get_feedstock(unknown).await.expect_err("there is none");
    let came = collector.until("baycast.v1.MaturityService/GetFeedstock");
    let whole = came.last().expect("it came");
    assert_eq!(
        whole["attributes"],
        json!({
            "rpc.system.name": "grpc", "rpc.method": "baycast.v1.MaturityService/GetFeedstock",
            "rpc.response.status_code": "NOT_FOUND"
        })
    );

    // What was answered last is sent before the end.
    http::get(&server, "/v1/feedstocks").await;
    let pid = Pid::from_child(&server.child);
    kill_process(pid, Signal::TERM).expect("it runs");
    assert!(server.child.wait().expect("it ends").success());
    collector.until("GET /v1/feedstocks");

    let log = fs::read_to_string(path).expect("the log");
    let ours =
        log.lines().find(|line| line.contains("/v1/estimates") && line.contains("answered")).expect("a line");
    assert!(ours.contains(&format!(r#""trace_id":"{TRACE}""#)) && !log.contains("otel."), "{ours}");
}

#[tokio::test]
async fn nobody_waits_for_one_who_gathers_no_spans() {
    let folder = tempfile::tempdir().expect("a folder can be made");
    let path = folder.path().join("log");
    let log = File::create(&path).expect("a log file");
    let away = free();
    let mut server = exporting(&[], &format!("http://{away}"), &[], &log);
    let said = |what: &str| fs::read_to_string(&path).expect("the log").matches(what).count();
    let wait = async |what: &str| {
        let until = Instant::now() + PATIENCE;
        while said(what) == 0 {
            assert!(Instant::now() < until, "not said: {what}");
            http::get(&server, "/v1/feedstocks").await;
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
    };
    wait("spans are not sent").await;
    let port = away.rsplit(':').next().expect("a port");
    let collector = Collector::at(port, &[]);
    wait("spans are sent again").await;
    collector.until("GET /v1/feedstocks");
    drop(collector);
    let asked = Instant::now();
    assert_eq!(http::get(&server, "/v1/feedstocks").await.status, 200);
    kill_process(Pid::from_child(&server.child), Signal::TERM).expect("it runs");
    assert!(server.child.wait().expect("it ends").success());
    assert!(asked.elapsed() < Duration::from_secs(20), "{:?}", asked.elapsed());
    assert!(said("spans are not sent") <= 2, "told once for each outage");
}

#[tokio::test]
async fn spans_are_sent_over_tls_to_whom_the_machine_trusts() {
    let folder = tempfile::tempdir().expect("a folder can be made");
    let made = rcgen::generate_simple_self_signed(["127.0.0.1".to_owned()]).expect("a certificate");
    let tls = ["tls.crt", "tls.key", "log"].map(|name| folder.path().join(name));
    fs::write(&tls[0], made.cert.pem()).expect("a file");
    fs::write(&tls[1], made.signing_key.serialize_pem()).expect("a file");
    let (collector, log) = (Collector::at("0", &tls[..2]), File::create(&tls[2]).expect("a log file"));
    let trusted = [("SSL_CERT_FILE", tls[0].to_str().expect("a path in UTF-8"))];
    let server = exporting(&[], &format!("https://127.0.0.1:{}", collector.port), &trusted, &log);
    http::get(&server, "/v1/feedstocks").await;
    collector.until("GET /v1/feedstocks");
}

#[test]
fn an_endpoint_that_is_none_is_refused() {
    for wrong in ["127.0.0.1:4317", "ftp://127.0.0.1", "collector"] {
        let refused = run(&["serve", "--otlp-endpoint", wrong]);
        let told = String::from_utf8_lossy(&refused.stderr).into_owned();
        assert!(
            !refused.status.success() && told.contains(wrong) && told.contains("http://127.0.0.1:4317"),
            "{told}"
        );
    }
}

#[tokio::test]
async fn an_empty_variable_is_as_none() {
    let log = tempfile::tempfile().expect("a log file");
    let server = exporting(&[], "", &[], &log);
    assert_eq!(http::get(&server, "/v1/feedstocks").await.status, 200);
}
