//! Finished batches that started in a bay before another did.

use baycast_model::history::{Event, Withdrawal};
use baycast_model::moment::Moment;
use baycast_records::{Entry, EventId, Records};

use crate::databases::Database;
use crate::orchard::{BATCH, FARM, add, addition, at, batch_draft, bay, merge, moved, plant, planted, stamp};

/// Adds an event at a time.
async fn on(records: &Records, batch: &str, time: &str, event: Event) -> EventId {
    add(records, batch, Event { at: time.parse::<Moment>().unwrap(), ..event }).await
}

async fn fill(records: &Records, batch: &str, time: &str) {
    on(records, batch, time, addition("wheat_straw")).await;
}

async fn empty(records: &Records, batch: &str, time: &str) -> EventId {
    let withdrawal = Some(Withdrawal { volume_m3: None });
    on(records, batch, time, Event { withdrawal, addition: None, ..addition("wheat_straw") }).await
}

/// Those before `next` on a day of 2026, the last `most` of them.
async fn before(records: &Records, month: i8, day: i8, most: usize) -> Vec<String> {
    let day = jiff::civil::date(2026, month, day);
    let earlier = records.earlier_batches(FARM, "next", day, most).await.unwrap();
    for own in &earlier {
        // The version without the history is the one that comes with it.
        assert_eq!(own.version, records.history(FARM, &own.batch).await.unwrap().1, "{}", own.batch);
    }
    earlier.into_iter().map(|own| own.batch).collect()
}

const NONE: [&str; 0] = [];

pub async fn emptied_or_put_away_by_the_day(database: Database) {
    let records = planted(&database).await;
    records.create_batch(FARM, "next", &batch_draft("east")).await.unwrap();
    fill(&records, BATCH, "2026-04-01").await;
    assert_eq!(before(&records, 8, 1, 8).await, NONE, "nothing is known of the next one's beginning");
    fill(&records, "next", "2026-04-15").await;
    assert_eq!(before(&records, 8, 1, 8).await, NONE, "it still stands");

    let emptied = empty(&records, BATCH, "2026-05-20").await;
    assert_eq!(before(&records, 5, 20, 8).await, [BATCH]);
    assert_eq!(before(&records, 5, 19, 8).await, NONE, "what is planned has not happened");
    let retract = Entry::Retract { supersedes: emptied };
    records.record(FARM, BATCH, retract, None, &stamp(1)).await.unwrap();
    assert_eq!(before(&records, 8, 1, 8).await, NONE, "it was never emptied");

    let version = records.batch(FARM, BATCH).await.unwrap().version;
    let away = records.archive_batch(FARM, BATCH, version, Some(at(9))).await.unwrap();
    assert_eq!(before(&records, 8, 1, 8).await, [BATCH]);
    records.archive_batch(FARM, BATCH, away.version, None).await.unwrap();
    assert_eq!(before(&records, 8, 1, 8).await, NONE);

    empty(&records, BATCH, "2026-05-21").await;
    assert_eq!(before(&records, 8, 1, 8).await, [BATCH]);
    fill(&records, BATCH, "2026-07-15").await;
    assert_eq!(before(&records, 7, 14, 8).await, [BATCH]);
    assert_eq!(before(&records, 7, 15, 8).await, NONE, "it was begun again");
}

pub async fn of_the_bay_that_began_before(database: Database) {
    let records = planted(&database).await;
    records.create_bay(FARM, &bay("west"), 2).await.unwrap();
    plant(&records, "another").await;
    records.create_batch(FARM, "next", &batch_draft("east")).await.unwrap();
    fill(&records, "next", "2026-06-01T08:00:00Z").await;
    // Batch, its bay, when it was filled.
    for (batch, start, filled) in [
        ("second", "east", "2026-03-02"),
        ("first", "east", "2026-03-01"),
        ("later", "east", "2026-06-01T08:00:01Z"),
        ("together", "east", "2026-06-01T08:00:00Z"),
        ("side", "west", "2026-03-01"),
        ("joined", "east", "2026-03-01"),
        ("went_on", "east", "2026-03-03"),
    ] {
        records.create_batch(FARM, batch, &batch_draft(start)).await.unwrap();
        fill(&records, batch, filled).await;
    }
    on(&records, "went_on", "2026-04-09", moved("west")).await;
    on(&records, "went_on", "2026-04-10", merge("joined")).await;
    for batch in ["second", "first", "later", "together", "side", "went_on"] {
        empty(&records, batch, "2026-07-01").await;
    }
    assert_eq!(before(&records, 8, 1, 8).await, ["first", "second", "went_on"]);
    assert_eq!(before(&records, 8, 1, 2).await, ["second", "went_on"], "the last two");
    assert_eq!(before(&records, 8, 1, 0).await, NONE);
    let day = jiff::civil::date(2026, 8, 1);
    assert_eq!(records.earlier_batches("another", BATCH, day, 8).await.unwrap(), []);
    assert!(records.earlier_batches("another", "next", day, 8).await.is_err(), "there is no such batch");
}
