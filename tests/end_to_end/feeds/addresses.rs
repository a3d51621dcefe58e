//! Feed addresses: what they open, for how long, and what is told of them.

use std::time::{Duration, Instant};

use axum::body::Body;
use serde_json::{Value, json};

use super::heaps::{Heaps, address, plant};
use crate::databases::Database;
use crate::http::{Answer, get, send};
use crate::records_rest::yard::{Yard, text};
use crate::server::Server;

pub async fn an_address_opens_its_farm_until_it_is_revoked(database: Database) {
    let Heaps { yard, path } = Heaps::on(database).await;
    yard.good("POST", "/v1/farms", None, Some(&crate::records_rest::yard::farm("empty"))).await;
    let other = address(&yard, "empty").await;
    let told = get(&yard.server, &format!("{path}/readiness.json")).await.json();
    assert_eq!((&told["farm"], told["batches"].as_array().map(Vec::len)), (&json!("home"), Some(4)));
    let told = get(&yard.server, &format!("{other}/readiness.json")).await.json();
    assert_eq!((&told["farm"], told["batches"].as_array().map(Vec::len)), (&json!("empty"), Some(0)));

    // Keys: a reader sees the list, a writer makes and revokes, and an address needs none.
    let (_, admin) = yard.key(None, "admin", &[]).await;
    let (_, reader) = yard.key(Some(&admin), "read", &["home"]).await;
    let (writer_id, writer) = yard.key(Some(&admin), "write", &["home"]).await;
    let draft = json!({ "name": "crew's calendar" });
    let refused = yard.call("POST", "/v1/farms/home/feeds", Some(&reader), Some(&draft)).await;
    assert_eq!(refused.status, 403);
    let issued = yard.call("POST", "/v1/farms/home/feeds", Some(&writer), Some(&draft)).await;
    assert_eq!((issued.status.as_u16(), issued.header("cache-control")), (201, "no-store"));
    let issued = issued.json();
    assert_eq!((&issued["feed"]["name"], &issued["feed"]["created_by"]), (&draft["name"], &json!(writer_id)));
    let (token, path) = (text(&issued["token"]), text(&issued["path"]));
    assert_eq!(path, format!("/feeds/{token}"));
    let csv = format!("{path}/readiness.csv");
    assert_eq!(get(&yard.server, &csv).await.status, 200);
    let listed = yard.good("GET", "/v1/farms/home/feeds", Some(&reader), None).await;
    assert_eq!(listed["items"].as_array().map(Vec::len), Some(2));
    assert!(!listed.to_string().contains(&token), "no token is ever shown again");
    let used =
        listed["items"].as_array().expect("items").iter().find(|own| own["id"] == issued["feed"]["id"]);
    assert!(text(&used.expect("the address")["last_used_at"]).ends_with(":00:00Z"), "to the hour");

    let revoke = format!("/v1/farms/home/feeds/{}/revoke", text(&issued["feed"]["id"]));
    assert_eq!(yard.call("POST", &revoke, Some(&reader), None).await.status, 403);
    let revoked = yard.good("POST", &revoke, Some(&writer), None).await;
    let since = Instant::now();
    while get(&yard.server, &csv).await.status == 200 {
        assert!(since.elapsed() < Duration::from_secs(5), "a revocation is felt within a second");
    }
    assert_eq!(get(&yard.server, &csv).await.status, 404);
    assert_eq!(yard.good("POST", &revoke, Some(&writer), None).await, revoked, "again changes nothing");
    assert_eq!(get(&yard.server, &format!("{other}/readiness.csv")).await.status, 200, "others stay");
}

/// Every path that an address opens, with a token and what is below it.
async fn paths(yard: &Yard, token: &str) -> Vec<String> {
    let description = get(&yard.server, "/openapi.json").await.json();
    let paths: Vec<String> = description["paths"]
        .as_object()
        .expect("paths")
        .keys()
        .filter(|path| path.starts_with("/feeds/"))
        .map(|path| path.replace("{token}", token).replace("{batch}", "heap-1").replace("{value}", "stage"))
        .collect();
    assert!(paths.len() >= 7 && paths.iter().all(|path| !path.contains('{')), "{paths:?}");
    paths
        .into_iter()
        .map(|path| if path.ends_with("ready_m3") { path + "?use=mulch" } else { path })
        .collect()
}

/// All of an answer but what differs with every request.
fn shape(answer: &Answer) -> (u16, Vec<(String, String)>, Value) {
    let own = ["date", "traceparent", "x-request-id"];
    let headers = answer.headers.iter().map(|(name, value)| (name.to_string(), format!("{value:?}")));
    (
        answer.status.as_u16(),
        headers.filter(|(name, _)| !own.contains(&name.as_str())).collect(),
        answer.json(),
    )
}

pub async fn a_token_that_is_unknown_or_revoked_opens_no_route_and_tells_nothing(database: Database) {
    let Heaps { yard, path } = Heaps::on(database).await;
    let good = path.strip_prefix("/feeds/").expect("a token").to_owned();
    let draft = json!({});
    let issued = yard.good("POST", "/v1/farms/home/feeds", None, Some(&draft)).await;
    let (revoked, id) = (text(&issued["token"]), text(&issued["feed"]["id"]));
    yard.good("POST", &format!("/v1/farms/home/feeds/{id}/revoke"), None, None).await;
    let mut unknown = good.clone();
    unknown.replace_range(4..8, if good[4..].starts_with("0000") { "ffff" } else { "0000" });
    let (_, key) = yard.key(None, "admin", &[]).await;
    for path in paths(&yard, &good).await {
        assert_eq!(get(&yard.server, &path).await.status, 200, "{path}");
        let at = |token: &str| path.replace(&good, token);
        let expected = shape(&get(&yard.server, &at(&unknown)).await);
        assert_eq!((expected.0, &expected.2["type"]), (404, &json!("urn:baycast:problem:not_found")));
        for token in [revoked.as_str(), "bcf_", &id, &key, "%00", "bcf_%F0"] {
            assert_eq!(shape(&get(&yard.server, &at(token)).await), expected, "{token}: {path}");
        }
        // An address is for reading.
        for method in ["POST", "PUT", "DELETE"] {
            assert_eq!(
                send(&yard.server, method, &path, &[], Body::empty()).await.status,
                405,
                "{method} {path}"
            );
        }
        // A key opens no more by it, and the token is no key.
        let bearer = format!("Bearer {key}");
        let with_key =
            send(&yard.server, "GET", &at(&unknown), &[("authorization", &bearer)], Body::empty()).await;
        assert_eq!(shape(&with_key), expected);
    }
    let as_key = yard.call("GET", "/v1/farms/home", Some(&good), None).await;
    assert_eq!(as_key.status, 401);
}

#[tokio::test]
async fn another_farms_batch_is_not_there() {
    let Heaps { yard, path } = Heaps::new().await;
    yard.farm(None, "other", "-theirs").await;
    let theirs = address(&yard, "other").await;
    let value = async |path: &str, batch: &str| {
        get(&yard.server, &format!("{path}/batches/{batch}/stage")).await.status.as_u16()
    };
    assert_eq!(value(&path, "heap-1").await, 200);
    assert_eq!(value(&theirs, "heap-theirs").await, 200);
    assert_eq!(value(&path, "heap-theirs").await, 404);
    assert_eq!(value(&theirs, "heap-1").await, 404);
}

#[tokio::test]
async fn no_token_reaches_the_log() {
    let database = Database::sqlite();
    let log = database.folder.path().join("log");
    let file = std::fs::File::create(&log).expect("a log file");
    let server = Server::logging(&["--store", &database.url], "trace", file);
    let yard = Yard { server, database };
    plant(&yard, "home").await;
    let path = address(&yard, "home").await;
    let token = path.strip_prefix("/feeds/").expect("a token");
    let unknown = token.replace(&token[8..], &"0".repeat(token.len() - 8));
    for token in [token, &unknown] {
        for below in ["readiness.csv", "batches/heap-1/core_c", "ready_m3?use=mulch", "nothing", ""] {
            get(&yard.server, &format!("/feeds/{token}/{below}")).await;
            get(&yard.server, &format!("/Feeds/{token}/{below}")).await;
        }
        get(&yard.server, &format!("/{token}")).await;
        send(&yard.server, "POST", &format!("/feeds/{token}/readiness.csv"), &[], Body::empty()).await;
    }
    let told = std::fs::read_to_string(&log).expect("the log");
    let answered = told.lines().filter(|line| line.contains("answered")).count();
    assert!(answered >= 2 * 12 && told.contains("/feeds/{token}/readiness.csv"), "{told}");
    for token in [token, &unknown] {
        assert!(!told.contains(&token[..12]), "a token in the log");
    }
}
