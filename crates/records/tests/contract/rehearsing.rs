//! Appends that are only rehearsed, and where batches stood.

use baycast_model::history::{Event, Withdrawal};
use baycast_records::Outcome::{Added, Replaced, Unchanged};
use baycast_records::{Append, Entry, Mode, Placed};

use crate::databases::Database;
use crate::orchard::{BATCH, FARM, add, addition, batch_draft, bay, merge, moved, planted, reading, stamp};

fn append(events: Vec<Event>, mode: Mode) -> Append {
    let placed = |event: Event| {
        let entry = if event.id.is_some() { Entry::Upsert { event } } else { Entry::Add { event } };
        Placed { batch: BATCH.into(), entry }
    };
    let entries = events.into_iter().map(placed).collect();
    Append { farm: FARM.into(), entries, mode, idempotency_key: Some("monday".into()) }
}

pub async fn a_rehearsal_answers_as_the_append_does_and_writes_nothing(database: Database) {
    let records = planted(&database).await;
    add(&records, BATCH, reading(Some("there"), 50.0)).await;
    let mut before = Vec::new();
    records.export(FARM, &mut before).await.unwrap();
    let events = vec![
        reading(Some("new"), 50.0),
        reading(Some("there"), 50.0),
        reading(Some("there"), 51.0),
        // On what comes before it in the same append.
        reading(Some("new"), 52.0),
        moved("nowhere"),
        addition("wheat_straw"),
    ];
    let told = |answer: baycast_records::Answer| -> Vec<_> {
        answer.entries.into_iter().map(|entry| entry.map(|own| (own.outcome, own.event_version))).collect()
    };
    let rehearsed = records.rehearse(append(events.clone(), Mode::KeepGood), &stamp(1)).await.unwrap();
    assert!(!rehearsed.replayed);
    let rehearsed = told(rehearsed);
    let outcomes: Vec<_> =
        rehearsed.iter().map(|entry| entry.as_ref().ok().map(|(outcome, _)| *outcome)).collect();
    let expected = [Some(Added), Some(Unchanged), Some(Replaced), Some(Replaced), None, Some(Added)];
    assert_eq!(outcomes, expected);
    let mut after = Vec::new();
    records.export(FARM, &mut after).await.unwrap();
    assert_eq!(before, after);
    assert!(records.rehearse(append(events.clone(), Mode::AllOrNothing), &stamp(1)).await.is_err());
    // Not even its idempotency key was kept: the append is no replay.
    let appended = records.append(append(events, Mode::KeepGood), &stamp(1)).await.unwrap();
    assert!(!appended.replayed);
    assert_eq!(told(appended), rehearsed);
}

pub async fn stands_are_told_by_what_places_and_ends_batches(database: Database) {
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
