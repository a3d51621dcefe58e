//! A server killed in the middle of its work: what it acknowledged is there, once.

use std::collections::BTreeMap;

use futures::future::join_all;
use serde_json::{Value, json};

use super::yard::{Yard, serve, text};
use crate::server::Server;

/// How often the server is killed.
const KILLS: usize = 5;
/// Clients that append at the same time.
const CLIENTS: usize = 8;
/// Answers after which the server is killed.
const ANSWERS: usize = 60;

const EVENTS: &str = "/v1/farms/home/batches/heap/events";

/// Appends one event after the other until the server is gone; what was acknowledged, by the client's own id.
async fn append(server: &Server, client: &str, acknowledged: &std::sync::Mutex<BTreeMap<String, String>>) {
    for number in 0.. {
        let own = format!("{client}-{number}");
        let event = json!({ "at": "2026-04-09", "id": own, "reading": { "temperature_c": 55 } });
        let body = json!({ "entries": [{ "event": event }] }).to_string();
        let Some(answer) = post(server, body).await else { return };
        let id = text(&answer["items"][0]["id"]);
        acknowledged.lock().expect("no test panicked").insert(own, id);
    }
}

/// The answer to an append, if there was a whole one.
async fn post(server: &Server, body: String) -> Option<Value> {
    use http_body_util::BodyExt;
    use hyper_util::client::legacy::Client;
    use hyper_util::rt::TokioExecutor;
    let request = axum::http::Request::post(format!("http://{}{EVENTS}", server.address))
        .header("content-type", "application/json")
        .body(axum::body::Body::from(body))
        .expect("a request can be built");
    let client = Client::builder(TokioExecutor::new()).build_http();
    let answer = client.request(request).await.ok()?;
    assert_eq!(answer.status(), 200, "an append is answered or cut off, never refused");
    let body = answer.into_body().collect().await.ok()?.to_bytes();
    serde_json::from_slice(&body).ok()
}

/// Own ids and ids of all events there are.
async fn recorded(yard: &Yard) -> Vec<(String, String)> {
    let (mut all, mut token) = (Vec::new(), String::new());
    loop {
        let path = format!("{EVENTS}?shown=all&page_size=1000&page_token={token}");
        let page = yard.good("GET", &path, None, None).await;
        for item in page["items"].as_array().expect("items") {
            if let Some(own) = item["external_id"].as_str() {
                all.push((own.to_owned(), text(&item["id"])));
            }
        }
        match page["next_page_token"].as_str() {
            Some(next) => next.clone_into(&mut token),
            None => return all,
        }
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn every_acknowledged_event_is_there_once_after_each_kill() {
    let mut yard = Yard::open();
    yard.farm(None, "home", "").await;
    let acknowledged = std::sync::Mutex::new(BTreeMap::new());
    for round in 0..KILLS {
        let before = acknowledged.lock().expect("no test panicked").len();
        let killed = async {
            loop {
                tokio::time::sleep(std::time::Duration::from_millis(1)).await;
                if acknowledged.lock().expect("no test panicked").len() >= before + ANSWERS {
                    break;
                }
            }
            // The shell's own, and the signal that no process can catch.
            let kill = format!("kill -s KILL {}", yard.server.child.id());
            let told = std::process::Command::new("sh").args(["-c", &kill]).status().expect("a shell runs");
            assert!(told.success());
        };
        let clients = (0..CLIENTS).map(|client| {
            let name = format!("r{round}c{client}");
            let (server, acknowledged) = (&yard.server, &acknowledged);
            async move { append(server, &name, acknowledged).await }
        });
        let work = async { tokio::join!(killed, join_all(clients)) };
        let bounded = tokio::time::timeout(std::time::Duration::from_mins(1), work).await;
        bounded.expect("the clients notice that the server is gone");
        yard.server = serve(&yard.folder);

        let found = recorded(&yard).await;
        let by_own_id: BTreeMap<_, _> = found.iter().cloned().collect();
        assert_eq!(by_own_id.len(), found.len(), "round {round}: an event is there twice");
        let acknowledged = acknowledged.lock().expect("no test panicked");
        for (own, id) in acknowledged.iter() {
            assert_eq!(by_own_id.get(own), Some(id), "round {round}: {own} was acknowledged");
        }
        assert!(
            found.len() - acknowledged.len() <= (round + 1) * CLIENTS,
            "at most one in flight for each client"
        );
    }
    assert!(acknowledged.lock().expect("no test panicked").len() >= KILLS * ANSWERS);
}
