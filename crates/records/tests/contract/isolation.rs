//! Farms do not see one another.

use baycast_records::{Entry, Error, PageRequest, Thing, Which};

use crate::databases::Database;
use crate::orchard::{BATCH, FARM, add, batch_draft, bay, farm_draft, merge, moved, planted, reading, stamp};

pub async fn another_farms_things_are_not_there(database: Database) {
    let records = planted(&database).await;
    records.create_bay(FARM, &bay("west"), 2).await.unwrap();
    let event = add(&records, BATCH, reading(Some("p"), 50.0)).await;
    let straw = baycast_model::default_feedstocks().remove(0);
    records.create_feedstock(FARM, &straw).await.unwrap();
    // Another farm with a batch of the same name, and one that the first has not.
    records.create_farm("other", &farm_draft("")).await.unwrap();
    records.create_bay("other", &bay("yard"), 1).await.unwrap();
    records.create_batch("other", "heap", &batch_draft("yard")).await.unwrap();

    let (farm, page) = ("other", PageRequest::default());
    missing(records.bay(farm, "west").await, Thing::Bay);
    missing(records.update_bay(farm, 1, &bay("west"), 1).await, Thing::Bay);
    missing(records.archive_bay(farm, "west", 1, None).await, Thing::Bay);
    missing(records.feedstock(farm, &straw.id).await, Thing::Feedstock);
    missing(records.update_feedstock(farm, 1, &straw).await, Thing::Feedstock);
    missing(records.archive_feedstock(farm, &straw.id, 1, None).await, Thing::Feedstock);
    missing(records.batch(farm, BATCH).await, Thing::Batch);
    missing(records.update_batch(farm, BATCH, 1, &batch_draft("yard")).await, Thing::Batch);
    missing(records.archive_batch(farm, BATCH, 1, None).await, Thing::Batch);
    missing(records.create_batch(farm, "new", &batch_draft("west")).await, Thing::Bay);
    missing(records.history(farm, BATCH).await, Thing::Batch);
    missing(records.history_version(farm, BATCH).await, Thing::Batch);
    missing(records.event(farm, BATCH, event).await, Thing::Event);
    missing(records.event(farm, "heap", event).await, Thing::Event);
    missing(records.events(farm, BATCH, Which::All, &page).await, Thing::Batch);
    assert!(records.feedstocks(farm, &page).await.unwrap().items.is_empty());
    assert_eq!(records.bays(farm, &page).await.unwrap().items.len(), 1);
    assert_eq!(records.batches(farm, true, &page).await.unwrap().items.len(), 1);

    let now = stamp(1);
    let enter = |batch: &'static str, entry| records.record(farm, batch, entry, None, &now);
    missing(enter(BATCH, Entry::Add { event: reading(None, 1.0) }).await, Thing::Batch);
    missing(enter("heap", Entry::Retract { supersedes: event }).await, Thing::Event);
    let correct = Entry::Correct { supersedes: event, event: reading(None, 1.0) };
    missing(enter("heap", correct).await, Thing::Event);
    missing(enter("heap", Entry::Add { event: moved("west") }).await, Thing::Bay);
    missing(enter("heap", Entry::Add { event: merge(BATCH) }).await, Thing::Batch);
    // The same own id on another farm is another event.
    let own = enter("heap", Entry::Add { event: reading(Some("p"), 99.0) }).await.unwrap();
    assert_ne!(own.id, event);
    assert_eq!(records.events_since(FARM, BATCH, Which::All, None, 10).await.unwrap().len(), 1);
    let mut lines = Vec::new();
    records.export(farm, &mut lines).await.unwrap();
    assert!(!String::from_utf8(lines).unwrap().contains(FARM));
}

fn missing<T: std::fmt::Debug>(found: baycast_records::Result<T>, what: Thing) {
    match found {
        Err(Error::NotFound { what: found, .. }) if found == what => {}
        other => panic!("{other:?} where no {what} is to be found"),
    }
}
