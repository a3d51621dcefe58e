//! What is told when what is recorded makes it true. The service's clock is real, so days are counted from today.

use std::collections::BTreeSet;
use std::time::{Duration, Instant};

use baycast_service::readiness::OccurrenceKind;
use jiff::civil::Date;
use jiff::{SignedDuration, Span, Timestamp};
use serde_json::{Value, json};

use super::receiver::{Received, Receiver};
use super::yard::{HOOKS, hook_with, planted};
use crate::databases::Database;
use crate::records_rest::yard::{Yard, bay, entries};

/// How long a kind of news may take to come.
const PATIENCE: Duration = Duration::from_mins(3);

/// Hours ago, as a time.
fn ago(hours: i64) -> String {
    let at = Timestamp::now().checked_sub(SignedDuration::from_hours(hours)).expect("a time");
    at.to_string()
}

fn reading(hours_ago: i64, temperature_c: f64) -> Value {
    json!({ "at": ago(hours_ago), "reading": { "temperature_c": temperature_c } })
}

fn addition(hours_ago: i64, feedstock: &str, mass_kg: u32) -> Value {
    json!({ "at": ago(hours_ago), "addition": { "feedstock": feedstock, "mass_kg": mass_kg } })
}

/// Records events of a batch.
async fn record(yard: &Yard, batch: &str, events: &[Value]) {
    let path = format!("/v1/farms/home/batches/{batch}/events");
    yard.good("POST", &path, None, Some(&entries(events))).await;
}

/// Adds a bay with a batch in it.
async fn batch(yard: &Yard, id: &str, criteria: &Value) {
    yard.good("POST", "/v1/farms/home/bays", None, Some(&bay(id))).await;
    let batch = json!({ "id": id, "start_bay": id, "criteria": criteria });
    yard.good("POST", "/v1/farms/home/batches", None, Some(&batch)).await;
}

/// A use that asks for nothing but that so much is broken down, and is past its best when so much of the volume is lost.
fn criteria(min_maturity_index: f64, max_shrinkage_fraction: f64) -> Value {
    json!([{ "use": "mulch", "min_maturity_index": min_maturity_index,
        "max_respiration_mg_co2c_g_vs_day": 100, "max_above_air_c": 60, "max_c_to_n": 100,
        "min_moisture_fraction": 0, "max_moisture_fraction": 1,
        "max_shrinkage_fraction": max_shrinkage_fraction }])
}

/// So many days after a day.
fn ahead(day: Date, days: i32) -> Date {
    day.saturating_add(Span::new().days(days))
}

/// Waits until what came of a batch satisfies `enough`, and hands it back.
async fn heard(
    receiver: &Receiver,
    path: &str,
    batch: &str,
    enough: impl Fn(&[Received]) -> bool,
) -> Vec<Received> {
    let begun = Instant::now();
    loop {
        let all = receiver.so_far(path);
        let own: Vec<_> = all.into_iter().filter(|one| one.told["event"]["subject"] == batch).collect();
        if enough(&own) {
            return own;
        }
        let kinds: Vec<_> = own.iter().map(Received::kind).collect();
        assert!(begun.elapsed() < PATIENCE, "of {batch} came {kinds:?}");
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
}

/// Whether news of a kind is among these.
fn has(kind: &str) -> impl Fn(&[Received]) -> bool {
    move |all| all.iter().any(|one| one.kind() == kind)
}

/// The news of a kind among these: exactly one.
fn only<'a>(all: &'a [Received], kind: &str) -> &'a Value {
    let found: Vec<_> = all.iter().filter(|one| one.kind() == kind).collect();
    assert_eq!(found.len(), 1, "{kind}: {found:?}");
    &found[0].told["data"]
}

/// The readings that were told to be doubted.
fn doubts(all: &[Received]) -> Vec<String> {
    let doubted = all.iter().filter(|one| one.kind() == "probe_suspect");
    let readings =
        doubted.filter_map(|one| one.told["data"]["probe_suspect"]["readings"].as_array().cloned());
    readings.flatten().map(|reading| format!("{} {}", reading["at"], reading["temperature_c"])).collect()
}

pub async fn each_kind_of_news_is_told_when_it_happens(database: Database) {
    let (yard, mut receiver) = (planted(database).await, Receiver::start());
    let keen = json!({ "url": receiver.url("/in"), "best_by_days": 90 });
    let (_, secret) = hook_with(&yard, &keen).await;
    receiver.set("/in", &[&secret], &[], &json!({}));
    let mut kinds = BTreeSet::new();
    let mut note = |all: &[Received], batch: &str| {
        for one in all {
            one.expect_verified(&[true]);
            let data = &one.told["data"];
            assert_eq!((&data["farm"], &data["readiness"]["batch"]), (&json!("home"), &json!(batch)));
            assert!(data["cautions"].as_array().is_some_and(|cautions| cautions.len() > 3));
            assert!(data[one.kind()].is_object(), "{data}");
            kinds.insert(one.kind());
        }
    };

    // A heap is filled: it enters its first stage, and nothing else is news.
    batch(&yard, "hot", &json!([])).await;
    let fill = [addition(240, "grass_mowings", 250), addition(240, "wheat_straw", 60)];
    record(&yard, "hot", &fill).await;
    let first = heard(&receiver, "/in", "hot", has("stage_entered")).await;
    assert_eq!(first.len(), 1, "{first:?}");
    assert!(only(&first, "stage_entered")["stage_entered"].get("before").is_none());

    // Three days over 55 °C, measured each eight hours: evidence, but no forecast is.
    let hot: Vec<_> =
        (0..=12).map(|step| reading(110 - 8 * step, 60.0 + f64::from(step as u8 % 3))).collect();
    record(&yard, "hot", &hot).await;
    let all = heard(&receiver, "/in", "hot", has("sanitisation_evidence_met")).await;
    let rules: BTreeSet<_> = all
        .iter()
        .filter(|one| one.kind() == "sanitisation_evidence_met")
        .map(|one| {
            let finding = &one.told["data"]["sanitisation_evidence_met"];
            assert_eq!(finding["verdict"], "met");
            finding["rule"].to_string()
        })
        .collect();
    assert!(rules.contains("\"pfrp_static_pile\""), "{rules:?}");

    // Too hot; a reading that no heap does; and hot enough to catch fire.
    record(&yard, "hot", &[reading(9, 66.0), reading(4, 71.5)]).await;
    let all = heard(&receiver, "/in", "hot", has("too_hot")).await;
    assert_eq!(only(&all, "too_hot")["too_hot"]["subject"], "too_hot");
    record(&yard, "hot", &[reading(58, 12.0)]).await;
    let cold = |all: &[Received]| doubts(all).iter().any(|reading| reading.ends_with(" 12.0"));
    heard(&receiver, "/in", "hot", cold).await;
    record(&yard, "hot", &[reading(2, 77.0), reading(1, 81.0)]).await;
    let fire = |all: &[Received]| all.iter().any(|one| one.told["data"]["too_hot"]["subject"] == "fire_risk");
    let all = heard(&receiver, "/in", "hot", fire).await;
    assert_eq!(all.iter().filter(|one| one.kind() == "too_hot").count(), 2);
    let doubted = doubts(&all);
    assert_eq!(
        doubted.iter().collect::<BTreeSet<_>>().len(),
        doubted.len(),
        "each is told once: {doubted:?}"
    );
    note(&all, "hot");

    // Too wet, by a measurement.
    batch(&yard, "wet", &json!([])).await;
    record(&yard, "wet", &[addition(200, "grass_mowings", 200), addition(200, "wheat_straw", 80)]).await;
    heard(&receiver, "/in", "wet", has("stage_entered")).await;
    record(&yard, "wet", &[json!({ "at": ago(2), "moisture": { "percent": 85 } })]).await;
    let all = heard(&receiver, "/in", "wet", has("too_wet")).await;
    assert_eq!(only(&all, "too_wet")["too_wet"]["subject"], "too_wet");
    note(&all, "wet");

    // What a use asks for is lowered to what the heap has come to: its window moves to now and opens.
    batch(&yard, "open", &criteria(0.99, 0.5)).await;
    record(&yard, "open", &[addition(600, "grass_mowings", 200), addition(600, "wheat_straw", 60)]).await;
    heard(&receiver, "/in", "open", has("stage_entered")).await;
    let path = "/v1/farms/home/batches/open";
    let estimate = async || yard.good("GET", &format!("{path}/estimate"), None, None).await;
    let index = 0.97 * estimate().await["maturity"]["index"]["p50"].as_f64().expect("an index");
    let ask_for = async |criteria: Value| {
        let mut own = yard.good("GET", path, None, None).await;
        own["criteria"] = criteria;
        let tag = format!("\"{}\"", own["etag"].as_str().expect("an etag"));
        let changed = yard.call_with("PUT", path, None, &[("if-match", &tag)], Some(&own)).await;
        assert_eq!(changed.status, 200, "{}", changed.json());
    };
    ask_for(criteria(index, 0.5)).await;
    let all = heard(&receiver, "/in", "open", has("window_opened")).await;
    assert_eq!(only(&all, "window_moved")["window_moved"]["use"], "mulch");
    let opened = only(&all, "window_opened");
    let day = |value: &Value| value.as_str().expect("a day").parse::<Date>().expect("a date");
    let today = day(&opened["readiness"]["as_of"]);
    assert!(day(&opened["window_opened"]["opens"]["p50"]) <= today, "{opened}");

    // Less and less is to be lost until it counts as past its best, until that is within the ninety days.
    for percent in [20, 15, 10, 7, 5, 4, 3, 2, 1] {
        ask_for(criteria(index, f64::from(percent) / 100.0)).await;
        let best_by = estimate().await["windows"][0]["best_by"]["p50"].clone();
        if !best_by.is_null()
            && (today.tomorrow().expect("a day")..=ahead(today, 89)).contains(&day(&best_by))
        {
            break;
        }
    }
    let all = heard(&receiver, "/in", "open", has("best_by_near")).await;
    let near = &only(&all, "best_by_near")["best_by_near"];
    assert!((0..=90).contains(&near["days_left"].as_i64().expect("days")), "{near}");
    note(&all, "open");

    let all = OccurrenceKind::ALL.map(|kind| kind.as_str().to_owned());
    assert_eq!(kinds, BTreeSet::from(all), "each kind was heard");
}

pub async fn a_webhook_is_told_what_it_asked_for(database: Database) {
    let (yard, mut receiver) = (planted(database).await, Receiver::start());
    let wanted = json!({ "url": receiver.url("/hot"), "kinds": ["too_hot"] });
    let (id, secret) = hook_with(&yard, &wanted).await;
    let (_, other) = hook_with(&yard, &json!({ "url": receiver.url("/all") })).await;
    receiver.set("/hot", &[&secret], &[], &json!({}));
    receiver.set("/all", &[&other], &[], &json!({}));
    record(&yard, "heap", &[addition(100, "grass_mowings", 200), reading(50, 60.0), reading(2, 74.0)]).await;
    heard(&receiver, "/all", "heap", has("too_hot")).await;
    let told = heard(&receiver, "/hot", "heap", has("too_hot")).await;
    assert_eq!(told.len(), 1, "{told:?}");
    // The same again is no news to anyone; another stage or kind is none to who did not ask.
    record(&yard, "heap", &[reading(1, 75.0)]).await;
    let unknown = json!({ "url": receiver.url("/hot"), "kinds": ["too_cold"] });
    let refused = yard.call("POST", HOOKS, None, Some(&unknown)).await;
    assert_eq!((refused.status.as_u16(), &refused.json()["errors"][0]["pointer"]), (422, &json!("/kinds/0")));
    // A reading that takes the heat away, and one that brings it back: a second spell.
    record(&yard, "heap", &[json!({ "at": ago(0), "reading": { "temperature_c": 58.0 } })]).await;
    let cooled = async || {
        let found = yard.good("GET", "/v1/farms/home/batches/heap/estimate", None, None).await;
        !found["advice"].to_string().contains("too_hot")
    };
    assert!(cooled().await);
    tokio::time::sleep(Duration::from_secs(5)).await;
    assert_eq!(receiver.so_far("/hot").len(), 1, "told once a spell");
    let listed = yard.good("GET", &format!("{HOOKS}/{id}/deliveries"), None, None).await;
    assert_eq!(listed["items"].as_array().expect("items").len(), 1);
}
