//! Where batches stood, and when.

use baycast_model::history::{Event, Withdrawal};
use baycast_model::moment::Moment;
use baycast_records::{Entry, Records, Yard};

use crate::databases::Database;
use crate::orchard::{BATCH, FARM, add, addition, batch_draft, bay, merge, moved, planted, stamp};

pub async fn told_by_what_places_and_ends_batches(database: Database) {
    let records = planted(&database).await;
    records.create_bay(FARM, &bay("west"), 2).await.unwrap();
    records.create_batch(FARM, "late", &batch_draft("east")).await.unwrap();
    let day = |day| jiff::civil::date(2026, 4, day);
    let stood = async |bay: &str, on: jiff::civil::Date| -> Vec<String> {
        let stands = records.stands(FARM).await.unwrap();
        stands.into_iter().filter(|own| own.bay == bay && own.on(on)).map(|own| own.batch).collect()
    };
    assert_eq!(stood("east", day(5)).await, ["late", BATCH], "before anything is known both may have");

    // Filled on the 1st, moved on the 9th; what the other was merged into it on the 10th.
    add(&records, BATCH, addition("wheat_straw")).await;
    let move_west = add(&records, BATCH, moved("west")).await;
    assert_eq!(stood("east", day(8)).await, ["late", BATCH]);
    assert_eq!(stood("west", day(8)).await, [""; 0]);
    assert_eq!(stood("west", day(9)).await, [BATCH]);
    assert_eq!(stood("east", day(10)).await, ["late"]);
    add(&records, BATCH, merge("late")).await;
    assert_eq!(stood("east", day(11)).await, [""; 0]);

    // Emptied on the 12th; a retracted move never was.
    let emptied = Event { withdrawal: Some(Withdrawal { volume_m3: None }), ..moved("west") };
    let at = "2026-04-12".parse().unwrap();
    add(&records, BATCH, Event { moved: None, at, ..emptied }).await;
    assert_eq!(stood("west", day(12)).await, [BATCH]);
    assert_eq!(stood("west", day(13)).await, [""; 0]);
    let retract = Entry::Retract { supersedes: move_west };
    records.record(FARM, BATCH, retract, None, &stamp(2)).await.unwrap();
    assert_eq!(stood("west", day(10)).await, [""; 0]);
    assert_eq!(stood("east", day(10)).await, ["late", BATCH]);
}

pub async fn a_yard_is_what_stands_at_the_end_of_a_day(database: Database) {
    let records = planted(&database).await;
    for (position, id) in (2..).zip(["west", "north", "south"]) {
        records.create_bay(FARM, &bay(id), position).await.unwrap();
    }
    for (batch, start) in [("over", "east"), ("late", "west"), ("bare", "north")] {
        records.create_batch(FARM, batch, &batch_draft(start)).await.unwrap();
    }
    at(&records, BATCH, "2026-04-01", addition("wheat_straw")).await;
    at(&records, "over", "2026-04-05", addition("wheat_straw")).await;
    at(&records, "late", "2026-04-08", addition("wheat_straw")).await;
    let emptied = Event { withdrawal: Some(Withdrawal { volume_m3: None }), moved: None, ..moved("west") };
    at(&records, "late", "2026-04-20", emptied).await;
    records.archive_bay(FARM, "south", 1, Some(crate::orchard::at(1))).await.unwrap();
    records.archive_bay(FARM, "west", 1, Some(crate::orchard::at(1))).await.unwrap();
    let on = async |day: i8| {
        let day_of = move |_: &_| jiff::civil::date(2026, 4, day);
        records.yard(FARM, &day_of, &["wheat_straw"].into()).await.unwrap()
    };
    let told = |yard: &Yard| {
        let bays: Vec<_> = yard.bays.iter().map(|own| own.id.clone()).collect();
        let standing: Vec<_> = yard.standing.iter().map(|own| own.batch.clone()).collect();
        let gone: Vec<_> = yard.unaccounted.iter().map(|own| own.batch.clone()).collect();
        (bays.join(" "), standing.join(" "), gone.join(" "))
    };
    let expected = |bays: &str, standing: &str, gone: &str| (bays.into(), standing.into(), gone.into());
    assert_eq!(told(&on(4).await), expected("east north", BATCH, ""));
    // The one that came later stands there; a bay that was put away counts while something stands in it.
    assert_eq!(told(&on(8).await), expected("east west north", "over late", BATCH));
    assert_eq!(told(&on(19).await), expected("east west north", "over late", BATCH));
    assert_eq!(told(&on(20).await), expected("east north", "over", BATCH), "emptied by the end of that day");
    let yard = on(8).await;
    assert_eq!(yard.standing[0], records.history(FARM, "over").await.unwrap().0);
    assert_eq!(yard.feedstocks, [], "the default table's are not the farm's own");
}

/// Adds an event at another time.
async fn at(records: &Records, batch: &str, time: &str, event: Event) {
    add(records, batch, Event { at: time.parse::<Moment>().unwrap(), ..event }).await;
}

pub async fn a_probe_is_in_the_batch_that_came_last(database: Database) {
    let records = planted(&database).await;
    records.create_bay(FARM, &bay("west"), 2).await.unwrap();
    for (batch, start) in [("next", "east"), ("side", "west"), ("planned", "west")] {
        records.create_batch(FARM, batch, &batch_draft(start)).await.unwrap();
    }
    let held =
        async |bay: &str, time: &str| records.batches_in_bay(FARM, bay, time.parse().unwrap()).await.unwrap();
    let none: [&str; 0] = [];
    assert_eq!(
        held("west", "2026-03-01T00:00:00Z").await,
        ["planned", "side"],
        "of neither anything is known"
    );
    at(&records, BATCH, "2026-04-01", addition("wheat_straw")).await;
    at(&records, "side", "2026-04-01", addition("wheat_straw")).await;
    assert_eq!(
        held("west", "2026-04-02T00:00:00Z").await,
        ["side"],
        "what was filled before what is planned"
    );
    at(&records, BATCH, "2026-04-10T09:00:00Z", moved("west")).await;
    at(&records, "next", "2026-04-11", addition("wheat_straw")).await;
    at(&records, BATCH, "2026-04-12T08:00:00Z", merge("side")).await;

    assert_eq!(held("east", "2026-03-31T23:59:59Z").await, none, "before anything was in it");
    assert_eq!(held("east", "2026-04-01T00:00:00Z").await, [BATCH], "a day without an hour is the whole day");
    assert_eq!(held("east", "2026-04-10T08:59:59Z").await, [BATCH]);
    assert_eq!(held("east", "2026-04-10T09:00:00Z").await, none);
    assert_eq!(held("east", "2026-04-11T12:00:00Z").await, ["next"]);
    assert_eq!(held("west", "2026-04-10T08:59:59Z").await, ["side"]);
    assert_eq!(held("west", "2026-04-12T07:00:00Z").await, [BATCH], "on top of the other");

    // Moved out and in on one day, of which nobody wrote the hours: the one that came in counts.
    at(&records, "next", "2026-05-01", moved("west")).await;
    at(&records, BATCH, "2026-05-01", moved("east")).await;
    assert_eq!(held("west", "2026-05-01T06:00:00Z").await, ["next"]);
    assert_eq!(held("east", "2026-05-01T06:00:00Z").await, [BATCH]);
}
