//! A farm on a server that may send to loopback, and tries again soon.

use std::time::{Duration, Instant};

use serde_json::{Value, json};

use crate::databases::Database;
use crate::records_rest::yard::{Yard, text};
use crate::server::Server;

/// How long what is looked for may take to show.
const PATIENCE: Duration = Duration::from_mins(2);

/// The webhooks of the farm.
pub const HOOKS: &str = "/v1/farms/home/webhooks";

/// Attempts until a message is given up.
pub const ATTEMPTS: usize = 4;

/// A server that waits at most a second before the second attempt and gives up after the fourth.
pub fn serve(database: &Database) -> Server {
    Server::with(&arguments(database))
}

/// What it is started with.
pub fn arguments(database: &Database) -> Vec<&str> {
    let mut arguments = vec!["--store", &database.url];
    arguments.extend(["--webhook-allow-internal", "127.0.0.1"]);
    arguments.extend(["--webhook-retry-base-s", "1", "--webhook-attempts", "4"]);
    arguments
}

/// The server with a farm, its bay `bay` and batch `heap`.
pub async fn planted(database: Database) -> Yard {
    let yard = Yard { server: serve(&database), database };
    yard.farm(None, "home", "").await;
    yard
}

/// Adds a webhook that is sent nothing but tests, since no heap is measured; its id and secret.
pub async fn hook(yard: &Yard, url: &str) -> (String, String) {
    hook_with(yard, &json!({ "url": url, "kinds": ["sanitisation_evidence_met"] })).await
}

/// Adds a webhook as said; its id and secret.
pub async fn hook_with(yard: &Yard, webhook: &Value) -> (String, String) {
    let made = yard.good("POST", HOOKS, None, Some(webhook)).await;
    (text(&made["webhook"]["id"]), text(&made["secret"]))
}

/// Has a test message sent; its id.
pub async fn test(yard: &Yard, hook: &str) -> String {
    text(&yard.good("POST", &format!("{HOOKS}/{hook}/test"), None, None).await["id"])
}

/// Waits until a delivery is in a state, and hands it back.
pub async fn delivery(yard: &Yard, hook: &str, id: &str, state: &str) -> Value {
    let begun = Instant::now();
    loop {
        let found = yard.good("GET", &format!("{HOOKS}/{hook}/deliveries/{id}"), None, None).await;
        if found["state"] == state {
            return found;
        }
        assert!(begun.elapsed() < PATIENCE, "not {state}: {found}");
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
}
