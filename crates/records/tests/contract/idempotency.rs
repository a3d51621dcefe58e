//! Idempotency keys.

use baycast_records::{Append, Clash, Entry, Error, Mode, Placed, Records, Stamp, Which};

use crate::databases::Database;
use crate::orchard::{BATCH, FARM, at, planted, reading, stamp};

const DAY_S: i64 = 86_400;

fn append(temperature_c: f64) -> Append {
    let entry = Entry::Add { event: reading(None, temperature_c) };
    Append {
        farm: FARM.into(),
        entries: vec![Placed { batch: BATCH.into(), entry }],
        mode: Mode::AllOrNothing,
        idempotency_key: Some("upload-1".into()),
    }
}

async fn recorded(records: &Records) -> usize {
    records.events_since(FARM, BATCH, Which::All, None, 100).await.unwrap().len()
}

pub async fn the_same_key_gets_the_same_answer(database: Database) {
    let records = planted(&database).await;
    let first = records.append(append(50.0), &stamp(0)).await.unwrap();
    assert!(!first.replayed);
    records.append(Append { idempotency_key: None, ..append(51.0) }, &stamp(1)).await.unwrap();
    let again = records.append(append(50.0), &stamp(DAY_S - 1)).await.unwrap();
    assert_eq!((again.entries, again.replayed), (first.entries, true));
    assert_eq!(recorded(&records).await, 2);
    // Another caller's key of the same name is another key.
    let other = records.append(append(50.0), &Stamp::new(at(2), "key_2")).await.unwrap();
    assert!(!other.replayed);
    assert_eq!(recorded(&records).await, 3);
}

pub async fn another_body_is_refused(database: Database) {
    let records = planted(&database).await;
    records.append(append(50.0), &stamp(0)).await.unwrap();
    let refused = records.append(append(51.0), &stamp(1)).await.unwrap_err();
    assert_eq!(refused, Error::Conflict { what: Clash::IdempotencyKey { key: "upload-1".into() } });
    assert_eq!(recorded(&records).await, 1);
}

pub async fn a_day_later_the_key_is_free(database: Database) {
    let records = planted(&database).await;
    records.append(append(50.0), &stamp(0)).await.unwrap();
    let later = records.append(append(51.0), &stamp(DAY_S)).await.unwrap();
    assert!(!later.replayed);
    let again = records.append(append(51.0), &stamp(DAY_S + 1)).await.unwrap();
    assert!(again.replayed);
    assert_eq!(recorded(&records).await, 2);
    assert_eq!(records.forget_expired_keys(at(2 * DAY_S - 1)).await.unwrap(), 0);
    assert_eq!(records.forget_expired_keys(at(2 * DAY_S)).await.unwrap(), 1);
    assert!(!records.append(append(51.0), &stamp(DAY_S + 2)).await.unwrap().replayed);
}
