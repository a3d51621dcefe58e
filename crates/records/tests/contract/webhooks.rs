//! Webhooks and their secrets.

use baycast_records::{Clash, Error, MOST_WEBHOOKS, PageRequest, Records, Thing, WebhookDraft};

use crate::databases::Database;
use crate::orchard::{FARM, at, plant, planted, stamp};

pub fn draft(url: &str) -> WebhookDraft {
    WebhookDraft { url: url.into(), kinds: vec!["too_hot".into()], moved_days: 7, best_by_days: 14 }
}

/// Adds a webhook; its id.
pub async fn hook(records: &Records, farm: &str) -> String {
    records.create_webhook(farm, &draft("https://a.example"), &stamp(0)).await.unwrap().webhook.id
}

pub async fn kept_changed_disabled_and_deleted(database: Database) {
    let records = planted(&database).await;
    let issued = records.create_webhook(FARM, &draft("https://a.example/in"), &stamp(1)).await.unwrap();
    let made = issued.webhook.clone();
    assert_eq!((made.farm.as_str(), &made.draft, made.version), (FARM, &draft("https://a.example/in"), 1));
    assert_eq!((made.created_at, made.created_by.as_str(), made.disabled_at), (at(1), "key_1", None));
    // 32 bytes in Base64, after the prefix.
    assert_eq!(issued.secret.len(), "whsec_".len() + 44);
    assert!(!format!("{issued:?}").contains(&issued.secret));
    assert_eq!(records.webhook(FARM, &made.id).await.unwrap(), made);
    let other = hook(&records, FARM).await;
    let listed = records.webhooks(FARM, &PageRequest::default()).await.unwrap().items;
    assert_eq!(listed.len(), 2);
    assert!(listed.contains(&made));

    let new = WebhookDraft { kinds: vec![], moved_days: 60, best_by_days: 1, ..draft("https://b.example") };
    let changed = records.update_webhook(FARM, &made.id, 1, &new, None).await.unwrap();
    assert_eq!((&changed.draft, changed.version), (&new, 2));
    let stale = records.update_webhook(FARM, &made.id, 1, &new, None).await.unwrap_err();
    assert_eq!(stale, Error::Stale { given: 1, current: 2 });
    let off = records.update_webhook(FARM, &made.id, 2, &new, Some(at(5))).await.unwrap();
    assert_eq!(off.disabled_at, Some(at(5)));
    let still = records.update_webhook(FARM, &made.id, 3, &new, Some(at(9))).await.unwrap();
    assert_eq!(still.disabled_at, Some(at(5)), "since then");
    let on = records.update_webhook(FARM, &made.id, 4, &new, None).await.unwrap();
    assert_eq!((on.disabled_at, on.version), (None, 5));

    assert!(matches!(records.delete_webhook(FARM, &made.id, 4).await, Err(Error::Stale { current: 5, .. })));
    records.delete_webhook(FARM, &made.id, 5).await.unwrap();
    let missing = Error::NotFound { what: Thing::Webhook, name: made.id.clone() };
    assert_eq!(records.webhook(FARM, &made.id).await.unwrap_err(), missing);
    assert_eq!(records.delete_webhook(FARM, &made.id, 5).await.unwrap_err(), missing);
    assert_eq!(records.update_webhook(FARM, &made.id, 5, &new, None).await.unwrap_err(), missing);
    records.webhook(FARM, &other).await.unwrap();
    let nowhere = Error::NotFound { what: Thing::Farm, name: "none".into() };
    assert_eq!(records.create_webhook("none", &new, &stamp(0)).await.err(), Some(nowhere.clone()));
    assert_eq!(records.webhooks("none", &PageRequest::default()).await.err(), Some(nowhere));
}

pub async fn another_farms_are_not_there(database: Database) {
    let records = planted(&database).await;
    plant(&records, "other").await;
    let id = hook(&records, FARM).await;
    let missing = Some(Error::NotFound { what: Thing::Webhook, name: id.clone() });
    let draft = draft("https://a.example");
    assert_eq!(records.webhook("other", &id).await.err(), missing);
    assert_eq!(records.update_webhook("other", &id, 1, &draft, None).await.err(), missing);
    assert_eq!(records.rotate_webhook_secret("other", &id, at(9)).await.err(), missing);
    assert_eq!(records.delete_webhook("other", &id, 1).await.err(), missing);
    assert_eq!(records.deliveries("other", &id, None, &PageRequest::default()).await.err(), missing);
    assert_eq!(records.replay_deliveries("other", &id, at(9)).await.err(), missing);
    assert!(records.webhooks("other", &PageRequest::default()).await.unwrap().items.is_empty());
    assert!(records.listeners("other", crate::orchard::BATCH).await.unwrap().is_empty());
    assert_eq!(records.webhook(FARM, &id).await.unwrap().version, 1);
}

pub async fn a_farm_has_so_many_and_no_more(database: Database) {
    let records = planted(&database).await;
    for _ in 0..MOST_WEBHOOKS {
        hook(&records, FARM).await;
    }
    let refused = records.create_webhook(FARM, &draft("https://a.example"), &stamp(0)).await.err();
    let most = Clash::TooMany { what: Thing::Webhook, most: MOST_WEBHOOKS };
    assert_eq!(refused, Some(Error::Conflict { what: most }));
}
