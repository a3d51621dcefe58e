//! Several writers, in one process and in several.

use std::collections::BTreeSet;
use std::sync::Arc;

use baycast_records::{Append, Clash, Entry, Error, Mode, Placed, Records, Which};

use crate::databases::Database;
use crate::orchard::{BATCH, FARM, batch_draft, merge, planted, reading, stamp};

const WRITERS: usize = 12;
const EACH: usize = 40;

pub async fn many_writers_lose_and_double_nothing(database: Database) {
    let one = Arc::new(planted(&database).await);
    one.create_batch(FARM, "second", &batch_draft("east")).await.unwrap();
    let two = Arc::new(database.open().await);
    let writing: Vec<_> = (0..WRITERS)
        .map(|writer| {
            let records = if writer % 2 == 0 { one.clone() } else { two.clone() };
            tokio::spawn(async move {
                let mut ids = Vec::new();
                for number in 0..EACH {
                    let batch = if number % 3 == 0 { "second" } else { BATCH };
                    let event = reading(Some(&format!("w{writer}-{number}")), 20.0);
                    let made =
                        records.record(FARM, batch, Entry::Add { event }, None, &stamp(0)).await.unwrap();
                    ids.push((batch, made.id));
                }
                assert!(ids.iter().filter(|(batch, _)| *batch == BATCH).is_sorted());
                ids
            })
        })
        .collect();
    let mut acknowledged = BTreeSet::new();
    for ids in writing {
        acknowledged.extend(ids.await.unwrap());
    }
    assert_eq!(acknowledged.len(), WRITERS * EACH);
    let mut kept = BTreeSet::new();
    for batch in [BATCH, "second"] {
        let events = two.events_since(FARM, batch, Which::All, None, u32::MAX).await.unwrap();
        assert_eq!(one.batch(FARM, batch).await.unwrap().event_version as usize, events.len());
        assert_eq!(one.batch(FARM, batch).await.unwrap().last_event, events.last().map(|own| own.id));
        kept.extend(events.into_iter().map(|own| (batch, own.id)));
    }
    assert_eq!(kept, acknowledged);
}

pub async fn one_key_on_two_replicas_records_once(database: Database) {
    let one = planted(&database).await;
    let two = database.open().await;
    for round in 0..20 {
        let append = || Append {
            farm: FARM.into(),
            entries: vec![Placed { batch: BATCH.into(), entry: Entry::Add { event: reading(None, 20.0) } }],
            mode: Mode::AllOrNothing,
            idempotency_key: Some(format!("k{round}")),
        };
        let now = stamp(round);
        let (first, second) = tokio::join!(one.append(append(), &now), two.append(append(), &now));
        let (first, second) = (first.unwrap(), second.unwrap());
        assert_eq!(first.entries, second.entries);
        assert!(first.replayed != second.replayed);
    }
    assert_eq!(one.events_since(FARM, BATCH, Which::All, None, 100).await.unwrap().len(), 20);
}

pub async fn merges_on_two_replicas_close_no_circle(database: Database) {
    let one = planted(&database).await;
    let two = database.open().await;
    for round in 0..20 {
        let (a, b) = (format!("a{round}"), format!("b{round}"));
        for batch in [&a, &b] {
            one.create_batch(FARM, batch, &batch_draft("east")).await.unwrap();
        }
        let join = async |records: &Records, source: &str, into: &str| {
            records.record(FARM, into, Entry::Add { event: merge(source) }, None, &stamp(0)).await
        };
        let (first, second) = tokio::join!(join(&one, &a, &b), join(&two, &b, &a));
        let refused = match (first, second) {
            (Ok(_), Err(error)) | (Err(error), Ok(_)) => error,
            other => panic!("{other:?}"),
        };
        assert!(matches!(refused, Error::Conflict { what: Clash::Cycle { .. } }), "{refused}");
    }
}
