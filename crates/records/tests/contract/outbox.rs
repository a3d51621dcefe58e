//! Notices of what is due, and who works it out.

use std::collections::BTreeSet;
use std::sync::Arc;

use baycast_records::{Claim, Farm, Records};
use jiff::civil::{Date, date};

use crate::databases::Database;
use crate::orchard::{BATCH, FARM, add, at, batch_draft, bay, merge, plant, planted, reading};
use crate::publishing::{MODEL, publication};

/// The day on every farm.
fn day_of(_: &Farm) -> Date {
    date(2026, 9, 22)
}

/// Claims all that no one holds at a second for a minute.
async fn claim(records: &Records, second: i64) -> Vec<Claim> {
    records.claim_due(at(second), at(second + 60), usize::MAX).await.unwrap()
}

fn batches(claims: &[Claim]) -> Vec<&str> {
    claims.iter().map(|claim| claim.batch.as_str()).collect()
}

/// Publishes what is due until nothing is.
async fn settle(records: &Records) {
    loop {
        let claims = claim(records, 0).await;
        if claims.is_empty() {
            return;
        }
        for own in claims {
            let told = publication(records, &own.farm, &own.batch, "the same", Some(own.clone())).await;
            records.publish(&told).await.unwrap();
        }
    }
}

pub async fn a_change_has_its_notice_and_a_claim_holds_it_until_it_lapses(database: Database) {
    let records = planted(&database).await;
    let claims = claim(&records, 0).await;
    assert_eq!(batches(&claims), [BATCH], "a new batch");
    assert_eq!(claims[0].farm, FARM);
    assert_eq!(claim(&records, 59).await, [], "it is claimed");
    assert_eq!(claim(&records, -1).await, [], "by a clock that is a little behind as well");
    let taken_over = claim(&records, 60).await;
    assert_eq!(batches(&taken_over), [BATCH], "the claim has lapsed");
    assert_ne!(taken_over[0].id, claims[0].id);

    // What comes while it is worked out is due again after that.
    add(&records, BATCH, reading(Some("a"), 50.0)).await;
    let later = claim(&records, 61).await;
    assert_eq!(batches(&later), [BATCH]);
    records.publish(&publication(&records, FARM, BATCH, "one", Some(claims[0].clone())).await).await.unwrap();
    records
        .publish(&publication(&records, FARM, BATCH, "two", Some(taken_over[0].clone())).await)
        .await
        .unwrap();
    assert_eq!(batches(&claim(&records, 200).await), [BATCH], "the last claim holds a notice yet");
    records
        .publish(&publication(&records, FARM, BATCH, "three", claim(&records, 300).await.pop()).await)
        .await
        .unwrap();
    assert_eq!(claim(&records, 1000).await, [], "all is settled");

    let version = records.batch(FARM, BATCH).await.unwrap().version;
    records.archive_batch(FARM, BATCH, version, Some(at(1))).await.unwrap();
    let first = claim(&records, 1000).await;
    assert_eq!(batches(&first), [BATCH], "put away");
    records.archive_batch(FARM, BATCH, version + 1, None).await.unwrap();
    assert_eq!(batches(&claim(&records, 1001).await), [BATCH], "its one notice is due anew");
    records
        .publish(&publication(&records, FARM, BATCH, "four", first.into_iter().next()).await)
        .await
        .unwrap();
    assert_eq!(batches(&claim(&records, 2000).await), [BATCH], "which the older claim does not settle");
}

pub async fn many_claim_without_waiting_for_each_other(database: Database) {
    let one = Arc::new(planted(&database).await);
    let two = Arc::new(database.open().await);
    for number in 0..40 {
        one.create_batch(FARM, &format!("b{number}"), &batch_draft("east")).await.unwrap();
        add(&one, &format!("b{number}"), reading(None, 50.0)).await;
    }
    let claiming = (0..8).map(|number| {
        let records = if number % 2 == 0 { one.clone() } else { two.clone() };
        tokio::spawn(async move {
            let mut all = Vec::new();
            loop {
                match records.claim_due(at(0), at(60), 3).await.unwrap() {
                    claims if claims.is_empty() => return all,
                    claims => all.extend(claims),
                }
            }
        })
    });
    let mut claimed = Vec::new();
    for claims in claiming.collect::<Vec<_>>() {
        claimed.extend(claims.await.unwrap().into_iter().map(|claim| claim.batch));
    }
    // Whoever met the others at the same moments too often is done early; what is left is there for the next look.
    claimed.extend(claim(&one, 0).await.into_iter().map(|claim| claim.batch));
    assert_eq!(claimed.iter().collect::<BTreeSet<_>>().len(), 41, "each");
    assert!(claimed.len() < 41 * 2, "two at the same moment may share a batch's two notices, now and then");
    assert_eq!(claim(&two, 59).await, [], "and none is left");
}

pub async fn what_hangs_on_a_batch_is_due_with_it(database: Database) {
    let records = planted(&database).await;
    records.create_bay(FARM, &bay("west"), 2).await.unwrap();
    for (batch, start) in [("mate", "east"), ("side", "west"), ("target", "west"), ("a:b", "west")] {
        records.create_batch(FARM, batch, &batch_draft(start)).await.unwrap();
    }
    plant(&records, "another").await;
    add(&records, "target", merge("side")).await;
    settle(&records).await;

    add(&records, BATCH, reading(None, 50.0)).await;
    let claims = claim(&records, 0).await;
    assert_eq!(batches(&claims), [BATCH]);
    records
        .publish(&publication(&records, FARM, BATCH, "new", claims.into_iter().next()).await)
        .await
        .unwrap();
    assert_eq!(batches(&claim(&records, 0).await), ["mate"], "the one of its bay");
    settle(&records).await;

    add(&records, "side", reading(None, 50.0)).await;
    let own = claim(&records, 1000).await.into_iter().find(|own| own.batch == "side");
    records.publish(&publication(&records, FARM, "side", "new", own).await).await.unwrap();
    let due: Vec<_> = claim(&records, 2000).await.into_iter().map(|own| own.batch).collect();
    assert!(due.contains(&"target".to_owned()), "what it was merged into: {due:?}");
}

pub async fn a_sweep_finds_what_no_notice_was_written_of(database: Database) {
    let records = planted(&database).await;
    plant(&records, "another").await;
    let sweep = async |model| records.sweep(None, &day_of, model).await.unwrap();
    assert_eq!(sweep(MODEL).await, 2, "nothing is told yet");
    assert_eq!(batches(&claim(&records, 0).await), [BATCH, BATCH], "there is one notice for each");
    for own in claim(&records, 100).await {
        let told = publication(&records, &own.farm, &own.batch, "told", Some(own.clone())).await;
        records.publish(&told).await.unwrap();
    }
    assert_eq!(sweep(MODEL).await, 0, "all is of the day");
    assert_eq!(claim(&records, 200).await, []);

    let tomorrow = |farm: &Farm| day_of(farm).tomorrow().unwrap();
    assert_eq!(records.sweep(Some(FARM), &tomorrow, MODEL).await.unwrap(), 1, "another day");
    let due = claim(&records, 200).await;
    assert_eq!((batches(&due), due[0].farm.as_str()), (vec![BATCH], FARM));
    let yesterday = |farm: &Farm| day_of(farm).yesterday().unwrap();
    assert_eq!(records.sweep(None, &yesterday, MODEL).await.unwrap(), 0, "a clock may be ahead by a day");
    assert_eq!(sweep("another model").await, 2);
    records.create_bay(FARM, &bay("west"), 2).await.unwrap();
    assert_eq!(sweep(MODEL).await, 1, "the surroundings changed");
    let version = records.farm("another").await.unwrap().version;
    records.archive_farm("another", version, Some(at(5))).await.unwrap();
    assert_eq!(records.sweep(Some("another"), &day_of, MODEL).await.unwrap(), 1, "told, and not in use");
}

pub async fn a_claim_from_before_the_clock_was_set_back_has_lapsed(database: Database) {
    let records = planted(&database).await;
    let before = claim(&records, 0).await;
    let after = claim(&records, -86_400).await;
    assert_eq!(batches(&after), batches(&before));
    assert_eq!(claim(&records, -86_390).await, [], "and its own holds as any other does");
}
