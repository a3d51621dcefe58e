//! What is told, in the order in which it is told.

use std::sync::Arc;

use baycast_model::moment::Moment;
use baycast_records::{Change, Claim, Error, Farm, Publication, Records, Tidings};
use jiff::civil::{Date, date};

use crate::databases::Database;
use crate::orchard::{BATCH, FARM, add, at, batch_draft, merge, planted, reading};

/// The model of what is told.
pub const MODEL: &str = "1.2.3";

/// The day that it is told for.
const DAY: Date = date(2026, 9, 22);

fn day_of(_: &Farm) -> Date {
    DAY
}

/// What is told of a batch as it stands now.
pub async fn publication(
    records: &Records,
    farm: &str,
    batch: &str,
    content: &str,
    claim: Option<Claim>,
) -> Publication {
    let told = records.told(farm, batch, at(0)).await.unwrap();
    Publication {
        farm: farm.to_owned(),
        batch: batch.to_owned(),
        expected_revision: told.revision,
        batch_version: told.batch.version,
        version: records.history_version(farm, batch).await.unwrap(),
        etag: "tag".to_owned(),
        surroundings: told.farm.surroundings,
        model_version: MODEL.to_owned(),
        day: Some(DAY),
        content: Some(content.to_owned()),
        changed: told.content.as_deref() != Some(content),
        at: at(0),
        claim,
        tidings: Tidings::default(),
    }
}

pub async fn what_was_worked_out_from_an_older_state_is_refused(database: Database) {
    let records = planted(&database).await;
    let first = publication(&records, FARM, BATCH, "first", None).await;
    assert_eq!(records.publish(&first).await, Ok(Some(1)));
    assert_eq!(records.publish(&first).await, Err(Error::Stale { given: 0, current: 1 }), "the same twice");
    let second = publication(&records, FARM, BATCH, "second", None).await;
    let same = publication(&records, FARM, BATCH, "first", None).await;
    assert!(!same.changed);
    assert_eq!(records.publish(&same).await, Ok(None), "nothing changed: no change is logged");
    assert_eq!(records.publish(&second).await, Err(Error::Stale { given: 1, current: 2 }));

    let third = publication(&records, FARM, BATCH, "third", None).await;
    let draft = records.batch(FARM, BATCH).await.unwrap().draft();
    records.update_batch(FARM, BATCH, 1, &draft).await.unwrap();
    assert_eq!(
        records.publish(&third).await,
        Err(Error::Stale { given: 1, current: 2 }),
        "the batch changed"
    );
    let missing = Publication { batch: "nowhere".to_owned(), ..third.clone() };
    assert!(matches!(records.publish(&missing).await, Err(Error::NotFound { .. })));

    let gone =
        Publication { content: None, changed: true, ..publication(&records, FARM, BATCH, "x", None).await };
    assert_eq!(records.publish(&gone).await, Ok(Some(2)), "it leaves the feed");
    let log = records.readiness_changes(FARM, 0, 9).await.unwrap();
    let told: Vec<_> = log.changes.iter().map(|own| (own.sequence, own.content.as_deref())).collect();
    assert_eq!(told, [(1, Some("first")), (2, None)]);
    assert_eq!((log.kept_from, log.last), (1, 2));
}

pub async fn sequences_have_no_gap_under_publishers_of_two_replicas(database: Database) {
    const EACH: usize = 25;
    let one = Arc::new(planted(&database).await);
    let two = Arc::new(database.open().await);
    for number in 0..4 {
        one.create_batch(FARM, &format!("b{number}"), &batch_draft("east")).await.unwrap();
    }
    let mut heard = two.changes();
    // Two publishers for each batch, on either replica, so that they meet.
    let publishing: Vec<_> = (0..8)
        .map(|number| {
            let records = if number % 2 == 0 { one.clone() } else { two.clone() };
            tokio::spawn(async move {
                let batch = format!("b{}", number / 2);
                let (mut told, mut refused) = (Vec::new(), 0);
                while told.len() < EACH {
                    let content = format!("{number}/{}", told.len());
                    match records.publish(&publication(&records, FARM, &batch, &content, None).await).await {
                        Ok(sequence) => told.push((sequence.expect("a change"), batch.clone(), content)),
                        Err(Error::Stale { .. }) => refused += 1,
                        Err(error) => panic!("{error}"),
                    }
                }
                (told, refused)
            })
        })
        .collect();
    let (mut told, mut refused) = (Vec::new(), 0);
    for own in publishing {
        let (own, stale) = own.await.unwrap();
        assert!(own.is_sorted(), "each publisher's in the order of time");
        told.extend(own);
        refused += stale;
    }
    told.sort();
    assert_eq!(told.len(), 8 * EACH);
    assert!(
        (1..).zip(&told).all(|(place, (sequence, ..))| place == *sequence),
        "one more each time: {told:?}"
    );
    assert!(refused > 0, "publishers met");
    let (mut read, mut last) = (Vec::new(), 0);
    while let Some(change) = one.readiness_changes(FARM, last, 7).await.unwrap().changes.first() {
        last = change.sequence;
        read.push((change.sequence, change.batch.clone(), change.content.clone().expect("told")));
    }
    assert_eq!(read, told);
    assert_eq!(
        two.last_sequences(&[FARM.to_owned(), "another".to_owned()]).await.unwrap(),
        [(FARM.to_owned(), 200)]
    );
    let word =
        async { while heard.recv().await.unwrap() != (Change::Readiness { farm: FARM.to_owned() }) {} };
    if database.url.starts_with("postgres") {
        tokio::time::timeout(std::time::Duration::from_secs(20), word).await.expect("word came");
    }
}

pub async fn what_is_told_is_read_back_with_what_is_due(database: Database) {
    let records = planted(&database).await;
    records.create_batch(FARM, "summer", &batch_draft("east")).await.unwrap();
    let read = async || records.readiness(FARM, &day_of, MODEL).await.unwrap();
    let before = read().await;
    assert_eq!((before.sequence, before.changed_at, before.contents.len()), (0, None, 0));
    assert_eq!(before.due, [BATCH, "summer"]);
    for batch in [BATCH, "summer"] {
        let claim = Claim { farm: FARM.to_owned(), batch: batch.to_owned(), id: String::new() };
        records.publish(&publication(&records, FARM, batch, batch, Some(claim)).await).await.unwrap();
    }
    let after = read().await;
    assert_eq!((after.sequence, after.changed_at), (2, Some(at(0))));
    assert_eq!(after.contents, [BATCH, "summer"], "what is told, by batch");
    assert_eq!(after.due, [BATCH, "summer"], "their notices wait to be settled");
    for own in records.claim_due(at(0), at(60), 9).await.unwrap() {
        let told = publication(&records, FARM, &own.batch, &own.batch, Some(own.clone())).await;
        records.publish(&told).await.unwrap();
    }
    assert_eq!(read().await.due, [""; 0]);
    assert_eq!(records.readiness(FARM, &day_of, "another").await.unwrap().due, [BATCH, "summer"]);

    add(&records, BATCH, reading(None, 50.0)).await;
    add(&records, BATCH, merge("summer")).await;
    let told = records.told(FARM, "summer", at(0)).await.unwrap();
    assert_eq!(told.joined_at.map(Moment::date), Some(date(2026, 4, 10)));
    assert_eq!((told.filled_at, told.last_at), (None, None));
    let told = records.told(FARM, BATCH, at(0)).await.unwrap();
    assert_eq!(told.last_at.map(Moment::date), Some(date(2026, 4, 10)));
    assert_eq!(told.seen_at, told.last_at, "nothing is planned");
    assert_eq!((told.content.as_deref(), told.day, told.etag.as_str()), (Some(BATCH), Some(DAY), "tag"));
    assert!(records.readiness("another", &day_of, MODEL).await.is_err());
    assert!(records.readiness_changes("another", 0, 9).await.is_err());
}

pub async fn old_changes_are_forgotten_from_the_beginning(database: Database) {
    let records = planted(&database).await;
    for number in 1..=5 {
        let told = Publication {
            at: at(number),
            ..publication(&records, FARM, BATCH, &number.to_string(), None).await
        };
        records.publish(&told).await.unwrap();
    }
    assert_eq!(records.forget_readiness_changes(at(1)).await.unwrap(), 0, "not older than that");
    assert_eq!(records.forget_readiness_changes(at(4)).await.unwrap(), 3);
    let log = records.readiness_changes(FARM, 0, 9).await.unwrap();
    assert_eq!((log.kept_from, log.last, log.changes.len()), (4, 5, 2));
    assert_eq!(records.forget_readiness_changes(at(9)).await.unwrap(), 2);
    let log = records.readiness_changes(FARM, 5, 9).await.unwrap();
    assert_eq!((log.kept_from, log.last, log.changes.len()), (6, 5, 0), "the next one is kept");
    assert_eq!(records.readiness(FARM, &day_of, MODEL).await.unwrap().contents, ["5"], "what is told stays");
}
