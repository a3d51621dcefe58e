//! Which batch lay in a bay when, and the last of a batch's own ids.

use baycast_model::history::{Event, Merge, Move};
use baycast_model::moment::Moment;
use baycast_records::{Entry, Records};

use crate::databases::Database;
use crate::orchard::{BATCH, FARM, add, addition, batch_draft, bay, planted, reading, stamp};

/// Adds an event at a time of 2026.
async fn at(records: &Records, batch: &str, time: &str, event: Event) -> baycast_records::EventId {
    add(records, batch, Event { at: time.parse::<Moment>().unwrap(), ..event }).await
}

/// Which batches a bay holds at a time.
async fn held(records: &Records, bay: &str, time: &str) -> Vec<String> {
    records.batches_in_bay(FARM, bay, time.parse().unwrap()).await.unwrap()
}

pub async fn a_bay_holds_what_lay_in_it_at_the_time(database: Database) {
    let records = planted(&database).await;
    records.create_bay(FARM, &bay("west"), 2).await.unwrap();
    for (batch, start) in [("next", "east"), ("side", "west"), ("planned", "west")] {
        records.create_batch(FARM, batch, &batch_draft(start)).await.unwrap();
    }
    let to =
        |bay: &str| Event { moved: Some(Move { to_bay: bay.to_owned() }), ..addition("wheat_straw").clone() };
    let to = |bay: &str| Event { addition: None, ..to(bay) };
    at(&records, BATCH, "2026-04-01", addition("wheat_straw")).await;
    at(&records, "side", "2026-04-01", addition("wheat_straw")).await;
    let moved = at(&records, BATCH, "2026-04-10T09:00:00Z", to("west")).await;
    at(&records, "next", "2026-04-11", addition("wheat_straw")).await;
    let merge = Merge { source: "side".to_owned(), ..Merge::default() };
    let merge = Event { merge: Some(merge), addition: None, ..addition("wheat_straw") };
    at(&records, BATCH, "2026-04-12T08:00:00Z", merge).await;

    let none: [&str; 0] = [];
    assert_eq!(held(&records, "east", "2026-03-31T23:59:59Z").await, none, "before anything was in it");
    assert_eq!(held(&records, "east", "2026-04-01T00:00:00Z").await, [BATCH]);
    assert_eq!(held(&records, "east", "2026-04-10T08:59:59Z").await, [BATCH]);
    assert_eq!(held(&records, "east", "2026-04-10T09:00:00Z").await, none);
    assert_eq!(held(&records, "east", "2026-04-11T12:00:00Z").await, ["next"]);
    assert_eq!(held(&records, "west", "2026-04-12T07:00:00Z").await, ["planned", "side", BATCH]);
    assert_eq!(held(&records, "west", "2026-04-12T08:00:00Z").await, ["planned", BATCH], "merged");
    let planned = records.batch(FARM, "planned").await.unwrap();
    let since = Some(stamp(0).at);
    records.archive_batch(FARM, "planned", planned.version, since).await.unwrap();
    assert_eq!(held(&records, "west", "2026-05-01T00:00:00Z").await, [BATCH], "put away");
    let retract = Entry::Retract { supersedes: moved };
    records.record(FARM, BATCH, retract, None, &stamp(1)).await.unwrap();
    assert_eq!(held(&records, "east", "2026-05-01T00:00:00Z").await, ["next", BATCH], "never moved");
}

pub async fn own_ids_are_found_by_their_beginning(database: Database) {
    let records = planted(&database).await;
    for own in ["p-1", "p-3", "p-2", "q-9", "p", "pé"] {
        add(&records, BATCH, reading(Some(own), 50.0)).await;
    }
    let last = async |prefix: &str, most| records.last_own_ids(FARM, BATCH, prefix, most).await.unwrap();
    assert_eq!(last("p-", 2).await, ["p-3", "p-2"]);
    assert_eq!(last("p-", 9).await, ["p-3", "p-2", "p-1"]);
    assert_eq!(last("r", 9).await, [""; 0]);
    assert_eq!(records.last_own_ids("other", BATCH, "p-", 9).await.unwrap(), [""; 0]);
}
