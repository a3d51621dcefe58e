//! The schema at start.

use baycast_records::{Error, Records};

use crate::databases::Database;
use crate::orchard::{FARM, planted};

pub async fn many_start_at_once(database: Database) {
    let starting: Vec<_> = (0..8)
        .map(|_| {
            let url = database.url.clone();
            tokio::spawn(async move { Records::open(&url).await })
        })
        .collect();
    let mut opened = Vec::new();
    for records in starting {
        opened.push(records.await.unwrap().expect("each opens"));
    }
    crate::orchard::plant(&opened[0], FARM).await;
    for records in opened {
        records.farm(FARM).await.unwrap();
        records.close().await.unwrap();
    }
}

pub async fn what_is_newer_or_changed_is_refused(database: Database) {
    planted(&database).await.close().await.unwrap();
    let run = async |sql: &'static str| crate::schema::run(&database, sql).await;
    run("INSERT INTO migrations (version, name, checksum) VALUES (99, 'later', 'x')").await;
    let newer = Records::open(&database.url).await.err();
    assert_eq!(newer, Some(Error::NewerSchema { found: 99, known: 5 }));
    run("DELETE FROM migrations WHERE version = 99").await;
    run("UPDATE migrations SET checksum = 'x'").await;
    let changed = Records::open(&database.url).await.err();
    assert!(matches!(changed, Some(Error::Corrupt { .. })), "{changed:?}");
    for url in ["mysql://localhost/x", "", "records.db"] {
        assert!(matches!(Records::open(url).await.err(), Some(Error::Invalid { .. })), "{url}");
    }
}
