//! Servers that end, by force or by request, and lose no message.

use std::process::Command;
use std::time::Duration;

use serde_json::json;

use super::receiver::Receiver;
use super::yard::{delivery, hook, planted, serve, test};
use crate::databases::Database;

pub async fn a_server_killed_between_two_attempts_goes_on_after_its_restart(database: Database) {
    let (mut yard, mut receiver) = (planted(database).await, Receiver::start());
    let (id, secret) = hook(&yard, &receiver.url("/in")).await;
    // Time enough to be killed in before the second attempt.
    receiver.set("/in", &[&secret], &[503, 204], &json!({ "headers": { "retry-after": "5" } }));
    let message = test(&yard, &id).await;
    receiver.arrived("/in", 1);
    delivery(&yard, &id, &message, "waiting").await;
    tokio::time::sleep(Duration::from_millis(500)).await;
    yard.server.kill();
    assert_eq!(receiver.so_far("/in").len(), 1);
    yard.server = serve(&yard.database);
    let received = receiver.arrived("/in", 2);
    assert_eq!((received[0].id(), received[1].id()), (message.clone(), message.clone()));
    received[1].expect_verified(&[true]);
    assert_eq!(delivery(&yard, &id, &message, "delivered").await["attempts"], 2);
}

pub async fn a_server_that_is_told_to_stop_finishes_what_is_under_way(database: Database) {
    let (mut yard, mut receiver) = (planted(database).await, Receiver::start());
    let (id, secret) = hook(&yard, &receiver.url("/in")).await;
    receiver.set("/in", &[&secret], &[204], &json!({ "delay_s": 3 }));
    let message = test(&yard, &id).await;
    // Under way, but not answered yet.
    while yard.good("GET", &format!("{}/{id}/deliveries/{message}", super::yard::HOOKS), None, None).await["attempts"]
        == 0
    {
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    let kill = format!("kill -s TERM {}", yard.server.child.id());
    assert!(Command::new("sh").args(["-c", &kill]).status().expect("a shell runs").success());
    assert!(yard.server.child.wait().expect("the server ends").success());
    assert_eq!(receiver.so_far("/in").len(), 1, "it was waited for");
    yard.server = serve(&yard.database);
    assert_eq!(delivery(&yard, &id, &message, "delivered").await["attempts"], 1);
    assert_eq!(receiver.so_far("/in").len(), 1);
}
