//! What Prometheus is told.

use std::net::TcpListener;
use std::process::Command;
use std::time::{Duration, Instant};

use axum::body::Body;
use baycast_grpc::proto::GetFeedstockRequest;
use baycast_grpc::proto::maturity_service_client::MaturityServiceClient;
use serde_json::json;
use tonic::transport::Channel;

use crate::databases::Database;
use crate::histories::full;
use crate::http::{estimate, get, send};
use crate::records_rest::yard::Yard;
use crate::server::Server;
use crate::webhooks::yard::{HOOKS, hook, test};

/// An address at which nobody listens now.
pub fn free() -> String {
    let listener = TcpListener::bind("127.0.0.1:0").expect("a free port");
    listener.local_addr().expect("it has an address").to_string()
}

/// What is told at an address, where somebody listens.
pub fn told(address: &str) -> String {
    let url = format!("http://{address}/metrics");
    let output = Command::new("curl").args(["-sSf", "-D", "-", &url]).output().expect("curl runs");
    assert!(output.status.success(), "{output:?}");
    let told = String::from_utf8(output.stdout).expect("UTF-8");
    assert!(
        told.to_lowercase().contains("content-type: application/openmetrics-text; version=1.0.0"),
        "{told}"
    );
    assert!(told.ends_with("# EOF\n"), "{told}");
    told
}

/// The value of a series.
fn value(told: &str, series: &str) -> f64 {
    let line = told.lines().find_map(|line| line.strip_prefix(series)?.strip_prefix(' '));
    line.unwrap_or_else(|| panic!("no {series} in {told}")).parse().expect("a number")
}

/// The series that counts requests.
fn requests(method: &str, route: &str, status: &str) -> String {
    let labels = format!(r#"{{method="{method}",route="{route}",status="{status}"}}"#);
    format!("baycast_request_duration_seconds_count{labels}")
}

#[tokio::test]
async fn requests_are_counted_by_route_and_never_by_path() {
    let address = free();
    let server = Server::with(&["--metrics-listen", &address]);
    for feedstock in ["grass_mowings", "shredded_prunings", "granite"] {
        get(&server, &format!("/v1/feedstocks/{feedstock}")).await;
    }
    for secret in 0..20 {
        get(&server, &format!("/feeds/secret-{secret}/readiness.csv")).await;
        get(&server, &format!("/secret-{secret}")).await;
        let headers = [("content-type", "application/grpc")];
        send(&server, "POST", &format!("/secret.Service/Call{secret}"), &headers, Body::empty()).await;
        send(&server, &format!("SECRET{secret}"), "/livez", &[], Body::empty()).await;
    }
    let endpoint = Channel::from_shared(format!("http://{}", server.address)).expect("an address");
    let mut client = MaturityServiceClient::new(endpoint.connect().await.expect("a connection"));
    for feedstock in ["grass_mowings", "granite"] {
        let _ = client.get_feedstock(GetFeedstockRequest { feedstock: feedstock.to_owned() }).await;
    }
    let told = told(&address);
    let call = "/baycast.v1.MaturityService/GetFeedstock";
    for (method, route, status, count) in [
        ("GET", "/v1/feedstocks/{feedstock}", "200", 2.0),
        ("GET", "/v1/feedstocks/{feedstock}", "404", 1.0),
        ("GET", "/feeds/{token}/readiness.csv", "404", 20.0),
        ("GET", "none", "404", 20.0),
        ("other", "/livez", "405", 20.0),
        ("POST", call, "Ok", 1.0),
        ("POST", call, "NotFound", 1.0),
    ] {
        assert_eq!(value(&told, &requests(method, route, status)), count, "{told}");
    }
    assert!(!told.to_lowercase().contains("secret"), "{told}");
    let below = r#"{le="30.0",method="GET",route="/feeds/{token}/readiness.csv",status="404"}"#;
    assert_eq!(value(&told, &format!("baycast_request_duration_seconds_bucket{below}")), 20.0);
}

#[tokio::test]
async fn they_are_told_on_their_own_address_only() {
    let address = free();
    let server = Server::with(&["--metrics-listen", &address]);
    assert_eq!(get(&server, "/metrics").await.status, 404);
    let url = format!("http://{address}/livez");
    let other = Command::new("curl").args(["-s", "-o", "/dev/null", "-w", "%{http_code}", &url]).output();
    assert_eq!(other.expect("curl runs").stdout, b"404");
    let version = env!("CARGO_PKG_VERSION");
    let build = format!(r#"baycast_build_info{{version="{version}",model="{}"}}"#, baycast_model::VERSION);
    assert_eq!(value(&told(&address), &build), 1.0);
}

#[tokio::test]
async fn work_is_counted_and_what_is_turned_away_too() {
    let address = free();
    let server = Server::with(&["--metrics-listen", &address, "--concurrency", "1", "--queue", "0"]);
    let history = full();
    let answers = futures::future::join_all((0..8).map(|_| estimate(&server, &history))).await;
    let served = answers.iter().filter(|answer| answer.status == 200).count();
    let told = told(&address);
    assert_eq!(value(&told, r#"baycast_work_done_total{kind="all"}"#), served as f64, "{told}");
    assert_eq!(value(&told, r#"baycast_shed_total{room="queue"}"#), (8 - served) as f64, "{told}");
    assert_eq!(value(&told, &requests("POST", "/v1/estimates", "200")), served as f64, "{told}");
    for idle in ["baycast_work_running", "baycast_queue_places_taken", "baycast_requests_under_way"] {
        assert_eq!(value(&told, idle), 0.0, "{idle}");
    }
}

#[tokio::test]
async fn the_records_connections_and_webhooks_are_told() {
    let (database, address, nobody) = (Database::sqlite(), free(), free());
    let server = Server::with(&[
        "--store",
        &database.url,
        "--metrics-listen",
        &address,
        "--webhook-allow-internal",
        "127.0.0.1",
        "--webhook-attempts",
        "1",
    ]);
    let yard = Yard { server, database };
    yard.farm(None, "home", "").await;
    let (id, _) = hook(&yard, &format!("http://{nobody}/in")).await;
    test(&yard, &id).await;
    let given_up = r#"baycast_webhook_attempts_total{outcome="given_up"}"#;
    let since = Instant::now();
    while value(&told(&address), given_up) < 1.0 {
        assert!(since.elapsed() < Duration::from_mins(1), "{}", told(&address));
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    let told = told(&address);
    assert_eq!(value(&told, r#"baycast_webhook_attempts_total{outcome="taken"}"#), 0.0);
    let state = |state| value(&told, &format!(r#"baycast_store_connections{{state="{state}"}}"#));
    assert!(state("idle") + state("in_use") >= 1.0, "{told}");
    let listed = yard.good("GET", HOOKS, None, None).await;
    assert_ne!(listed["items"], json!([]));
}
