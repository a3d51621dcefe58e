//! What ends a watch from the server's side.

use std::process::Command;
use std::time::{Duration, Instant};

use serde_json::json;
use tokio::time::timeout;

use super::events::{Stream, Told};
use super::{PATIENCE, plant};
use crate::databases::Database;
use crate::http::send;
use crate::server::Server;

/// Longest time after which a key that was revoked lets no one watch, by the contract.
const RECHECKED: Duration = Duration::from_secs(20);

pub async fn a_revoked_key_and_a_server_that_stops_end_it(database: Database) {
    let mut server = Server::on(&database);
    let begun = plant(&server, 1).await;
    let mut keyless = Stream::events(&server.address, None, Some(begun)).await.expect("a stream");
    let post = async |path: &str, key: Option<&str>, body: String| {
        let bearer = key.map(|key| format!("Bearer {key}"));
        let mut headers = vec![("content-type", "application/json")];
        headers.extend(bearer.as_deref().map(|bearer| ("authorization", bearer)));
        send(&server, "POST", path, &headers, body).await.json()
    };
    let draft = |scope: &str| json!({ "name": scope, "scope": scope, "reach": "all" }).to_string();
    let admin = post("/v1/keys", None, draft("admin")).await["text"].as_str().expect("a key").to_owned();
    let reader = post("/v1/keys", Some(&admin), draft("read")).await;
    let text = reader["text"].as_str().expect("a key");
    let mut events = Stream::events(&server.address, Some(text), Some(begun)).await.expect("a stream");
    let mut kept = Stream::events(&server.address, Some(&admin), None).await.expect("a stream");
    assert_eq!(kept.next().await, Some(Told::Whole(begun)));
    let path = format!("/v1/keys/{}/revoke", reader["key"]["id"].as_str().expect("an id"));
    post(&path, Some(&admin), String::new()).await;
    let revoked = Instant::now();
    assert_eq!(timeout(PATIENCE, events.next()).await, Ok(None), "the key is revoked");
    assert!(revoked.elapsed() < RECHECKED + Duration::from_secs(10), "{:?}", revoked.elapsed());
    assert_eq!(timeout(PATIENCE, keyless.next()).await, Ok(None), "there are keys now");

    let kill = format!("kill -s TERM {}", server.child.id());
    let signalled = Command::new("sh").args(["-c", &kill]).status().expect("a shell runs");
    assert!(signalled.success());
    let stopping = Instant::now();
    assert_eq!(timeout(PATIENCE, kept.next()).await, Ok(None), "the key was good until the server stopped");
    let ended = loop {
        if let Some(status) = server.child.try_wait().expect("the process is ours") {
            break status;
        }
        assert!(stopping.elapsed() < Duration::from_secs(20), "watchers do not keep it from stopping");
        tokio::time::sleep(Duration::from_millis(20)).await;
    };
    assert!(ended.success(), "{ended}");
}
