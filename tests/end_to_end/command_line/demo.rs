//! Larkfield, printed and served.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Command, Stdio};

use serde_json::Value;

use super::{Folder, baycast, estimates, served};

/// Larkfield's bays.
const BAYS: [&str; 7] =
    ["plastic-1", "plastic-2", "pallet-1", "pallet-2", "pallet-3", "timber-1", "timber-2"];

#[test]
fn the_demo_prints_all_seven_bays_and_says_that_they_are_invented() {
    let folder = Folder::new("demo-once");
    let table = served(&baycast(&folder, &["demo", "--once"], b""));
    assert!(table.starts_with("Larkfield (invented)"), "{table}");
    for bay in BAYS {
        assert!(
            table.lines().any(|line| line.starts_with(&format!("{bay}  "))),
            "{bay} is missing from\n{table}"
        );
    }
    let flat = table.split_whitespace().collect::<Vec<_>>().join(" ");
    for word in
        ["READY", "HOT", "FILLING", "EMPTIED", "15 Sep 2026", "the probe kept one value", "Bear in mind"]
    {
        assert!(flat.contains(word), "`{word}` is missing from\n{table}");
    }
    assert!(table.lines().all(|line| line.chars().count() <= 100), "{table}");
}

#[test]
fn the_demo_serves_and_its_curl_line_works_as_printed() {
    let folder = Folder::new("demo-serves");
    let mut child = Command::new(crate::binary::path())
        .args(["demo", "--listen", "127.0.0.1:0"])
        .current_dir(&folder.0)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let lines = BufReader::new(child.stdout.take().unwrap()).lines().map(Result::unwrap);
    let printed: Vec<String> = lines.take_while(|line| !line.starts_with("listening on ")).collect();
    let curl = printed.iter().find(|line| line.trim_start().starts_with("curl ")).unwrap();
    let answers = Command::new("sh").args(["-c", curl.trim()]).output().unwrap();
    let _ = child.kill();
    let _ = child.wait();
    assert!(answers.status.success(), "{curl}");
    let from_records: Value = serde_json::from_slice(&answers.stdout).unwrap();

    let larkfield = Path::new(env!("CARGO_MANIFEST_DIR")).join("../crates/baycast/demo/larkfield.json");
    let arguments = ["estimate", larkfield.to_str().unwrap(), "--to", "ndjson"];
    let from_file = estimates(&served(&baycast(&folder, &arguments, b"")));
    assert_eq!(from_file.len(), 8);
    assert_eq!(Some(&from_records), from_file.last());
}

#[test]
fn records_kept_for_the_demo_stay_and_answer_the_same_again() {
    let folder = Folder::new("demo-kept");
    let arguments = ["demo", "--once", "--store", "sqlite:kept.db"];
    let first = served(&baycast(&folder, &arguments, b""));
    let export = served(&baycast(&folder, &["export", "larkfield", "--store", "sqlite:kept.db"], b""));
    let of_kind = |kind: &str| export.lines().filter(|line| line.starts_with(kind)).count();
    assert_eq!((of_kind("{\"bay\":"), of_kind("{\"batch\":")), (7, 9), "{export}");
    assert_eq!(served(&baycast(&folder, &arguments, b"")), first);
    let again = served(&baycast(&folder, &["export", "larkfield", "--store", "sqlite:kept.db"], b""));
    assert_eq!(again, export, "nothing was added twice");
}
