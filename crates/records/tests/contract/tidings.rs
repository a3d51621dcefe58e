//! What webhooks are told, with the readiness that tells it and not without.

use baycast_records::{Error, EventId, NewDelivery, PageRequest, Publication, Records, Tidings};

use crate::databases::Database;
use crate::orchard::{BATCH, FARM, at, planted};
use crate::publishing::publication;
use crate::webhooks::hook;

/// One message to each webhook, who then know `known`.
fn tidings(webhooks: &[&str], known: &str) -> Tidings {
    let message = |webhook: &&str| NewDelivery {
        webhook: (*webhook).into(),
        id: EventId::after(None, at(1)).unwrap(),
        batch: Some(BATCH.into()),
        kind: "stage_entered".into(),
        body: "{}".into(),
    };
    Tidings {
        deliveries: webhooks.iter().map(message).collect(),
        told: webhooks.iter().map(|webhook| ((*webhook).into(), known.into())).collect(),
    }
}

/// Publishes after `revision` what is these tidings.
async fn publish(records: &Records, revision: i64, tidings: Tidings) -> Result<Option<i64>, Error> {
    let own = publication(records, FARM, BATCH, "{}", None).await;
    let publication = Publication { expected_revision: revision, tidings, ..own };
    records.publish(&publication).await
}

async fn waiting(records: &Records, webhook: &str) -> usize {
    records.deliveries(FARM, webhook, None, &PageRequest::default()).await.unwrap().items.len()
}

async fn known(records: &Records) -> Vec<Option<String>> {
    let listeners = records.listeners(FARM, BATCH).await.unwrap();
    listeners.into_iter().map(|listener| listener.told).collect()
}

pub async fn they_are_put_in_by_what_publishes_them(database: Database) {
    let records = planted(&database).await;
    let (one, other) = (hook(&records, FARM).await, hook(&records, FARM).await);
    assert_eq!(known(&records).await, [None, None]);
    publish(&records, 0, tidings(&[&one, &other], "first")).await.unwrap();
    assert_eq!((waiting(&records, &one).await, waiting(&records, &other).await), (1, 1));
    assert_eq!(known(&records).await, [Some("first".to_owned()), Some("first".to_owned())]);

    // Who worked it out from an older state tells nobody.
    let late = publish(&records, 0, tidings(&[&one, &other], "late")).await;
    assert_eq!(late, Err(Error::Stale { given: 0, current: 1 }));
    assert_eq!((waiting(&records, &one).await, waiting(&records, &other).await), (1, 1));
    assert_eq!(known(&records).await, [Some("first".to_owned()), Some("first".to_owned())]);

    // One that was deleted meanwhile is passed over.
    records.delete_webhook(FARM, &one, 1).await.unwrap();
    publish(&records, 1, tidings(&[&one, &other], "second")).await.unwrap();
    assert_eq!(waiting(&records, &other).await, 2);
    assert_eq!(known(&records).await, [Some("second".to_owned())]);
}
