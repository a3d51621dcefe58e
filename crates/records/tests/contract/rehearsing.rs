//! Appends that are only rehearsed.

use baycast_model::history::Event;
use baycast_records::{Append, Entry, Mode, Outcome, Placed};

use crate::databases::Database;
use crate::orchard::{BATCH, FARM, add, addition, moved, planted, reading, stamp};

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
    let [added, unchanged, replaced] = [Outcome::Added, Outcome::Unchanged, Outcome::Replaced].map(Some);
    assert_eq!(outcomes, [added, unchanged, replaced, replaced, None, added]);
    let mut after = Vec::new();
    records.export(FARM, &mut after).await.unwrap();
    assert_eq!(before, after);
    assert!(records.rehearse(append(events.clone(), Mode::AllOrNothing), &stamp(1)).await.is_err());
    // Not even its idempotency key was kept: the append is no replay.
    let appended = records.append(append(events, Mode::KeepGood), &stamp(1)).await.unwrap();
    assert!(!appended.replayed);
    assert_eq!(told(appended), rehearsed);
}
