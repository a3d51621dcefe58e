//! Everything a farm owns, out and in again.

use baycast_records::{Clash, Entry, Error, KeptPlan, PageRequest, Reach, Records, Thing};

use crate::databases::Database;
use crate::orchard::{
    BATCH, FARM, add, addition, at, batch_draft, bay, level, merge, planted, reading, stamp,
};

async fn exported(records: &Records) -> Vec<u8> {
    let mut lines = Vec::new();
    records.export(FARM, &mut lines).await.expect("an export");
    lines
}

/// A farm with some of everything.
async fn full(database: &Database) -> Records {
    let records = planted(database).await;
    records.create_bay(FARM, &bay("west"), -1).await.unwrap();
    records.archive_bay(FARM, "west", 1, Some(at(9))).await.unwrap();
    records.create_feedstock(FARM, &baycast_model::default_feedstocks()[1]).await.unwrap();
    records.create_batch(FARM, "Älterer", &batch_draft("west")).await.unwrap();
    let first = add(&records, BATCH, addition("wheat_straw")).await;
    add(&records, BATCH, reading(Some("p"), 0.1 + 0.2)).await;
    let upsert = Entry::Upsert { event: reading(Some("p"), 55.5) };
    records.record(FARM, BATCH, upsert, Some("k"), &stamp(7)).await.unwrap();
    records.record(FARM, BATCH, Entry::Retract { supersedes: first }, None, &stamp(8)).await.unwrap();
    add(&records, BATCH, level(0.1 + 0.2)).await;
    add(&records, BATCH, merge("Älterer")).await;
    for number in 0..1100 {
        let entry = Entry::Add { event: reading(Some(&format!("n{number}")), f64::from(number) / 7.0) };
        let made = records.record(FARM, "Älterer", entry, None, &stamp(number.into())).await;
        // Far beyond what a heap reaches, but records keep what they are given: ranges are the model's affair.
        made.unwrap();
    }
    records.archive_batch(FARM, "Älterer", 1, Some(at(10))).await.unwrap();
    let plan = KeptPlan { plan: r#"{"from":"2026-09-15"}"#.into(), basis: "1".into(), made_at: at(11) };
    records
        .keep_season(FARM, None, r#"{"weeks":16,"rest":0.30000000000000004}"#, Some(&plan), at(12))
        .await
        .unwrap();
    records
}

pub async fn out_and_in_again_is_the_same(database: Database) {
    let records = full(&database).await;
    let lines = exported(&records).await;
    assert_eq!(lines, exported(&records).await);
    let taken = records.import(&mut lines.as_slice()).await.unwrap_err();
    assert_eq!(taken, Error::Conflict { what: Clash::Exists { what: Thing::Farm, name: FARM.into() } });
    let (history, version) = records.history(FARM, BATCH).await.unwrap();

    // Into an empty database of each kind.
    for other in [Database::sqlite(), Database::postgres().await] {
        let restored = other.open().await;
        let farm = restored.import(&mut lines.as_slice()).await.unwrap();
        assert_eq!(farm, records.farm(FARM).await.unwrap());
        assert!(exported(&restored).await == lines, "the export differs on {}", other.url);
        assert_eq!(restored.history(FARM, BATCH).await.unwrap(), (history.clone(), version.clone()));
        let (kept, again) = (records.season(FARM).await.unwrap(), restored.season(FARM).await.unwrap());
        assert_eq!((again.version, again.plan, again.records), (kept.version, kept.plan, kept.records));
        // It goes on where it ended.
        let next = add(&restored, BATCH, reading(None, 20.0)).await;
        let last = records.batch(FARM, BATCH).await.unwrap().last_event;
        assert!(Some(next) > last);
        restored.close().await.unwrap();
    }
}

pub async fn what_was_taken_out_before_there_were_seasons_is_taken(database: Database) {
    let records = full(&database).await;
    let text = String::from_utf8(exported(&records).await).unwrap();
    let lines: Vec<&str> = text.lines().filter(|line| !line.starts_with("{\"season\"")).collect();
    let count = lines.len();
    let older = format!("{}\n", lines.join("\n"))
        .replacen("{\"export\":{\"format\":2}}", "{\"export\":{\"format\":1}}", 1)
        .replace(&format!("{{\"lines\":{count}}}"), &format!("{{\"lines\":{}}}", count - 1));
    let other = Database::sqlite();
    let restored = other.open().await;
    restored.import(&mut older.as_bytes()).await.unwrap();
    assert_eq!(restored.season(FARM).await.unwrap().season, None);
}

pub async fn what_is_cut_short_or_foreign_is_refused(database: Database) {
    let records = full(&database).await;
    let text = String::from_utf8(exported(&records).await).unwrap();
    let other = Database::sqlite();
    let empty = other.open().await;
    let lines: Vec<&str> = text.lines().collect();
    let without_last = lines[..lines.len() - 1].join("\n");
    let without_middle = [&lines[..20], &lines[21..]].concat().join("\n");
    let foreign =
        text.replacen(&format!("{{\"bay\":{{\"farm\":\"{FARM}\""), "{\"bay\":{\"farm\":\"other\"", 1);
    let twice = [&lines[..3], &lines[2..]].concat().join("\n");
    let unknown = text.replacen("{\"bay\"", "{\"barn\"", 1);
    let after = format!("{text}{}\n", lines[2]);
    assert!(foreign != text && unknown != text);
    // An event taken out, and the count of lines made to agree.
    let end = |lines: usize| format!("{{\"end\":{{\"lines\":{lines}}}}}");
    assert_eq!(lines[lines.len() - 1], end(lines.len() - 1));
    let one_less = without_middle.replace(&end(lines.len() - 1), &end(lines.len() - 2));
    for wrong in [&one_less, &without_last, &without_middle, &foreign, &twice, &unknown, &after, "", "{}"] {
        let refused = empty.import(&mut wrong.as_bytes()).await;
        assert!(matches!(refused, Err(Error::Invalid { .. } | Error::Conflict { .. })), "{refused:?}");
        let left = empty.farms(&Reach::All, &PageRequest::default()).await.unwrap();
        assert!(left.items.is_empty(), "{left:?}");
    }
    empty.import(&mut text.as_bytes()).await.expect("the whole of it is taken");
}
