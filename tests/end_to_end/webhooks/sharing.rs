//! Two servers on one PostgreSQL that share the deliveries.

use std::collections::BTreeSet;

use serde_json::json;

use super::receiver::{Received, Receiver};
use super::yard::{HOOKS, delivery, hook, planted, serve, test};
use crate::databases::Database;
use crate::records_rest::yard::Yard;

/// Webhooks, and messages for each.
const HOOKED: usize = 4;
const EACH: usize = 25;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn each_message_arrives_once_and_one_at_a_time_at_each_webhook() {
    let (yard, mut receiver) = (planted(Database::postgres().await).await, Receiver::start());
    let _second = serve(&yard.database);
    let mut sent = Vec::new();
    let mut hooks = Vec::new();
    for number in 0..HOOKED {
        let path = format!("/{number}");
        let (id, secret) = hook(&yard, &receiver.url(&path)).await;
        receiver.set(&path, &[&secret], &[], &json!({}));
        hooks.push((path, id));
    }
    for _ in 0..EACH {
        for (path, id) in &hooks {
            sent.push((path.clone(), id.clone(), test(&yard, id).await));
        }
    }
    for (_, id, message) in &sent {
        delivery(&yard, id, message, "delivered").await;
    }
    for (path, id) in &hooks {
        let received = receiver.arrived(path, EACH);
        let once: BTreeSet<_> = received.iter().map(Received::id).collect();
        assert_eq!((once.len(), received.len()), (EACH, EACH), "{path}");
        for one in &received {
            one.expect_verified(&[true]);
            assert_eq!(one.told["under_way"], 1, "{path}");
        }
        all_first(&yard, id).await;
    }
}

/// Expects that no delivery of a webhook took a second attempt.
async fn all_first(yard: &Yard, id: &str) {
    let listed = yard.good("GET", &format!("{HOOKS}/{id}/deliveries?page_size=1000"), None, None).await;
    for own in listed["items"].as_array().expect("items") {
        assert_eq!((&own["state"], &own["attempts"]), (&json!("delivered"), &json!(1)), "{own}");
    }
}
