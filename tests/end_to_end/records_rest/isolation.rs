//! Every route that the description says needs a key, with keys that must not open it.
//!
//! The routes are read from the description, so that a new one is walked without being named here; what it takes as a
//! body has to be given in `body`, or the walk fails.

use axum::body::Body;
use bytes::Bytes;
use http_body_util::BodyExt;
use serde_json::{Value, json};

use super::yard::{Yard, batch, bay, entries, farm, feedstock, reading, text, webhook};
use crate::databases::Database;
use crate::histories::full;
use crate::http::{Answer, get, open, send};
use crate::planning;

/// One operation of the description.
#[derive(Debug)]
struct Operation {
    id: String,
    method: String,
    path: String,
}

impl Operation {
    /// Whether it is on what is kept.
    fn of_records(&self) -> bool {
        self.path.starts_with("/v1/farms") || self.path.starts_with("/v1/keys")
    }
}

/// Names that stand for a farm and what is on it.
struct Names<'a> {
    farm: &'a str,
    bay: &'a str,
    feedstock: &'a str,
    batch: &'a str,
    event: &'a str,
    key: &'a str,
    feed: &'a str,
    webhook: &'a str,
    delivery: &'a str,
}

/// Every operation that needs a key: all but those that tell of the service alone.
async fn operations(yard: &Yard) -> Vec<Operation> {
    let description = get(&yard.server, "/openapi.json").await.json();
    let mut found = Vec::new();
    for (path, methods) in description["paths"].as_object().expect("paths") {
        for (method, operation) in methods.as_object().expect("methods") {
            let keyed = operation.get("security").is_some();
            // Feed addresses are walked by themselves (`feeds/addresses.rs`): the address is the key.
            let open = matches!(path.as_str(), "/livez" | "/readyz") || path.starts_with("/feeds/{token}/");
            assert_eq!(keyed, !open, "{method} {path}");
            if keyed {
                let id = operation["operationId"].as_str().expect("an id").to_owned();
                found.push(Operation { id, method: method.to_uppercase(), path: path.clone() });
            }
        }
    }
    assert!(found.len() > 20, "the description was read");
    found
}

/// A body that the operation takes when all else is well.
fn body(operation: &Operation, names: &Names<'_>) -> Option<Value> {
    match operation.id.as_str() {
        "create_farm" | "update_farm" => Some(farm(names.farm)),
        "create_bay" | "update_bay" => Some(bay(names.bay)),
        "create_farm_feedstock" | "update_farm_feedstock" => Some(feedstock(names.feedstock)),
        "create_batch" | "update_batch" => Some(batch(names.batch, names.bay)),
        "append_events" => Some(entries(&[reading("2026-04-09", 55.0)])),
        "bring_in_events" => Some(json!({ "events": [
            { "batch": names.batch, "event": reading("2026-04-09", 55.0) }
        ] })),
        "suggest_farm_recipe" => Some(held(names)),
        "find_farm_requirement" => Some(json!({
            "bay": names.bay,
            "wanted": { "use": "mulch", "volume_m3": 0.2, "by": "2027-06-01", "earliest_start": "2027-04-01" },
            "on_hand": held(names),
        })),
        "plan_farm" | "keep_season" => Some(few_weeks(names.feedstock)),
        "create_feed" => Some(json!({ "name": "shed" })),
        "create_webhook" | "update_webhook" => Some(webhook()),
        "create_key" => Some(json!({ "scope": "admin", "reach": "farms", "farms": [names.farm] })),
        id => {
            let ends = |verb: &str| operation.path.ends_with(verb);
            let takes_none = operation.method == "GET"
                || ends("/archive")
                || ends("/revoke")
                || ["delete_webhook", "delete_season", "rotate_webhook_secret", "test_webhook"].contains(&id)
                || id.starts_with("replay_");
            assert!(takes_none, "a body for {id}");
            None
        }
    }
}

/// A season that is planned in no time.
fn short_season() -> Value {
    let mut season = planning::season::season();
    for (member, value) in [("weeks", json!(4)), ("batches", json!([])), ("demands", json!([]))] {
        season[member] = value;
    }
    season
}

/// A season on a farm that is planned in no time.
fn few_weeks(feedstock: &str) -> Value {
    json!({ "weeks": 4, "inflows": [{ "feedstock": feedstock, "mass_kg_week": 30 }] })
}

/// What is on hand on a farm.
fn held(names: &Names<'_>) -> Value {
    json!({ "ingredients": [{ "feedstock": names.feedstock, "most": { "mass_kg": 300 } }] })
}

/// Calls an operation on what the names stand for.
async fn call(yard: &Yard, operation: &Operation, names: &Names<'_>, key: Option<&str>) -> Answer {
    let mut path = operation.path.clone();
    for (name, value) in [
        ("{farm}", names.farm),
        ("{bay}", names.bay),
        ("{feedstock}", names.feedstock),
        ("{batch}", names.batch),
        ("{event}", names.event),
        ("{key}", names.key),
        ("{feed}", names.feed),
        ("{value}", "stage"),
        ("{webhook}", names.webhook),
        ("{delivery}", names.delivery),
    ] {
        path = path.replace(name, value);
    }
    assert!(!path.contains('{'), "a name for {path}");
    if operation.id == "watch_readiness" {
        return watch(yard, &path, key).await;
    }
    if operation.id == "sum_ready_volume" {
        path += "?use=mulch";
    }
    let body = body(operation, names);
    yard.call_with(&operation.method, &path, key, &[("if-match", "\"1\"")], body.as_ref()).await
}

/// Asks for a stream that has no end: of one that is let in, the head alone.
async fn watch(yard: &Yard, path: &str, key: Option<&str>) -> Answer {
    let bearer = key.map(|key| format!("Bearer {key}"));
    let headers: Vec<_> = bearer.as_deref().map(|bearer| ("authorization", bearer)).into_iter().collect();
    let (head, body) = open(&yard.server, "GET", path, &headers, Body::empty()).await.into_parts();
    let body = if head.status.is_success() {
        Bytes::new()
    } else {
        body.collect().await.expect("the answer ends").to_bytes()
    };
    Answer { status: head.status, headers: head.headers, body }
}

/// Status, headers and body of an answer, with the names taken out.
fn shape(answer: &Answer, names: &Names<'_>) -> (u16, Vec<(String, String)>, String) {
    let header = |(name, value): (&axum::http::HeaderName, &axum::http::HeaderValue)| {
        (name.to_string(), value.to_str().expect("text").to_owned())
    };
    // The names are of different lengths, and the length of a body with them; the others differ in every answer.
    let own = ["content-length", "date", "traceparent", "x-request-id"];
    let told = |(name, _): &(String, String)| !own.contains(&name.as_str());
    let headers = answer.headers.iter().map(header).filter(told).collect();
    let mut body = String::from_utf8_lossy(&answer.body).into_owned();
    let own = [names.farm, names.bay, names.feedstock, names.batch, names.event, names.key, names.feed];
    for name in own.into_iter().chain([names.webhook, names.delivery]) {
        body = body.replace(&format!("`{name}`"), "`…`");
    }
    (answer.status.as_u16(), headers, body)
}

/// Everything on a farm that a caller can read.
async fn content(yard: &Yard, farm: &str, admin: &str) -> Vec<Value> {
    let mut all = Vec::new();
    let batches = format!("/v1/farms/{farm}/batches?shown=all");
    let events = format!("/v1/farms/{farm}/batches/heap-theirs/events?shown=all");
    for path in [
        format!("/v1/farms/{farm}"),
        format!("/v1/farms/{farm}/bays"),
        format!("/v1/farms/{farm}/feedstocks"),
        format!("/v1/farms/{farm}/feeds"),
        format!("/v1/farms/{farm}/webhooks"),
        format!("/v1/farms/{farm}/season"),
        batches,
        events,
    ] {
        all.push(yard.good("GET", &path, Some(admin), None).await);
    }
    all
}

pub async fn no_key_that_must_not_opens_anything_or_tells_what_is_there(database: Database) {
    let yard = Yard::on(database);
    let event = yard.farm(None, "theirs", "-theirs").await;
    yard.farm(None, "mine", "-mine").await;
    let (admin_id, admin) = yard.key(None, "admin", &[]).await;
    let by = Some(admin.as_str());
    let (_, mine) = yard.key(by, "admin", &["mine"]).await;
    let (_, reader) = yard.key(by, "read", &["theirs"]).await;
    let (_, reads_all) = yard.key(by, "read", &[]).await;
    let (revoked_id, revoked) = yard.key(by, "admin", &[]).await;
    yard.good("POST", &format!("/v1/keys/{revoked_id}/revoke"), by, None).await;

    let own = Some(few_weeks("bines-theirs"));
    yard.good("PUT", "/v1/farms/theirs/season", by, own.as_ref()).await;
    let draft = json!({ "name": "shed" });
    let feed = yard.good("POST", "/v1/farms/theirs/feeds", by, Some(&draft)).await;
    let feed = text(&feed["feed"]["id"]);
    let at = "/v1/farms/theirs/webhooks";
    let made = yard.good("POST", at, by, Some(&webhook())).await;
    let webhook_id = text(&made["webhook"]["id"]);
    let put = yard.good("POST", &format!("{at}/{webhook_id}/test"), by, None).await;
    let delivery_id = text(&put["id"]);
    let there = Names {
        farm: "theirs",
        bay: "bay-theirs",
        feedstock: "bines-theirs",
        batch: "heap-theirs",
        event: &event,
        key: &admin_id,
        feed: &feed,
        webhook: &webhook_id,
        delivery: &delivery_id,
    };
    let no_event = "00000000-0000-7000-8000-000000000000";
    let nothing = Names {
        farm: "nowhere",
        bay: "b",
        feedstock: "f",
        batch: "h",
        event: no_event,
        key: "key_none",
        feed: "feed_none",
        webhook: "wh_none",
        delivery: no_event,
    };
    let before = content(&yard, "theirs", &admin).await;
    let operations = operations(&yard).await;
    for operation in operations.iter().filter(|operation| operation.of_records()) {
        let answers = async |names: &Names<'_>, key: Option<&str>| {
            let answer = call(&yard, operation, names, key).await;
            (answer.status.as_u16(), shape(&answer, names))
        };
        for (holder, key) in [("none", None), ("revoked", Some(revoked.as_str())), ("unknown", Some("bck_0"))]
        {
            let (status, shape) = answers(&there, key).await;
            assert_eq!(status, 401, "{holder}: {operation:?}");
            assert_eq!(shape, answers(&nothing, key).await.1, "{holder}: {operation:?}");
        }

        // Another farm's administrator: no farm is found, and of all farms nothing may be done.
        let (status, other) = answers(&there, Some(&mine)).await;
        let on_a_farm = operation.path.contains("{farm}");
        let expected = match operation.id.as_str() {
            "list_farms" => 200,
            _ if on_a_farm => 404,
            _ => 403,
        };
        assert_eq!(status, expected, "another farm's: {operation:?}");
        assert!(!other.2.contains("theirs"), "{operation:?}: {}", other.2);
        assert_eq!(other, answers(&nothing, Some(&mine)).await.1, "another farm's: {operation:?}");

        // A reader of the farm itself may read it and nothing else; what is sent out is an administrator's.
        let administers = operation.id == "list_keys" || operation.path.contains("/webhooks");
        let asks =
            ["suggest_farm_recipe", "find_farm_requirement", "plan_farm"].contains(&operation.id.as_str());
        let reads = asks || operation.method == "GET" && !administers;
        let (status, _) = answers(&there, Some(&reader)).await;
        assert_eq!(status, if reads { 200 } else { 403 }, "a reader: {operation:?}");
        if !reads {
            let (status, shape) = answers(&there, Some(&reads_all)).await;
            assert_eq!(status, 403, "a reader of all farms: {operation:?}");
            assert_eq!(shape, answers(&nothing, Some(&reads_all)).await.1, "{operation:?}");
        }

        // On one's own farm another farm's things are as if they were nowhere.
        if on_a_farm && operation.path.matches('{').count() > 1 {
            let through = Names { farm: "mine", ..there };
            let own = Names { farm: "mine", ..nothing };
            let (status, shape) = answers(&through, Some(&mine)).await;
            assert_eq!(status, 404, "through one's own farm: {operation:?}");
            assert_eq!(shape, answers(&own, Some(&mine)).await.1, "{operation:?}");
        }
    }
    assert_eq!(content(&yard, "theirs", &admin).await, before, "nothing was changed");
}

pub async fn what_is_no_farms_needs_a_good_key_as_well(database: Database) {
    let yard = Yard::on(database);
    let stateless = async |operation: &Operation, key: Option<&str>| {
        let path = operation.path.replace("{feedstock}", "grass_mowings");
        let bearer = key.map(|key| format!("Bearer {key}"));
        let (media, body) = match operation.id.as_str() {
            "estimate_maturity" => ("application/json", full().to_string()),
            "stream_estimates" => ("application/x-ndjson", full().to_string()),
            "suggest_recipe" => ("application/json", planning::on_hand().to_string()),
            "find_requirement" => ("application/json", planning::need().to_string()),
            "plan_season" => ("application/json", short_season().to_string()),
            id => {
                assert_eq!(operation.method, "GET", "a body for {id}");
                ("", String::new())
            }
        };
        let mut headers = vec![("content-type", media)];
        headers.extend(bearer.as_deref().map(|bearer| ("authorization", bearer)));
        send(&yard.server, &operation.method, &path, &headers, body).await.status.as_u16()
    };
    let operations = operations(&yard).await;
    let operations: Vec<_> = operations.iter().filter(|operation| !operation.of_records()).collect();
    assert_eq!(operations.len(), 7);
    for operation in &operations {
        assert_eq!(stateless(operation, None).await, 200, "while there are no keys: {operation:?}");
    }
    yard.farm(None, "mine", "-mine").await;
    let (_, admin) = yard.key(None, "admin", &[]).await;
    let (_, reader) = yard.key(Some(&admin), "read", &["mine"]).await;
    let (revoked_id, revoked) = yard.key(Some(&admin), "admin", &[]).await;
    yard.good("POST", &format!("/v1/keys/{revoked_id}/revoke"), Some(&admin), None).await;
    for operation in operations {
        for key in [None, Some(revoked.as_str()), Some("bck_0"), Some("")] {
            assert_eq!(stateless(operation, key).await, 401, "{key:?}: {operation:?}");
        }
        assert_eq!(stateless(operation, Some(&reader)).await, 200, "{operation:?}");
    }
}

pub async fn another_farms_batch_cannot_be_merged_or_moved_into(database: Database) {
    let yard = Yard::on(database);
    yard.farm(None, "theirs", "-theirs").await;
    yard.farm(None, "mine", "-mine").await;
    let events = "/v1/farms/mine/batches/heap-mine/events";
    let refused = async |event: Value, name: &str| {
        let answer = yard.call("POST", events, None, Some(&entries(&[event]))).await;
        (answer.status.as_u16(), answer.json().to_string().replace(name, "…"))
    };
    for (detail, member, there, nowhere) in
        [("merge", "source", "heap-theirs", "nowhere"), ("move", "to_bay", "bay-theirs", "nowhere")]
    {
        let event = |name: &str| json!({ "at": "2026-04-09", detail: { member: name } });
        let told = refused(event(there), there).await;
        assert_eq!(told.0, 404, "{detail}");
        assert_eq!(told, refused(event(nowhere), nowhere).await, "{detail}");
    }
}
