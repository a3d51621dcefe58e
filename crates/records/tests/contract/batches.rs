//! Batches.

use baycast_model::window::Use;
use baycast_records::{BatchDraft, Clash, Error, PageRequest, Thing};

use crate::databases::Database;
use crate::orchard::{BATCH, FARM, at, batch_draft, planted};

pub async fn kept_changed_and_put_away(database: Database) {
    let records = planted(&database).await;
    let taken = records.create_batch(FARM, BATCH, &batch_draft("east")).await.unwrap_err();
    assert_eq!(taken, Error::Conflict { what: Clash::Exists { what: Thing::Batch, name: BATCH.into() } });
    let nowhere = records.create_batch(FARM, "b", &batch_draft("south")).await.unwrap_err();
    assert_eq!(nowhere, Error::NotFound { what: Thing::Bay, name: "south".into() });
    let nowhere = records.create_batch("none", "b", &batch_draft("east")).await.unwrap_err();
    assert_eq!(nowhere, Error::NotFound { what: Thing::Farm, name: "none".into() });

    let draft = BatchDraft {
        name: "Renamed".into(),
        start_bay: "east".into(),
        horizon_days: Some(90),
        forecast_step_days: Some(3),
        criteria: vec![Use::Potting.default_criteria()],
    };
    let changed = records.update_batch(FARM, BATCH, 1, &draft).await.unwrap();
    assert_eq!((changed.version, changed.horizon_days, &changed.criteria), (2, Some(90), &draft.criteria));
    assert_eq!(records.batch(FARM, BATCH).await.unwrap(), changed);
    let stale = records.archive_batch(FARM, BATCH, 1, Some(at(3))).await.unwrap_err();
    assert_eq!(stale, Error::Stale { given: 1, current: 2 });
    let away = records.archive_batch(FARM, BATCH, 2, Some(at(3))).await.unwrap();
    records.create_batch(FARM, "summer", &batch_draft("east")).await.unwrap();
    let listed = records.batches(FARM, false, &PageRequest::default()).await.unwrap();
    assert_eq!(listed.items.iter().map(|own| own.id.as_str()).collect::<Vec<_>>(), ["summer"]);
    let listed = records.batches(FARM, true, &PageRequest::default()).await.unwrap();
    assert_eq!(listed.items[0], away);
    assert_eq!(listed.items.len(), 2);
}
