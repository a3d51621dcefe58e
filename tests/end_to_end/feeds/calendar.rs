//! The calendar in two parsers that have nothing to do with each other, and in a calendar program.

use std::fmt::Write;
use std::process::Command;

use jiff::ToSpan;
use jiff::civil::Date;
use serde_json::Value;

use super::heaps::Heaps;
use super::readers::read;
use crate::records_rest::yard::{entries, reading};

/// An event as it should be: what it is called, its first day and the day after its last.
#[derive(Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Event {
    summary: String,
    first: Date,
    after: Date,
    sequence: u64,
    location: String,
}

fn day(value: &Value) -> Option<Date> {
    value.as_str()?.parse().ok()
}

/// The events that a farm's readiness should give, in order.
fn expected(told: &Value) -> Vec<Event> {
    let mut events = Vec::new();
    for batch in told["batches"].as_array().expect("batches") {
        let (name, location) =
            (batch["name"].as_str().expect("a name"), batch["bay"].as_str().expect("a bay"));
        let mut add = |what: &str, first: Date, last: Date, sequence: &Value| {
            events.push(Event {
                summary: format!("{name}: {what}"),
                first,
                after: last.checked_add(1.day()).expect("a day"),
                sequence: sequence.as_u64().expect("a number"),
                location: location.to_owned(),
            });
        };
        for window in batch["windows"].as_array().expect("windows") {
            let purpose = match window["use"].as_str().expect("a use") {
                "mulch" => "ready to lay as mulch",
                "bed_dressing" => "ready to spread on beds",
                _ => "ready for potting mixes",
            };
            let Some(opens) = day(&window["opens"]["p50"]) else { continue };
            let last = day(&window["best_by"]["p50"]).unwrap_or(opens);
            add(purpose, opens, last, &window["sequence"]);
        }
        if let Some(by) = day(&batch["turn"]["by"]) {
            add("turn", by, by, &batch["turn"]["sequence"]);
        }
    }
    events.sort();
    events
}

/// The events that a parser read.
fn found(told: &Value) -> Vec<Event> {
    let text = |value: &Value| value.as_str().expect("text").to_owned();
    let events = told.as_array().expect("events").iter().map(|event| Event {
        summary: text(&event["summary"]),
        first: day(&event["first"]).expect("a day without a time"),
        after: day(&event["after"]).expect("a day without a time"),
        sequence: event["sequence"].as_u64().expect("a number"),
        location: text(&event["location"]),
    });
    let mut events: Vec<Event> = events.collect();
    events.sort();
    events
}

fn uids(told: &Value) -> Vec<String> {
    let all = told.as_array().expect("events").iter();
    let mut uids: Vec<_> = all.map(|event| event["uid"].as_str().expect("a UID").to_owned()).collect();
    uids.sort_unstable();
    uids
}

#[tokio::test]
async fn two_parsers_read_an_event_for_each_window_and_turn() {
    let heaps = Heaps::new().await;
    let answer = heaps.read("readiness.ics").await;
    assert_eq!(answer.header("content-type"), "text/calendar; charset=utf-8");
    let text = String::from_utf8(answer.body.to_vec()).expect("UTF-8");
    assert!(text.split("\r\n").all(|line| line.len() <= 75), "RFC 5545 section 3.1: 75 octets");
    assert_eq!(text.matches('\n').count(), text.matches("\r\n").count());
    for line in
        ["X-WR-CALNAME:Long field: compost", "REFRESH-INTERVAL;VALUE=DURATION:PT1H", "X-PUBLISHED-TTL:PT1H"]
    {
        assert!(text.contains(&format!("\r\n{line}\r\n")), "{line}");
    }
    let told = heaps.readiness().await;
    let should = expected(&told);
    assert!(should.len() >= 6, "{should:?}");
    let parsed = read("calendar", &heaps, &answer.body);
    for parser in ["icalendar", "vobject"] {
        assert_eq!(found(&parsed[parser]), should, "{parser}");
        for event in parsed[parser].as_array().expect("events") {
            let described = event["description"].as_str().expect("a description");
            assert!(described.contains("\n\nAn estimate, not a measurement"), "{parser}: {described}");
            assert!(described.ends_with("before spreading."), "cautions stay with it: {described}");
            assert_eq!(event["transparent"], "TRANSPARENT");
            assert_eq!(event["uid"].as_str().map(str::len), Some(36));
        }
    }
    let mut once = uids(&parsed["icalendar"]);
    assert_eq!(once, uids(&parsed["vobject"]));
    once.dedup();
    assert_eq!(once.len(), should.len(), "each UID once");
}

#[tokio::test]
async fn an_event_keeps_its_uid_and_counts_its_changes() {
    let heaps = Heaps::new().await;
    let before = read("calendar", &heaps, &heaps.read("readiness.ics").await.body);
    let day = super::heaps::days_ago(1);
    let events: Vec<Value> =
        [7, 11, 16].map(|hour| reading(&format!("{day}T{hour:02}:00:00Z"), 63.0)).to_vec();
    heaps.yard.good("POST", "/v1/farms/home/batches/heap%202/events", None, Some(&entries(&events))).await;
    heaps.settled().await;
    let after = read("calendar", &heaps, &heaps.read("readiness.ics").await.body);
    let (before, after) = (&before["icalendar"], &after["icalendar"]);
    let events = |told: &Value| told.as_array().expect("events").clone();
    let mut moved = 0;
    for old in events(before) {
        let Some(new) = events(after).into_iter().find(|new| new["uid"] == old["uid"]) else { continue };
        let days = |event: &Value| (event["first"].clone(), event["after"].clone());
        let sequence = |event: &Value| event["sequence"].as_u64().expect("a number");
        assert_eq!(new["summary"], old["summary"], "the same thing under the same UID");
        if days(&old) != days(&new) {
            moved += 1;
            assert!(sequence(&new) > sequence(&old), "{old} {new}");
            // To the second, in which both may have been told.
            assert!(new["stamp"].as_str() >= old["stamp"].as_str(), "{old} {new}");
        }
    }
    assert!(moved > 0, "a hot core moves windows: {before} {after}");
}

#[tokio::test]
async fn a_calendar_program_shows_it() {
    let heaps = Heaps::new().await;
    let folder = heaps.yard.database.folder.path();
    let file = folder.join("readiness.ics");
    std::fs::write(&file, &heaps.read("readiness.ics").await.body).expect("a file is written");
    let mut configuration = String::new();
    let (calendar, database) = (folder.join("calendar"), folder.join("khal.db"));
    std::fs::create_dir(&calendar).expect("a folder is made");
    write!(
        configuration,
        "[calendars]\n[[farm]]\npath = {}\ntype = calendar\n[sqlite]\npath = {}\n[default]\ndefault_calendar = farm\n\
         [locale]\nlocal_timezone = Europe/London\ndefault_timezone = Europe/London\ntimeformat = %H:%M\n\
         dateformat = %Y-%m-%d\nlongdateformat = %Y-%m-%d\ndatetimeformat = %Y-%m-%d %H:%M\n\
         longdatetimeformat = %Y-%m-%d %H:%M\n",
        calendar.display(),
        database.display()
    )
    .expect("text is written");
    let settings = folder.join("khal.conf");
    std::fs::write(&settings, configuration).expect("a file is written");
    let khal = |arguments: &[&str]| {
        let mut khal = Command::new("khal");
        // Debian's program, with Debian's Python: not the one of the tests.
        let khal = khal.arg("-c").arg(&settings).args(arguments).env("LC_ALL", "C.UTF-8").env("HOME", folder);
        let output = khal.env_remove("PYTHONPATH").output().expect("khal is installed");
        assert!(output.status.success(), "{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
        String::from_utf8(output.stdout).expect("UTF-8")
    };
    khal(&["import", "--batch", "--include-calendar", "farm", file.to_str().expect("a path")]);
    let should = expected(&heaps.readiness().await);
    let first = should.iter().map(|event| event.first).min().expect("an event");
    let shown = khal(&[
        "list",
        "--once",
        "--notstarted",
        "--format",
        "{start-date}|{end-date}|{title}|{location}",
        &first.to_string(),
        "1500d",
    ]);
    for event in should {
        let last = event.after.checked_sub(1.day()).expect("a day");
        let line = format!("{}|{last}|{}|{}", event.first, event.summary, event.location);
        assert!(shown.lines().any(|own| own.trim() == line), "{line}\nin\n{shown}");
    }
}
