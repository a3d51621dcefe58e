//! Every route of the feeds, asked again by someone who has the answer.

use std::time::{Duration, Instant};

use axum::body::Body;
use serde_json::Value;

use super::heaps::Heaps;
use crate::http::{get, send};
use crate::records_rest::yard::{entries, reading, text};

/// Every path that answers a form or a value, by key and by address.
async fn paths(heaps: &Heaps) -> Vec<String> {
    let description = get(&heaps.yard.server, "/openapi.json").await.json();
    let forms = description["paths"].as_object().expect("paths").iter().filter(|(path, methods)| {
        let id = text(&methods["get"]["operationId"].as_str().map_or(Value::from(""), Value::from));
        path.starts_with("/feeds/{token}/") || id.starts_with("get_readiness") || id == "sum_ready_volume"
    });
    let filled = forms.map(|(path, _)| {
        let path = path.replace("/feeds/{token}", &heaps.path).replace("{farm}", "home");
        let path = path.replace("{batch}", "heap-1").replace("{value}", "maturity_index");
        if path.ends_with("ready_m3") { path + "?use=mulch&by=2099-01-01" } else { path }
    });
    let paths: Vec<String> = filled.collect();
    assert!(paths.len() >= 14, "{paths:?}");
    paths
}

#[tokio::test]
async fn what_a_caller_has_is_not_sent_again() {
    let heaps = Heaps::new().await;
    let server = &heaps.yard.server;
    for path in paths(&heaps).await {
        get(server, &path).await;
    }
    // Answers are dated once no other change can come of the same second.
    tokio::time::sleep(Duration::from_millis(2200)).await;
    for path in paths(&heaps).await {
        let first = get(server, &path).await;
        assert_eq!(first.status, 200, "{path}: {}", String::from_utf8_lossy(&first.body));
        let (tag, date) = (first.header("etag"), first.header("last-modified"));
        assert!(tag.starts_with("W/\""), "{path}: {tag:?}");
        assert_eq!(
            (first.header("cache-control"), first.header("vary")),
            ("private, no-cache", "accept-encoding")
        );
        let ask = async |headers: &[(&str, &str)]| {
            let answer = send(server, "GET", &path, headers, Body::empty()).await;
            assert_eq!(answer.header("etag"), tag, "{path}");
            if answer.status == 304 {
                assert!(answer.body.is_empty());
            } else {
                assert_eq!((answer.status.as_u16(), &answer.body), (200, &first.body), "{path}");
            }
            answer.status.as_u16()
        };
        for held in [tag, tag.trim_start_matches("W/"), "*", &format!("\"other\", {tag}")] {
            assert_eq!(ask(&[("if-none-match", held)]).await, 304, "{path} with {held}");
        }
        assert_eq!(ask(&[("if-none-match", "\"other\"")]).await, 200);
        // RFC 9110 section 5.6.7: the date's form.
        assert_eq!((date.len(), &date[25..]), (29, " GMT"), "{path}: {date}");
        assert_eq!(ask(&[("if-modified-since", date)]).await, 304, "{path}");
        assert_eq!(ask(&[("if-modified-since", "Fri, 01 Jan 2100 00:00:00 GMT")]).await, 304);
        assert_eq!(ask(&[("if-modified-since", "Mon, 01 Jan 2024 00:00:00 GMT")]).await, 200);
        assert_eq!(ask(&[("if-modified-since", "yesterday")]).await, 200);
        // RFC 9110 section 13.1.3: a tag is stronger than a date.
        assert_eq!(ask(&[("if-none-match", "\"other\""), ("if-modified-since", date)]).await, 200);

        let head = send(server, "HEAD", &path, &[], Body::empty()).await;
        assert_eq!((head.status.as_u16(), head.body.len()), (200, 0), "{path}");
        for header in ["etag", "last-modified", "content-type", "content-length"] {
            assert_eq!(head.header(header), first.header(header), "{header} of {path}");
        }
    }
}

#[tokio::test]
async fn forms_are_compressed_for_whoever_takes_them_so() {
    let heaps = Heaps::new().await;
    let server = &heaps.yard.server;
    for form in ["csv", "ics", "atom", "feed.json", "json"] {
        let path = format!("{}/readiness.{form}", heaps.path);
        let plain = get(server, &path).await;
        let taking = async |encoding: &str| {
            send(server, "GET", &path, &[("accept-encoding", encoding)], Body::empty()).await
        };
        let small = taking("br, gzip;q=0.5").await;
        assert_eq!((small.header("content-encoding"), small.header("etag")), ("gzip", plain.header("etag")));
        assert_eq!(small.body[..2], [0x1f, 0x8b], "RFC 1952 section 2.3.1");
        assert!(
            small.body.len() * 2 < plain.body.len(),
            "{form}: {} of {}",
            small.body.len(),
            plain.body.len()
        );
        for none in ["identity", "gzip;q=0", "br"] {
            let as_it_is = taking(none).await;
            assert_eq!((as_it_is.header("content-encoding"), &as_it_is.body), ("", &plain.body), "{none}");
        }
    }
}

#[tokio::test]
async fn a_recorded_event_is_felt_at_once_and_the_old_tag_no_longer_holds() {
    let heaps = Heaps::new().await;
    let server = &heaps.yard.server;
    let path = format!("{}/readiness.csv", heaps.path);
    let before = get(server, &path).await;
    let day = super::heaps::days_ago(1);
    let hot = entries(&[reading(&format!("{day}T12:00:00Z"), 61.0)]);
    let recorded = Instant::now();
    heaps.yard.good("POST", "/v1/farms/home/batches/heap-1/events", None, Some(&hot)).await;
    heaps.settled().await;
    let held = [("if-none-match", before.header("etag"))];
    let after = send(server, "GET", &path, &held, Body::empty()).await;
    assert_eq!(after.status, 200);
    assert_ne!(after.body, before.body);
    if recorded.elapsed() < Duration::from_secs(2) {
        assert_eq!(
            after.header("last-modified"),
            "",
            "not dated yet: another change may come within the second"
        );
    }
}
