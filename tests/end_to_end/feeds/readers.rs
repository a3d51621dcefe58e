//! Files for programs that know nothing of the service, and what they make of them.

use std::process::Command;

use serde_json::Value;

use super::heaps::{Heaps, NAMES};
use crate::binary::repository;
use crate::python::python;

/// What parsers read in a form.
pub fn read(kind: &str, heaps: &Heaps, octets: &[u8]) -> Value {
    let file = heaps.yard.database.folder.path().join(kind);
    std::fs::write(&file, octets).expect("a file is written");
    let mut reader = Command::new(python());
    let output = reader.arg(repository().join("tests/python/read_feeds.py")).arg(kind).arg(&file).output();
    let output = output.expect("Python runs");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).expect("JSON")
}

#[tokio::test]
async fn the_atom_feed_passes_a_feed_parser() {
    let heaps = Heaps::new().await;
    let answer = heaps.read("readiness.atom").await;
    assert_eq!(answer.header("content-type"), "application/atom+xml; charset=utf-8");
    let feed = read("atom", &heaps, &answer.body);
    assert_eq!((&feed["version"], &feed["malformed"]), (&"atom10".into(), &false.into()), "{feed}");
    assert_eq!(feed["title"], "Long field: compost readiness");
    assert_eq!(feed["author"], "baycast");
    let told = heaps.readiness().await;
    let batches = told["batches"].as_array().expect("batches");
    let entries = feed["entries"].as_array().expect("entries");
    assert_eq!(entries.len(), batches.len());
    for (entry, batch) in entries.iter().zip(batches) {
        let title = entry["title"].as_str().expect("a title");
        let name = batch["name"].as_str().expect("a name");
        // A parser may take an escaped title's own angle brackets for a mark-up that it cleans away.
        assert!(title.starts_with(name.split('<').next().expect("a beginning")), "{title}");
        assert!(title.ends_with(batch["stage"].as_str().expect("a stage")), "{title}");
        let changed = batch["changed_at"].as_str().expect("a time");
        assert_eq!(
            entry["updated"].as_str().map(|at| &at[..19]),
            Some(&changed[..19]),
            "updated when it changed"
        );
        assert_eq!((&entry["parsed"], &entry["type"]), (&true.into(), &"text/html".into()));
        let content = entry["content"].as_str().expect("content");
        for told in
            ["<li>ready to spread on beds: opens", "An estimate, not a measurement", "free of herbicide"]
        {
            assert!(content.contains(told), "{told}: {content}");
        }
        for advice in batch["advice"].as_array().expect("advice") {
            let action = advice["action"].as_str().expect("a sentence");
            assert!(content.contains(action), "{action}: {content}");
        }
    }
    assert!(
        entries.iter().any(|entry| entry["title"].as_str().is_some_and(|title| title.starts_with(NAMES[2])))
    );
    let again = read("atom", &heaps, &heaps.read("readiness.atom").await.body);
    assert_eq!(again, feed, "ids and dates stay while nothing changes");
}
