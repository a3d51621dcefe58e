//! Two servers on one PostgreSQL that share a subscription.

use super::farm::{Farm, temperatures};
use crate::databases::Database;

/// Messages published.
const MESSAGES: usize = 200;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn replicas_share_the_messages_and_none_is_taken_twice() {
    let database = Database::postgres().await;
    let farm = Farm::at(database.url.clone()).await;
    let share = "share_group = \"farm\"";
    let mut first = farm.serve_with("replica-1", share).subscribed().await;
    let mut second = farm.serve_with("replica-2", share).subscribed().await;
    let mut publisher = farm.broker.publisher("plain/heap/p");
    for message in 0..MESSAGES {
        publisher.send(&format!("{}.{:02}5", 40 + message / 100, message % 100));
    }
    publisher.finish();
    let events = first.arrived("heap", MESSAGES).await;
    assert_eq!(temperatures(&events).len(), MESSAGES);
    assert!(first.stop().success() && second.stop().success());
    let recorded = [&first, &second].map(|replica| {
        replica.lines("probe messages since the start")[0]["recorded"].as_u64().expect("a count")
    });
    assert_eq!(recorded.iter().sum::<u64>(), MESSAGES as u64);
    assert!(recorded.iter().all(|count| *count > 0), "each takes some: {recorded:?}");
}
