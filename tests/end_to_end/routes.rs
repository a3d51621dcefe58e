//! Every REST route when all goes well.

use std::collections::BTreeSet;

use axum::body::Body;
use baycast_model::estimate::Estimate;
use baycast_model::feedstock::Feedstock;
use serde_json::{Value, json};

use crate::histories::full;
use crate::http::{estimate, get, send};
use crate::server::Server;

#[tokio::test]
async fn the_routes_are_those_described_here() {
    let server = Server::start();
    let description = get(&server, "/openapi.json").await.json();
    let routes: BTreeSet<_> = description["paths"].as_object().expect("paths").keys().cloned().collect();
    let described = [
        "/feeds/{token}/batches/{batch}/{value}",
        "/feeds/{token}/readiness.atom",
        "/feeds/{token}/readiness.csv",
        "/feeds/{token}/readiness.feed.json",
        "/feeds/{token}/readiness.ics",
        "/feeds/{token}/readiness.json",
        "/feeds/{token}/ready_m3",
        "/livez",
        "/readyz",
        "/v1/estimates",
        "/v1/estimates:stream",
        "/v1/farms",
        "/v1/farms/{farm}",
        "/v1/farms/{farm}/archive",
        "/v1/farms/{farm}/batches",
        "/v1/farms/{farm}/batches/{batch}",
        "/v1/farms/{farm}/batches/{batch}/archive",
        "/v1/farms/{farm}/batches/{batch}/estimate",
        "/v1/farms/{farm}/batches/{batch}/events",
        "/v1/farms/{farm}/batches/{batch}/events/{event}",
        "/v1/farms/{farm}/batches/{batch}/readiness/{value}",
        "/v1/farms/{farm}/bays",
        "/v1/farms/{farm}/bays/{bay}",
        "/v1/farms/{farm}/bays/{bay}/archive",
        "/v1/farms/{farm}/events",
        "/v1/farms/{farm}/feeds",
        "/v1/farms/{farm}/feeds/{feed}/revoke",
        "/v1/farms/{farm}/feedstocks",
        "/v1/farms/{farm}/feedstocks/{feedstock}",
        "/v1/farms/{farm}/feedstocks/{feedstock}/archive",
        "/v1/farms/{farm}/plan",
        "/v1/farms/{farm}/plans",
        "/v1/farms/{farm}/readiness",
        "/v1/farms/{farm}/readiness.atom",
        "/v1/farms/{farm}/readiness.csv",
        "/v1/farms/{farm}/readiness.feed.json",
        "/v1/farms/{farm}/readiness.ics",
        "/v1/farms/{farm}/readiness/changes",
        "/v1/farms/{farm}/readiness/ready_m3",
        "/v1/farms/{farm}/readiness:watch",
        "/v1/farms/{farm}/recipes",
        "/v1/farms/{farm}/requirements",
        "/v1/farms/{farm}/season",
        "/v1/farms/{farm}/webhooks",
        "/v1/farms/{farm}/webhooks/{webhook}",
        "/v1/farms/{farm}/webhooks/{webhook}/deliveries",
        "/v1/farms/{farm}/webhooks/{webhook}/deliveries/{delivery}",
        "/v1/farms/{farm}/webhooks/{webhook}/deliveries/{delivery}/replay",
        "/v1/farms/{farm}/webhooks/{webhook}/replay",
        "/v1/farms/{farm}/webhooks/{webhook}/rotate",
        "/v1/farms/{farm}/webhooks/{webhook}/test",
        "/v1/feedstocks",
        "/v1/feedstocks/{feedstock}",
        "/v1/keys",
        "/v1/keys/{key}/revoke",
        "/v1/plans",
        "/v1/recipes",
        "/v1/requirements",
    ];
    assert_eq!(routes, described.map(str::to_owned).into());
}

#[tokio::test]
async fn post_estimates() {
    let server = Server::start();
    let answer = estimate(&server, &full()).await;
    assert_eq!(answer.status, 200, "{}", answer.json());
    assert_eq!(answer.header("content-type"), "application/json");
    let estimate: Estimate = serde_json::from_slice(&answer.body).expect("an estimate");
    assert_eq!((estimate.batch.as_str(), estimate.bay.as_str()), ("pallet 2, spring", "timber-1"));
    assert_eq!(estimate.as_of.to_string(), "2026-07-20");
    assert_eq!(estimate.model_version, baycast_model::VERSION);
    assert_eq!(estimate.windows.len(), 3);
    assert_eq!(estimate.provenance.len(), 2);
    // A sum over nothing is -0.0 in IEEE 754 arithmetic; protobuf drops its sign, and no reader wants it.
    let text = String::from_utf8_lossy(&answer.body);
    let signed_zeros = text.split([',', ':', '[', '}', ']']).filter(|token| *token == "-0.0").count();
    assert_eq!(signed_zeros, 0, "{text}");
}

#[tokio::test]
async fn post_estimates_with_the_example_of_the_description() {
    let server = Server::start();
    let description = get(&server, "/openapi.json").await.json();
    let content =
        &description["paths"]["/v1/estimates"]["post"]["requestBody"]["content"]["application/json"];
    let answer = estimate(&server, &content["example"]).await;
    assert_eq!(answer.status, 200, "{}", answer.json());
}

#[tokio::test]
async fn post_estimates_under_other_names_of_json() {
    let server = Server::start();
    let marked = [b"\xef\xbb\xbf".as_slice(), full().to_string().as_bytes()].concat();
    for content_type in ["application/json; charset=utf-8", "application/vnd.farm+json"] {
        let headers = [("content-type", content_type)];
        let answer = send(&server, "POST", "/v1/estimates", &headers, marked.clone()).await;
        assert_eq!(answer.status, 200, "{content_type}");
    }
}

#[tokio::test]
async fn post_estimates_compressed_on_request() {
    let server = Server::start();
    let headers = [("content-type", "application/json"), ("accept-encoding", "gzip")];
    let answer = send(&server, "POST", "/v1/estimates", &headers, full().to_string()).await;
    assert_eq!(answer.header("content-encoding"), "gzip");
    assert_eq!(answer.body[..2], [0x1f, 0x8b], "RFC 1952 section 2.3.1");
    assert!(answer.body.len() < estimate(&server, &full()).await.body.len() / 2);
}

#[tokio::test]
async fn get_feedstocks_page_by_page() {
    let server = Server::start();
    let (mut token, mut seen) = (String::new(), Vec::new());
    loop {
        let page = get(&server, &format!("/v1/feedstocks?page_size=7&page_token={token}")).await.json();
        let items: Vec<Feedstock> = serde_json::from_value(page["items"].clone()).expect("feedstocks");
        assert!((1..=7).contains(&items.len()));
        seen.extend(items);
        match page.get("next_page_token").and_then(Value::as_str) {
            Some(next) => token = next.to_owned(),
            None => break,
        }
    }
    let mut expected = baycast_model::default_feedstocks();
    expected.sort_by(|a, b| a.id.cmp(&b.id));
    assert_eq!(seen, expected);
    assert!(seen.len() >= 30, "{}", seen.len());
}

#[tokio::test]
async fn get_a_feedstock() {
    let server = Server::start();
    let row = get(&server, "/v1/feedstocks/grass_mowings").await.json();
    assert_eq!(row["id"], "grass_mowings");
    assert!(!row["sources"].as_array().expect("sources").is_empty());
}

#[tokio::test]
async fn what_a_caller_has_is_not_sent_again() {
    let server = Server::start();
    for path in ["/openapi.json", "/v1/feedstocks", "/v1/feedstocks/grass_mowings"] {
        let first = get(&server, path).await;
        let tag = first.header("etag");
        assert!(!tag.is_empty(), "{path}");
        for held in [tag, "*", &format!("\"other\", {tag}")] {
            let again = send(&server, "GET", path, &[("if-none-match", held)], Body::empty()).await;
            assert_eq!((again.status.as_u16(), again.body.len()), (304, 0), "{path} with {held}");
            assert_eq!(again.header("etag"), tag);
        }
        let other = send(&server, "GET", path, &[("if-none-match", "\"other\"")], Body::empty()).await;
        assert_eq!((other.status.as_u16(), &other.body), (200, &first.body), "{path}");
    }
}

#[tokio::test]
async fn get_livez_and_readyz() {
    let server = Server::start();
    for (path, said) in [("/livez", "alive\n"), ("/readyz", "ready\n")] {
        let answer = get(&server, path).await;
        assert_eq!((answer.status.as_u16(), answer.body.as_ref()), (200, said.as_bytes()));
        let head = send(&server, "HEAD", path, &[], Body::empty()).await;
        assert_eq!((head.status.as_u16(), head.body.len()), (200, 0));
    }
}

#[tokio::test]
async fn a_wrong_method_is_told_the_right_ones() {
    let server = Server::start();
    let answer = send(&server, "DELETE", "/v1/feedstocks", &[], Body::empty()).await;
    assert_eq!((answer.status.as_u16(), answer.header("allow")), (405, "GET,HEAD"));
    let answer = get(&server, "/v1/estimates:stream").await;
    assert_eq!((answer.status.as_u16(), answer.header("allow")), (405, "POST"));
}

#[tokio::test]
async fn a_request_is_named_after_the_callers_trace() {
    let server = Server::start();
    let trace = "4bf92f3577b34da6a3ce929d0e0e4736";
    let given = format!("00-{trace}-00f067aa0ba902b7-01");
    let answer = send(&server, "GET", "/livez", &[("traceparent", &given)], Body::empty()).await;
    assert_eq!(answer.header("x-request-id"), trace);
    let ours = answer.header("traceparent");
    assert!(ours.starts_with(&format!("00-{trace}-")) && ours.ends_with("-01") && ours != given, "{ours}");
    let (one, other) = (get(&server, "/livez").await, get(&server, "/nowhere").await);
    assert_eq!(one.header("x-request-id").len(), 32);
    assert_ne!(one.header("x-request-id"), other.header("x-request-id"));
}

#[tokio::test]
async fn browsers_are_let_in_by_configuration_only() {
    let page = [("origin", "https://farm.example"), ("access-control-request-method", "POST")];
    let preflight = [page[0], page[1], ("access-control-request-headers", "content-type")];
    let closed = Server::start();
    let answer = send(&closed, "OPTIONS", "/v1/estimates", &preflight, Body::empty()).await;
    assert_eq!(answer.header("access-control-allow-origin"), "");
    let open = Server::with(&["--cors-origin", "https://farm.example"]);
    let answer = send(&open, "OPTIONS", "/v1/estimates", &preflight, Body::empty()).await;
    assert_eq!(answer.header("access-control-allow-origin"), "https://farm.example");
    let change = [
        page[0],
        ("access-control-request-method", "PUT"),
        ("access-control-request-headers", "authorization,if-match,idempotency-key"),
    ];
    let answer = send(&open, "OPTIONS", "/v1/farms/home", &change, Body::empty()).await;
    assert!(answer.header("access-control-allow-methods").contains("PUT"));
    for header in ["authorization", "if-match", "idempotency-key"] {
        assert!(answer.header("access-control-allow-headers").contains(header), "{header}");
    }
    let other = [("origin", "https://other.example"), preflight[1]];
    let answer = send(&open, "OPTIONS", "/v1/estimates", &other, Body::empty()).await;
    assert_eq!(answer.header("access-control-allow-origin"), "");
}

#[tokio::test]
async fn the_order_of_members_and_events_changes_nothing() {
    let server = Server::start();
    let mut history = full();
    let events = history["events"].as_array_mut().expect("events");
    events.reverse();
    let (one, other) = (estimate(&server, &full()).await.json(), estimate(&server, &history).await.json());
    let numbers =
        |answer: &Value| json!([answer["now"], answer["balance"], answer["windows"], answer["forecast"]]);
    assert_eq!(numbers(&one), numbers(&other));
}
