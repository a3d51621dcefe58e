//! Histories as the model takes them.

use baycast_model::history::{Event, Turn};
use baycast_records::{Entry, HistoryVersion, Records};

use crate::databases::Database;
use crate::orchard::{
    BATCH, FARM, add, addition, at, batch_draft, bay, farm_draft, moved, planted, reading, stamp,
};

pub async fn holds_what_the_model_needs(database: Database) {
    let records = planted(&database).await;
    records.create_bay(FARM, &bay("west"), 2).await.unwrap();
    records.create_bay(FARM, &bay("unused"), 3).await.unwrap();
    let mut own = baycast_model::default_feedstocks().remove(0);
    own.id = "own_straw".into();
    own.sources.clear();
    records.create_feedstock(FARM, &own).await.unwrap();
    let events = [
        addition("own_straw"),
        addition("wheat_straw"),
        reading(Some("p"), 50.0),
        moved("west"),
        moved("east"),
        Event { turn: Some(Turn {}), ..Event::at("2026-04-11T08:30:00.125Z".parse().unwrap()) },
    ];
    for event in &events {
        add(&records, BATCH, event.clone()).await;
    }
    let (mut history, version) = records.history(FARM, BATCH).await.unwrap();
    assert_eq!(records.history_version(FARM, BATCH).await.unwrap(), version);
    assert_eq!(history.events, events);
    assert_eq!(history.batch, BATCH);
    assert_eq!(history.bay, bay("east"));
    assert_eq!(history.other_bays, [bay("west")]);
    assert_eq!(history.feedstocks, [own]);
    assert_eq!(history.barrow_m3, Some(0.1));
    assert_eq!(history.site, farm_draft("").site);
    history.as_of = Some("2026-05-01".parse().unwrap());
    baycast_model::timeline::Timeline::new(&history, jiff::civil::date(2026, 5, 1))
        .expect("the model takes it");
}

pub async fn version_changes_with_everything_it_is_made_of(database: Database) {
    let records = planted(&database).await;
    let mut seen: Vec<HistoryVersion> = Vec::new();
    check(&records, &mut seen, "at first").await;
    let reading_id = add(&records, BATCH, reading(None, 50.0)).await;
    check(&records, &mut seen, "an event").await;
    records.record(FARM, BATCH, Entry::Retract { supersedes: reading_id }, None, &stamp(1)).await.unwrap();
    check(&records, &mut seen, "a retraction").await;
    records.update_batch(FARM, BATCH, 1, &batch_draft("east")).await.unwrap();
    check(&records, &mut seen, "the batch").await;
    records.update_bay(FARM, 1, &bay("east"), 5).await.unwrap();
    check(&records, &mut seen, "a bay").await;
    let straw = baycast_model::default_feedstocks().remove(0);
    records.create_feedstock(FARM, &straw).await.unwrap();
    check(&records, &mut seen, "a feedstock").await;
    records.update_farm(FARM, 1, &farm_draft("New")).await.unwrap();
    check(&records, &mut seen, "the farm").await;
    records.archive_batch(FARM, BATCH, 2, Some(at(1))).await.unwrap();
    check(&records, &mut seen, "put away").await;
}

/// The version is one that was not seen before, and the same however it is asked for.
async fn check(records: &Records, seen: &mut Vec<HistoryVersion>, what: &str) {
    let version = records.history_version(FARM, BATCH).await.unwrap();
    assert!(!seen.contains(&version), "{what}: {version} again");
    assert_eq!(records.history(FARM, BATCH).await.unwrap().1, version, "{what}");
    seen.push(version);
}
