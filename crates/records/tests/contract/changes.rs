//! Word of changes.

use std::time::Duration;

use baycast_records::{Change, Entry};

use crate::databases::Database;
use crate::orchard::{BATCH, FARM, bay, planted, reading, stamp};

pub async fn told_after_they_were_committed(database: Database) {
    let records = planted(&database).await;
    let mut changes = records.changes();
    let batch = Change::Batch { farm: FARM.into(), batch: BATCH.into() };
    let entry = Entry::Add { event: reading(Some("p"), 50.0) };
    let mut next = async |wanted: &Change| {
        let heard = async {
            // Word of the farm being set up may still be under way.
            while changes.recv().await.expect("a change") != *wanted {}
        };
        tokio::time::timeout(Duration::from_secs(20), heard).await.expect("word comes");
    };
    records.record(FARM, BATCH, entry, None, &stamp(0)).await.unwrap();
    next(&batch).await;
    records.create_bay(FARM, &bay("west"), 2).await.unwrap();
    next(&Change::Surroundings { farm: FARM.into() }).await;
    // What was refused is not told of: the next word is of what was kept after it.
    assert!(records.create_bay(FARM, &bay("west"), 3).await.is_err());
    records.record(FARM, BATCH, Entry::Add { event: reading(None, 51.0) }, None, &stamp(1)).await.unwrap();
    let word = tokio::time::timeout(Duration::from_secs(20), changes.recv()).await.expect("word comes");
    assert_eq!(word.unwrap(), batch);
}
