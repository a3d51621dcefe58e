//! What is sent, and what becomes of it.

use std::time::Duration;

use serde_json::{Value, json};

use super::receiver::{Received, Receiver};
use super::yard::{ATTEMPTS, HOOKS, delivery, hook, planted, test};
use crate::databases::Database;
use crate::records_rest::yard::text;

pub async fn a_message_arrives_signed_and_whole(database: Database) {
    let (yard, mut receiver) = (planted(database).await, Receiver::start());
    let (id, secret) = hook(&yard, &receiver.url("/in?token=1")).await;
    receiver.set("/in?token=1", &[&secret], &[], &json!({}));
    let message = test(&yard, &id).await;
    let [received] = receiver.arrived("/in?token=1", 1).try_into().expect("one");
    received.expect_verified(&[true]);
    let event = &received.told["event"];
    assert_eq!((received.id(), &event["id"]), (message.clone(), &json!(message)));
    for (attribute, value) in [
        ("type", "baycast.webhook.test.v1"),
        ("source", "/v1/farms/home"),
        ("specversion", "1.0"),
        ("datacontenttype", "application/json"),
    ] {
        assert_eq!(event[attribute], value);
    }
    assert_eq!((&event["subject"], &received.told["data"]), (&Value::Null, &json!({ "farm": "home" })));
    let headers = &received.told["headers"];
    assert_eq!(headers["content-type"], "application/cloudevents+json; charset=utf-8");
    assert_eq!(headers["host"], format!("127.0.0.1:{}", receiver.port));
    assert!(text(&headers["user-agent"]).starts_with("baycast/"));

    let kept = delivery(&yard, &id, &message, "delivered").await;
    assert_eq!((&kept["attempts"], &kept["last_outcome"]), (&json!(1), &json!("answered 204 No Content")));
    assert!(kept.get("next_at").is_none() && kept["delivered_at"].is_string());
    let body: Value = serde_json::from_str(&text(&kept["body"])).expect("JSON");
    assert_eq!(body["id"], json!(message));
    let listed = yard.good("GET", &format!("{HOOKS}/{id}/deliveries"), None, None).await;
    assert_eq!(listed["items"].as_array().expect("items").len(), 1);
    assert!(listed["items"][0].get("body").is_none());
    let webhook = yard.good("GET", &format!("{HOOKS}/{id}"), None, None).await;
    assert!(!webhook.to_string().contains(&secret), "the secret is shown never again");
    assert_eq!((&webhook["moved_days"], &webhook["best_by_days"]), (&json!(7), &json!(14)));
}

pub async fn what_fails_is_tried_again_later_each_time_then_given_up_and_replayed(database: Database) {
    let (yard, mut receiver) = (planted(database).await, Receiver::start());
    let (id, secret) = hook(&yard, &receiver.url("/in")).await;
    receiver.set("/in", &[&secret], &[500], &json!({}));
    let message = test(&yard, &id).await;
    let dead = delivery(&yard, &id, &message, "dead").await;
    assert_eq!(dead["attempts"], ATTEMPTS);
    assert_eq!(dead["last_outcome"], "answered 500 Internal Server Error");
    let received = receiver.so_far("/in");
    assert_eq!(received.len(), ATTEMPTS);
    for one in &received {
        // Signed anew each time, since a receiver takes no old timestamp; but the same message.
        one.expect_verified(&[true]);
        assert_eq!((one.id(), &one.told["data"]), (message.clone(), &received[0].told["data"]));
    }
    // At most one, two and four seconds, and the time to notice and to send.
    for (index, pair) in received.windows(2).enumerate() {
        let (waited, most) = (pair[1].at - pair[0].at, Duration::from_secs(1 << index));
        assert!(waited <= most + Duration::from_secs(4), "wait {index}: {waited:?}");
    }
    let second = test(&yard, &id).await;
    delivery(&yard, &id, &second, "dead").await;
    let shown =
        yard.good("GET", &format!("{HOOKS}/{id}/deliveries?shown=dead&page_size=1"), None, None).await;
    assert_eq!(shown["items"][0]["id"], json!(second), "the newest first");
    let next = format!("{HOOKS}/{id}/deliveries?shown=dead&page_token={}", text(&shown["next_page_token"]));
    let shown = yard.good("GET", &next, None, None).await;
    assert_eq!((&shown["items"][0]["id"], shown.get("next_page_token")), (&json!(message), None));

    receiver.set("/in", &[&secret], &[204], &json!({}));
    let replay = format!("{HOOKS}/{id}/deliveries/{message}/replay");
    let waiting = yard.good("POST", &replay, None, None).await;
    assert_eq!((&waiting["state"], &waiting["attempts"]), (&json!("waiting"), &json!(0)));
    assert_eq!(delivery(&yard, &id, &message, "delivered").await["attempts"], 1);
    let all = yard.good("POST", &format!("{HOOKS}/{id}/replay"), None, None).await;
    assert_eq!(all, json!({ "replayed": 1 }));
    delivery(&yard, &id, &second, "delivered").await;
    let received = receiver.arrived("/in", 2 * ATTEMPTS + 2);
    let ids: Vec<_> = received[2 * ATTEMPTS..].iter().map(Received::id).collect();
    assert_eq!(ids, [message, second]);
}

pub async fn a_receiver_that_asks_for_time_gets_it(database: Database) {
    let (yard, mut receiver) = (planted(database).await, Receiver::start());
    for (path, status) in [("/busy", 503), ("/often", 429)] {
        let (id, secret) = hook(&yard, &receiver.url(path)).await;
        receiver.set(path, &[&secret], &[status, 204], &json!({ "headers": { "retry-after": "3" } }));
        let message = test(&yard, &id).await;
        let received = receiver.arrived(path, 2);
        assert!(received[1].at - received[0].at >= Duration::from_millis(2900), "{status}");
        delivery(&yard, &id, &message, "delivered").await;
    }
}

pub async fn both_secrets_sign_while_one_follows_the_other(database: Database) {
    let (yard, mut receiver) = (planted(database).await, Receiver::start());
    let (id, old) = hook(&yard, &receiver.url("/in")).await;
    let rotated = yard.good("POST", &format!("{HOOKS}/{id}/rotate"), None, None).await;
    let new = text(&rotated["secret"]);
    assert_ne!(new, old);
    receiver.set("/in", &[&old, &new], &[], &json!({}));
    test(&yard, &id).await;
    receiver.arrived("/in", 1)[0].expect_verified(&[true, true]);
    let at_once = yard.good("POST", &format!("{HOOKS}/{id}/rotate?overlap_hours=0"), None, None).await;
    receiver.set("/in", &[&old, &new, &text(&at_once["secret"])], &[], &json!({}));
    test(&yard, &id).await;
    receiver.arrived("/in", 2)[1].expect_verified(&[false, false, true]);
    let refused = yard.call("POST", &format!("{HOOKS}/{id}/rotate?overlap_hours=169"), None, None).await;
    assert_eq!(
        (refused.status.as_u16(), &refused.json()["errors"][0]["accepted"]),
        (422, &json!("0 to 168"))
    );
}

pub async fn a_receiver_that_is_gone_is_left_alone_until_it_is_enabled(database: Database) {
    let (yard, mut receiver) = (planted(database).await, Receiver::start());
    let (id, secret) = hook(&yard, &receiver.url("/in")).await;
    receiver.set("/in", &[&secret], &[410, 204], &json!({}));
    let message = test(&yard, &id).await;
    let dead = delivery(&yard, &id, &message, "dead").await;
    assert_eq!((&dead["attempts"], &dead["last_outcome"]), (&json!(1), &json!("answered 410 Gone")));
    let at = format!("{HOOKS}/{id}");
    let answer = yard.call("GET", &at, None, None).await;
    let mut webhook = answer.json();
    assert_eq!(
        (&webhook["state"], &webhook["disabled_because"]),
        (&json!("disabled"), &json!("answered 410 Gone"))
    );
    assert!(webhook["disabled_at"].is_string());
    assert_eq!(yard.call("POST", &format!("{at}/test"), None, None).await.status, 409);

    webhook["state"] = json!("active");
    let stale = yard.call_with("PUT", &at, None, &[("if-match", "\"1\"")], Some(&webhook)).await;
    assert_eq!(stale.status, 412);
    let tag = answer.header("etag").to_owned();
    let enabled = yard.call_with("PUT", &at, None, &[("if-match", &tag)], Some(&webhook)).await;
    assert_eq!((enabled.status.as_u16(), &enabled.json()["state"]), (200, &json!("active")));
    assert!(enabled.json().get("disabled_because").is_none());
    let second = test(&yard, &id).await;
    delivery(&yard, &id, &second, "delivered").await;
    let unmatched = yard.call("DELETE", &at, None, None).await;
    assert_eq!(unmatched.status, 428);
    let tag = enabled.header("etag").to_owned();
    let deleted = yard.call_with("DELETE", &at, None, &[("if-match", &tag)], None).await;
    assert_eq!((deleted.status.as_u16(), &deleted.json()["id"]), (200, &json!(id)));
    assert_eq!(yard.call("GET", &at, None, None).await.status, 404);
}
