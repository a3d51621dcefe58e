//! Deliveries: claimed once, settled by their attempt, replayed and forgotten.

use std::collections::BTreeSet;
use std::sync::Arc;

use baycast_records::DeliveryState::{Dead, Delivered, Waiting};
use baycast_records::{
    ClaimedDelivery, DeliveryState, Error, EventId, NewDelivery, PageRequest, Records, Settled, Thing,
};

use crate::databases::Database;
use crate::orchard::{BATCH, FARM, at, planted, stamp};
use crate::webhooks::{draft, hook};

/// How long the cases' claims are held, s.
const LEASE_S: i64 = 60;
/// Longest time between two attempts, s.
const LONGEST_S: i64 = 21_600;

/// A new message.
fn message(webhook: &str, number: i64) -> NewDelivery {
    NewDelivery {
        webhook: webhook.into(),
        id: EventId::after(None, at(number)).unwrap(),
        batch: Some(BATCH.into()),
        kind: "too_hot".into(),
        body: format!("{{\"number\":{number}}}"),
    }
}

/// Puts messages in, one a second; their ids.
async fn queue(records: &Records, webhook: &str, count: i64) -> Vec<EventId> {
    let mut ids = Vec::new();
    for number in 0..count {
        let put = records.queue_delivery(FARM, message(webhook, number), at(number)).await.unwrap();
        ids.push(put.id);
    }
    ids
}

async fn claim(records: &Records, most: u32, second: i64) -> Vec<ClaimedDelivery> {
    records.claim_deliveries(most, at(second), at(second + LEASE_S), at(second + LONGEST_S)).await.unwrap()
}

async fn states(records: &Records, webhook: &str) -> Vec<DeliveryState> {
    let listed = records.deliveries(FARM, webhook, None, &PageRequest::default()).await.unwrap();
    listed.items.into_iter().map(|own| own.state).collect()
}

pub async fn one_at_a_time_of_a_webhook_the_longest_due_first(database: Database) {
    let records = planted(&database).await;
    let (one, other) = (hook(&records, FARM).await, hook(&records, FARM).await);
    let ids = queue(&records, &one, 3).await;
    queue(&records, &other, 1).await;
    let claimed = claim(&records, 9, 10).await;
    let webhooks: BTreeSet<_> = claimed.iter().map(|own| own.webhook.clone()).collect();
    assert_eq!((claimed.len(), webhooks.len()), (2, 2));
    assert!(claim(&records, 9, 11).await.is_empty(), "each webhook has one under way");
    assert_eq!(records.next_delivery_at(at(11), at(11 + LEASE_S), at(11 + LONGEST_S)).await.unwrap(), None);
    let first = claimed.iter().find(|own| own.webhook == one).unwrap();
    assert_eq!((first.id, first.attempt, first.body.as_str()), (ids[0], 1, "{\"number\":0}"));
    assert_eq!((first.url.as_str(), first.secrets.len()), ("https://a.example", 1));
    assert!(records.settle_delivery(first, Settled::Delivered, "answered 204", at(12)).await.unwrap());
    let kept = records.delivery(FARM, &one, ids[0]).await.unwrap();
    assert_eq!((kept.state, kept.delivered_at), (Delivered, Some(at(12))));
    assert_eq!((kept.outcome.as_deref(), kept.attempts), (Some("answered 204"), 1));
    assert_eq!(
        records.next_delivery_at(at(12), at(12 + LEASE_S), at(12 + LONGEST_S)).await.unwrap(),
        Some(at(1))
    );
    let next = claim(&records, 1, 13).await;
    assert_eq!(next[0].id, ids[1]);
    assert!(records.settle_delivery(&next[0], Settled::Again(at(40)), "answered 500", at(14)).await.unwrap());
    let last = claim(&records, 9, 15).await;
    assert_eq!(last[0].id, ids[2], "the one that waits holds up no other");
    assert!(records.settle_delivery(&last[0], Settled::Delivered, "answered 200", at(16)).await.unwrap());
    assert!(claim(&records, 9, 39).await.is_empty());
    let again = claim(&records, 9, 40).await;
    assert_eq!((again[0].id, again[0].attempt), (ids[1], 2));
}

pub async fn a_lease_that_is_over_is_anothers_and_the_late_change_nothing(database: Database) {
    let records = planted(&database).await;
    let webhook = hook(&records, FARM).await;
    queue(&records, &webhook, 1).await;
    let late = claim(&records, 1, 10).await.remove(0);
    assert!(claim(&records, 1, 10 + LEASE_S - 1).await.is_empty());
    let second = claim(&records, 1, 10 + LEASE_S).await.remove(0);
    assert_eq!((second.id, second.attempt), (late.id, 2));
    assert!(!records.settle_delivery(&late, Settled::Dead, "too late", at(80)).await.unwrap());
    assert_eq!(states(&records, &webhook).await, [Waiting]);
    assert!(records.settle_delivery(&second, Settled::Delivered, "answered 200", at(81)).await.unwrap());
    assert!(!records.settle_delivery(&second, Settled::Dead, "twice", at(82)).await.unwrap());
    assert_eq!(states(&records, &webhook).await, [Delivered]);
}

pub async fn replicas_claim_each_once(database: Database) {
    const EACH: i64 = 15;
    const HOOKS: usize = 4;
    let one = Arc::new(planted(&database).await);
    let two = Arc::new(database.open().await);
    let mut put = BTreeSet::new();
    for _ in 0..HOOKS {
        let webhook = hook(&one, FARM).await;
        put.extend(queue(&one, &webhook, EACH).await);
    }
    let claiming = (0..4).map(|worker| {
        let records = if worker % 2 == 0 { one.clone() } else { two.clone() };
        tokio::spawn(async move {
            let mut claimed = Vec::new();
            // The others hold some back: nothing to claim does not mean that all is done.
            let mut empty = 0;
            while empty < 50 {
                let mine = claim(&records, 2, 100).await;
                empty = if mine.is_empty() { empty + 1 } else { 0 };
                for own in mine {
                    assert!(
                        records
                            .settle_delivery(&own, Settled::Delivered, "answered 200", at(101))
                            .await
                            .unwrap(),
                        "nobody else holds it"
                    );
                    claimed.push(own.id);
                }
                tokio::task::yield_now().await;
            }
            claimed
        })
    });
    let mut all = Vec::new();
    for claimed in claiming.collect::<Vec<_>>() {
        all.extend(claimed.await.unwrap());
    }
    assert_eq!(all.len(), HOOKS * EACH as usize, "none twice");
    assert_eq!(all.into_iter().collect::<BTreeSet<_>>(), put);
}

pub async fn the_dead_are_seen_and_replayed(database: Database) {
    let records = planted(&database).await;
    let webhook = hook(&records, FARM).await;
    let ids = queue(&records, &webhook, 3).await;
    for _ in 0..3 {
        let claimed = claim(&records, 1, 10).await.remove(0);
        records.settle_delivery(&claimed, Settled::Dead, "answered 500", at(11)).await.unwrap();
    }
    let page = |size, token| PageRequest { size, token };
    let dead = |request: PageRequest| {
        let (records, webhook) = (&records, &webhook);
        async move { records.deliveries(FARM, webhook, Some(Dead), &request).await.unwrap() }
    };
    let first = dead(page(2, None)).await;
    let shown: Vec<_> = first.items.iter().map(|own| own.id).collect();
    assert_eq!(shown, [ids[2], ids[1]], "the newest first");
    assert!(first.items.iter().all(|own| own.body.is_none()));
    let rest = dead(page(2, first.next)).await;
    assert_eq!((rest.items[0].id, rest.items.len(), rest.next), (ids[0], 1, None));

    let replayed = records.replay_delivery(FARM, &webhook, ids[1], at(20)).await.unwrap();
    assert_eq!((replayed.state, replayed.attempts, replayed.next_at), (Waiting, 0, at(20)));
    let again = claim(&records, 1, 20).await.remove(0);
    assert_eq!((again.id, again.attempt), (ids[1], 1));
    let under_way = records.replay_delivery(FARM, &webhook, ids[1], at(21)).await.unwrap();
    assert_eq!(under_way.attempts, 1, "one that waits is only brought forward");
    assert!(records.settle_delivery(&again, Settled::Delivered, "answered 200", at(21)).await.unwrap());
    assert_eq!(records.replay_deliveries(FARM, &webhook, at(22)).await.unwrap(), 2);
    assert_eq!(records.replay_deliveries(FARM, &webhook, at(22)).await.unwrap(), 0);
    assert_eq!(states(&records, &webhook).await, [Waiting, Delivered, Waiting]);
    let whole = records.delivery(FARM, &webhook, ids[0]).await.unwrap();
    assert_eq!((whole.body.as_deref(), whole.next_at), (Some("{\"number\":0}"), at(22)));
    let unknown = EventId::after(None, at(0)).unwrap();
    let missing = Error::NotFound { what: Thing::Delivery, name: unknown.to_string() };
    assert_eq!(records.delivery(FARM, &webhook, unknown).await.unwrap_err(), missing);
    assert_eq!(records.replay_delivery(FARM, &webhook, unknown, at(23)).await.unwrap_err(), missing);
    // What was delivered may have been lost behind it.
    let lost = records.replay_delivery(FARM, &webhook, ids[1], at(24)).await.unwrap();
    assert_eq!((lost.state, lost.attempts, lost.delivered_at), (Waiting, 0, None));
}

pub async fn a_webhook_that_is_gone_or_disabled_gets_nothing(database: Database) {
    let records = planted(&database).await;
    let webhook = hook(&records, FARM).await;
    queue(&records, &webhook, 2).await;
    let claimed = claim(&records, 1, 10).await.remove(0);
    records.settle_delivery(&claimed, Settled::Gone, "answered 410", at(11)).await.unwrap();
    let own = records.webhook(FARM, &webhook).await.unwrap();
    assert_eq!((own.disabled_at, own.version), (Some(at(11)), 2));
    assert_eq!(own.disabled_because.as_deref(), Some("answered 410"));
    assert_eq!(states(&records, &webhook).await, [Waiting, Dead]);
    assert!(claim(&records, 9, 12).await.is_empty());
    assert_eq!(records.next_delivery_at(at(12), at(12 + LEASE_S), at(12 + LONGEST_S)).await.unwrap(), None);
    assert!(records.listeners(FARM, BATCH).await.unwrap().is_empty());
    let on = records.update_webhook(FARM, &webhook, 2, &draft("https://a.example"), None).await.unwrap();
    assert_eq!((on.disabled_at, on.disabled_because), (None, None));
    assert_eq!(claim(&records, 9, 13).await.len(), 1);

    records.delete_webhook(FARM, &webhook, 3).await.unwrap();
    let late = records.queue_delivery(FARM, message(&webhook, 9), at(9)).await.unwrap_err();
    assert_eq!(late, Error::NotFound { what: Thing::Webhook, name: webhook });
}

pub async fn the_secret_before_signs_on_for_a_while(database: Database) {
    let records = planted(&database).await;
    let issued = records.create_webhook(FARM, &draft("https://a.example"), &stamp(0)).await.unwrap();
    let webhook = &issued.webhook.id;
    queue(&records, webhook, 1).await;
    let rotated = records.rotate_webhook_secret(FARM, webhook, at(50)).await.unwrap();
    assert_ne!(rotated.secret, issued.secret);
    assert_eq!(rotated.webhook.version, 2);
    let during = claim(&records, 1, 20).await.remove(0);
    assert_eq!(during.secrets, [rotated.secret.clone(), issued.secret.clone()]);
    assert!(!format!("{during:?}").contains(&rotated.secret));
    records.settle_delivery(&during, Settled::Again(at(50)), "answered 500", at(21)).await.unwrap();
    assert_eq!(claim(&records, 1, 50).await.remove(0).secrets, [rotated.secret]);
}

pub async fn the_old_are_forgotten(database: Database) {
    let records = planted(&database).await;
    let webhook = hook(&records, FARM).await;
    queue(&records, &webhook, 4).await;
    for settled in [Settled::Delivered, Settled::Dead] {
        let claimed = claim(&records, 1, 10).await.remove(0);
        records.settle_delivery(&claimed, settled, "", at(11)).await.unwrap();
    }
    assert_eq!(states(&records, &webhook).await, [Waiting, Waiting, Dead, Delivered]);
    assert_eq!(records.forget_deliveries(at(0), at(0)).await.unwrap(), 0);
    assert_eq!(records.forget_deliveries(at(3), at(0)).await.unwrap(), 1);
    assert_eq!(states(&records, &webhook).await, [Waiting, Waiting, Dead]);
    assert_eq!(records.forget_deliveries(at(3), at(3)).await.unwrap(), 2);
    assert_eq!(states(&records, &webhook).await, [Waiting]);
}

pub async fn a_clock_that_was_set_back_holds_up_none(database: Database) {
    const DAY_S: i64 = 86_400;
    let records = planted(&database).await;
    let webhook = hook(&records, FARM).await;
    let ids = queue(&records, &webhook, 2).await;
    assert_eq!(claim(&records, 9, 2).await[0].id, ids[0]);
    assert!(claim(&records, 9, 1).await.is_empty(), "by a clock that is a little behind it is under way");
    let then = at(-DAY_S);
    let due = records.next_delivery_at(then, at(LEASE_S - DAY_S), at(LONGEST_S - DAY_S)).await.unwrap();
    assert_eq!(due, Some(then), "what was never tried is due");
    assert_eq!(
        claim(&records, 9, -DAY_S).await[0].id,
        ids[0],
        "whoever had the first one under way is no more"
    );
}
