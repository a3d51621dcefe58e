//! Appending, correcting, retracting.

use baycast_model::history::{Event, Turn};
use baycast_records::{
    Append, Clash, Entry, Error, EventId, Mode, Outcome, PageRequest, Placed, Records, Refusal, Thing, Which,
};

use crate::databases::Database;
use crate::orchard::{BATCH, FARM, add, addition, at, merge, moved, planted, reading, stamp};

async fn record(records: &Records, entry: Entry) -> baycast_records::Result<baycast_records::Appended> {
    records.record(FARM, BATCH, entry, None, &stamp(0)).await
}

/// Ids and temperatures of the events that hold.
async fn current(records: &Records) -> Vec<(EventId, f64)> {
    let page = records.events(FARM, BATCH, Which::Current, &PageRequest::default()).await.unwrap();
    let temperature = |event: Event| event.reading.unwrap().temperature_c.unwrap();
    page.items.into_iter().map(|own| (own.id, temperature(own.event.unwrap()))).collect()
}

async fn recorded(records: &Records) -> usize {
    let page = records.events(FARM, BATCH, Which::All, &PageRequest::default()).await.unwrap();
    assert_eq!(records.batch(FARM, BATCH).await.unwrap().event_version as usize, page.items.len());
    page.items.len()
}

pub async fn an_event_is_kept_with_who_and_when(database: Database) {
    let records = planted(&database).await;
    let event = reading(Some("probe-1"), 54.3);
    let made = record(&records, Entry::Add { event: event.clone() }).await.unwrap();
    assert_eq!((made.outcome, made.event_version), (Outcome::Added, 1));
    let plain = add(&records, BATCH, addition("wheat_straw")).await;
    assert!(plain > made.id);
    records.close().await.unwrap();

    let records = database.open().await;
    let kept = records.event(FARM, BATCH, made.id).await.unwrap();
    assert_eq!(kept.event, Some(event));
    assert_eq!(kept.external_id.as_deref(), Some("probe-1"));
    assert_eq!((kept.recorded_at, kept.recorded_by.as_str()), (at(0), "key_1"));
    assert_eq!(records.event(FARM, BATCH, plain).await.unwrap().event, Some(addition("wheat_straw")));
    assert_eq!(records.batch(FARM, BATCH).await.unwrap().last_event, Some(plain));
    let since = records.events_since(FARM, BATCH, Which::All, Some(made.id), 10).await.unwrap();
    assert_eq!(since.iter().map(|own| own.id).collect::<Vec<_>>(), [plain]);
}

pub async fn own_ids_make_adding_again_harmless(database: Database) {
    let records = planted(&database).await;
    let first = add(&records, BATCH, reading(Some("p"), 50.0)).await;
    let again = record(&records, Entry::Add { event: reading(Some("p"), 50.0) }).await.unwrap();
    assert_eq!((again.id, again.outcome, again.event_version), (first, Outcome::Unchanged, 1));
    let other = record(&records, Entry::Add { event: reading(Some("p"), 51.0) }).await.unwrap_err();
    assert_eq!(other, Error::Conflict { what: Clash::Exists { what: Thing::Event, name: "p".into() } });
    assert_eq!(recorded(&records).await, 1);
    // Without own ids two equal events are two events.
    add(&records, BATCH, reading(None, 50.0)).await;
    add(&records, BATCH, reading(None, 50.0)).await;
    assert_eq!(recorded(&records).await, 3);
}

pub async fn an_upsert_corrects_what_is_there(database: Database) {
    let records = planted(&database).await;
    let upsert = |c: f64| Entry::Upsert { event: reading(Some("p"), c) };
    let first = record(&records, upsert(50.0)).await.unwrap();
    let same = record(&records, upsert(50.0)).await.unwrap();
    let second = record(&records, upsert(55.0)).await.unwrap();
    let third = record(&records, upsert(57.5)).await.unwrap();
    let outcomes = [first.outcome, same.outcome, second.outcome, third.outcome];
    assert_eq!(outcomes, [Outcome::Added, Outcome::Unchanged, Outcome::Replaced, Outcome::Replaced]);
    assert_eq!(current(&records).await, [(third.id, 57.5)]);
    assert_eq!(records.event(FARM, BATCH, third.id).await.unwrap().supersedes, Some(second.id));
    assert_eq!(recorded(&records).await, 3);
    let nameless = record(&records, Entry::Upsert { event: reading(None, 50.0) }).await.unwrap_err();
    assert!(matches!(nameless, Error::Invalid { field, .. } if field == "event.id"));
}

pub async fn corrections_and_retractions_supersede_once(database: Database) {
    let records = planted(&database).await;
    let own = add(&records, BATCH, reading(Some("p"), 50.0)).await;
    let plain = add(&records, BATCH, reading(None, 40.0)).await;
    let correct = |supersedes, event| record(&records, Entry::Correct { supersedes, event });
    let right = correct(own, reading(None, 52.0)).await.unwrap();
    let kept = records.event(FARM, BATCH, right.id).await.unwrap();
    assert_eq!((kept.supersedes, kept.external_id.as_deref()), (Some(own), Some("p")));
    let twice = correct(own, reading(None, 53.0)).await.unwrap_err();
    assert_eq!(twice, Error::Conflict { what: Clash::Superseded { event: own.to_string() } });
    let renamed = correct(right.id, reading(Some("q"), 53.0)).await.unwrap_err();
    assert_eq!(renamed, Error::Conflict { what: Clash::OwnId });
    let named = correct(plain, reading(Some("q"), 53.0)).await.unwrap_err();
    assert_eq!(named, Error::Conflict { what: Clash::OwnId });

    let gone = record(&records, Entry::Retract { supersedes: right.id }).await.unwrap();
    assert_eq!(gone.outcome, Outcome::Retracted);
    assert_eq!(current(&records).await, [(plain, 40.0)]);
    let twice = record(&records, Entry::Retract { supersedes: gone.id }).await.unwrap_err();
    assert_eq!(twice, Error::Conflict { what: Clash::Superseded { event: gone.id.to_string() } });
    let back = record(&records, Entry::Add { event: reading(Some("p"), 61.0) }).await.unwrap();
    assert_eq!(back.outcome, Outcome::Added);
    assert_eq!(current(&records).await, [(plain, 40.0), (back.id, 61.0)]);
    let unknown: EventId = "017f22e2-79b0-7cc3-98c4-dc0c0c07398f".parse().unwrap();
    let missing = record(&records, Entry::Retract { supersedes: unknown }).await.unwrap_err();
    assert_eq!(missing, Error::NotFound { what: Thing::Event, name: unknown.to_string() });
    assert_eq!(recorded(&records).await, 5);
}

fn bulk(mode: Mode, entries: Vec<Entry>) -> Append {
    let entries = entries.into_iter().map(|entry| Placed { batch: BATCH.into(), entry }).collect();
    Append { farm: FARM.into(), entries, mode, idempotency_key: None }
}

pub async fn all_or_nothing_keeps_nothing(database: Database) {
    let records = planted(&database).await;
    let there = add(&records, BATCH, reading(Some("there"), 20.0)).await;
    let entries = || {
        vec![
            Entry::Upsert { event: reading(Some("there"), 21.0) },
            Entry::Add { event: reading(Some("new"), 30.0) },
            Entry::Add { event: moved("nowhere") },
            Entry::Upsert { event: reading(Some("new"), 31.0) },
            Entry::Retract { supersedes: there },
        ]
    };
    let refused = records.append(bulk(Mode::AllOrNothing, entries()), &stamp(1)).await.unwrap_err();
    let expected = vec![
        Refusal { index: 2, error: Error::NotFound { what: Thing::Bay, name: "nowhere".into() } },
        Refusal { index: 4, error: Error::Conflict { what: Clash::Superseded { event: there.to_string() } } },
    ];
    assert_eq!(refused, Error::Refused(expected));
    assert_eq!(current(&records).await, [(there, 20.0)]);
    assert_eq!(recorded(&records).await, 1);

    let good = vec![
        Entry::Upsert { event: reading(Some("there"), 21.0) },
        Entry::Add { event: reading(Some("new"), 30.0) },
        Entry::Upsert { event: reading(Some("new"), 31.0) },
    ];
    let answer = records.append(bulk(Mode::AllOrNothing, good), &stamp(2)).await.unwrap();
    let outcomes: Vec<_> = answer.entries.iter().map(|entry| entry.as_ref().unwrap().outcome).collect();
    assert_eq!(outcomes, [Outcome::Replaced, Outcome::Added, Outcome::Replaced]);
    let temperatures: Vec<f64> = current(&records).await.into_iter().map(|(_, c)| c).collect();
    assert_eq!(temperatures, [21.0, 31.0]);
}

pub async fn keep_good_keeps_the_others(database: Database) {
    let records = planted(&database).await;
    let entries = vec![
        Entry::Add { event: reading(Some("a"), 30.0) },
        Entry::Add { event: addition("no_such_straw") },
        Entry::Add { event: reading(Some("a"), 31.0) },
        Entry::Add { event: reading(Some("b"), 32.0) },
    ];
    let mut append = bulk(Mode::KeepGood, entries);
    append.idempotency_key = Some("upload-7".into());
    let answer = records.append(append.clone(), &stamp(1)).await.unwrap();
    let taken: Vec<bool> = answer.entries.iter().map(Result::is_ok).collect();
    assert_eq!(taken, [true, false, false, true]);
    assert_eq!(
        answer.entries[1],
        Err(Error::NotFound { what: Thing::Feedstock, name: "no_such_straw".into() })
    );
    assert_eq!(recorded(&records).await, 2);
    let again = records.append(append, &stamp(2)).await.unwrap();
    assert_eq!((again.entries, again.replayed), (answer.entries, true));
    assert_eq!(recorded(&records).await, 2);

    // A few hundred, more than one statement's worth of parameters would be if each value were one.
    let many = (0..5000).map(|n| Entry::Upsert { event: reading(Some(&format!("n{n}")), 20.0) }).collect();
    let answer = records.append(bulk(Mode::AllOrNothing, many), &stamp(3)).await.unwrap();
    assert_eq!(answer.entries.last().unwrap().as_ref().unwrap().event_version, 5002);
}

pub async fn what_is_no_event_is_refused(database: Database) {
    let records = planted(&database).await;
    let none = Event { reading: None, ..reading(None, 1.0) };
    let two = Event { turn: Some(Turn::default()), ..reading(None, 1.0) };
    let infinite = reading(None, f64::NAN);
    let long = reading(Some(&"x".repeat(200)), 1.0);
    let control = reading(Some("a\0b"), 1.0);
    for event in [none, two, infinite, long, control] {
        let refused = record(&records, Entry::Add { event }).await.unwrap_err();
        assert!(matches!(refused, Error::Invalid { .. }), "{refused}");
    }
    let entry = Entry::Add { event: reading(None, 1.0) };
    let missing = records.record(FARM, "none", entry, None, &stamp(0)).await.unwrap_err();
    assert_eq!(missing, Error::NotFound { what: Thing::Batch, name: "none".into() });
    // What can be no name is not there, and does not disturb those whose appends wait with it.
    let odd = "a\0b";
    let entry = Entry::Add { event: reading(None, 1.0) };
    assert!(records.record(FARM, odd, entry.clone(), None, &stamp(0)).await.is_err());
    assert!(records.record(odd, BATCH, entry, None, &stamp(0)).await.is_err());
    for event in [moved(odd), addition(odd), merge(odd)] {
        assert!(matches!(record(&records, Entry::Add { event }).await, Err(Error::NotFound { .. })));
    }
    assert!(records.batch(FARM, odd).await.is_err());
    assert_eq!(recorded(&records).await, 0);
    // Any text that JSON holds is kept as it is.
    add(&records, BATCH, reading(Some("🌱 \"'\\ {rows} $1 é"), -0.1)).await;
    let kept = records.events(FARM, BATCH, Which::Current, &PageRequest::default()).await.unwrap();
    assert_eq!(kept.items[0].event, Some(reading(Some("🌱 \"'\\ {rows} $1 é"), -0.1)));
}

pub async fn archived_batches_take_no_more(database: Database) {
    let records = planted(&database).await;
    records.archive_batch(FARM, BATCH, 1, Some(at(1))).await.unwrap();
    let refused = record(&records, Entry::Add { event: reading(None, 1.0) }).await.unwrap_err();
    assert_eq!(refused, Error::Conflict { what: Clash::Archived { what: Thing::Batch, name: BATCH.into() } });
    records.archive_batch(FARM, BATCH, 2, None).await.unwrap();
    record(&records, Entry::Add { event: reading(None, 1.0) }).await.unwrap();
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
