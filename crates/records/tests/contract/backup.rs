//! Copies of the database while it serves.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use baycast_records::{Entry, Error, Records, Which, restore};

use crate::databases::Database;
use crate::orchard::{BATCH, FARM, planted, reading, stamp};

pub async fn a_copy_made_while_writing_is_whole(database: Database) {
    let records = Arc::new(planted(&database).await);
    let copy = database.folder.path().join("copy.db");
    if database.url.starts_with("postgres") {
        let refused = records.backup(&copy).await.unwrap_err();
        assert!(matches!(refused, Error::Invalid { .. }), "{refused}");
        return;
    }
    for number in 0..200 {
        write(&records, number).await;
    }
    let going = Arc::new(AtomicBool::new(true));
    let writing = tokio::spawn({
        let (records, going) = (records.clone(), going.clone());
        async move {
            let mut number = 200;
            while going.load(Ordering::Relaxed) {
                write(&records, number).await;
                number += 1;
            }
            number
        }
    });
    records.backup(&copy).await.unwrap();
    going.store(false, Ordering::Relaxed);
    let written = writing.await.unwrap();
    assert!(matches!(records.backup(&copy).await, Err(Error::File { .. })), "no file is written over");

    let place = database.folder.path().join("restored.db");
    restore(&copy, &place).await.unwrap();
    assert!(matches!(restore(&copy, &place).await, Err(Error::File { .. })));
    let lost = database.folder.path().join("lost.db");
    let told = restore(&lost, &database.folder.path().join("found.db")).await.unwrap_err().to_string();
    assert!(told.contains("lost.db: ") && told.contains("a file made by a backup is expected"), "{told}");
    let restored = Records::open(&format!("sqlite:{}", place.display())).await.unwrap();
    let kept = restored.events_since(FARM, BATCH, Which::All, None, u32::MAX).await.unwrap();
    assert!((200..=written).contains(&kept.len()), "{} of {written}", kept.len());
    let original = records.events_since(FARM, BATCH, Which::All, None, kept.len() as u32).await.unwrap();
    assert_eq!(kept, original);

    // A copy with a page overwritten, one cut short, and a file of something else.
    let bytes = std::fs::read(&copy).unwrap();
    let mut damaged = bytes.clone();
    damaged[4096 * 3..4096 * 9].fill(0x55);
    for (name, content) in [
        ("damaged", damaged),
        ("short", bytes[..bytes.len() / 2].to_vec()),
        ("other", b"not a database, but long enough to be taken for one at first sight".repeat(100)),
        ("empty", Vec::new()),
    ] {
        let file = database.folder.path().join(name);
        std::fs::write(&file, content).unwrap();
        let to = database.folder.path().join(format!("{name}.db"));
        let refused = restore(&file, &to).await.unwrap_err();
        assert!(matches!(refused, Error::Corrupt { .. }), "{name}: {refused}");
        assert!(!to.exists(), "{name}");
    }
}

async fn write(records: &Records, number: usize) {
    let event = reading(Some(&format!("n{number}")), 20.0);
    records.record(FARM, BATCH, Entry::Add { event }, None, &stamp(0)).await.unwrap();
}
