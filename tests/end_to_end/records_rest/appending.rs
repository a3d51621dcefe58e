//! Events: appended, corrected, retracted, listed.

use serde_json::{Value, json};

use super::yard::{Yard, entries, reading, text};
use crate::databases::Database;

/// Where the events of the one batch are.
const EVENTS: &str = "/v1/farms/home/batches/heap/events";

/// A yard with one farm.
async fn yard(database: Database) -> Yard {
    let yard = Yard::on(database);
    yard.farm(None, "home", "").await;
    yard
}

/// Temperatures of the readings that hold, in the order of recording.
async fn readings(yard: &Yard) -> Vec<f64> {
    let page = yard.good("GET", EVENTS, None, None).await;
    let items = page["items"].as_array().expect("items").iter();
    items.filter_map(|item| item["event"]["reading"]["temperature_c"].as_f64()).collect()
}

pub async fn an_event_is_corrected_and_retracted_and_all_is_kept(database: Database) {
    let yard = yard(database).await;
    let first = yard.good("POST", EVENTS, None, Some(&entries(&[reading("2026-04-03", 44.0)]))).await;
    assert_eq!(first["items"][0]["outcome"], "added");
    assert_eq!(first["items"][0]["event_version"], 2);
    let id = text(&first["items"][0]["id"]);
    let right = json!({ "entries": [{ "event": reading("2026-04-03", 54.0), "supersedes": id }] });
    let second = yard.good("POST", EVENTS, None, Some(&right)).await;
    assert_eq!(second["items"][0]["outcome"], "replaced");
    assert_eq!(readings(&yard).await, [54.0]);
    let again = yard.call("POST", EVENTS, None, Some(&right)).await;
    assert_eq!(again.status, 409, "superseded before: {}", again.json());

    let gone = json!({ "entries": [{ "supersedes": second["items"][0]["id"] }] });
    assert_eq!(yard.good("POST", EVENTS, None, Some(&gone)).await["items"][0]["outcome"], "retracted");
    assert_eq!(readings(&yard).await, [0.0; 0]);
    let all = yard.good("GET", &format!("{EVENTS}?shown=all"), None, None).await;
    let all = all["items"].as_array().expect("items").clone();
    assert_eq!(all.len(), 4, "the fill, the reading, its correction, the retraction");
    assert_eq!((&all[2]["supersedes"], &all[3].get("event")), (&json!(id), &None));
    assert_eq!(all[1]["recorded_by"], "local");

    let path = format!("{EVENTS}/{id}");
    let one = yard.call("GET", &path, None, None).await;
    assert_eq!(one.json(), all[1]);
    let tag = one.header("etag").to_owned();
    assert_eq!(yard.call_with("GET", &path, None, &[("if-none-match", &tag)], None).await.status, 304);
    let since = yard.good("GET", &format!("{EVENTS}?shown=all&since={id}"), None, None).await;
    assert_eq!(since["items"].as_array().expect("items")[..], all[2..]);
    for lost in ["no-id", "00000000-0000-7000-8000-000000000000"] {
        assert_eq!(yard.call("GET", &format!("{EVENTS}/{lost}"), None, None).await.status, 404, "{lost}");
    }
}

pub async fn a_repeated_request_is_recorded_once(database: Database) {
    let yard = yard(database).await;
    let more = entries(&[reading("2026-04-03", 44.0), reading("2026-04-04", 51.0)]);
    let mut answers = Vec::new();
    // With and without the quotes of a structured string it is the same key.
    for key in ["\"k1\"", "k1", "\"k1\""] {
        let answer = yard.call_with("POST", EVENTS, None, &[("idempotency-key", key)], Some(&more)).await;
        assert_eq!(answer.status, 200);
        answers.push(answer.json());
    }
    assert!(answers.iter().all(|answer| *answer == answers[0]));
    assert_eq!(readings(&yard).await, [44.0, 51.0]);
    let other = entries(&[reading("2026-04-05", 60.0)]);
    let reused = yard.call_with("POST", EVENTS, None, &[("idempotency-key", "k1")], Some(&other)).await;
    assert_eq!(reused.status, 409, "{}", reused.json());
    assert_eq!(readings(&yard).await.len(), 2);
}

pub async fn of_a_mixed_lot_nothing_is_kept_or_the_good_as_asked(database: Database) {
    let yard = yard(database).await;
    let lost = json!({ "at": "2026-04-05", "move": { "to_bay": "nowhere" } });
    let heaped = json!({ "at": "2026-04-06", "level": { "fill_fraction": 62 } });
    let mixed = [
        reading("2026-04-03", 44.0),
        reading("2026-04-04", 180.0),
        lost,
        reading("2026-04-06", 58.0),
        heaped,
    ];
    let mut lot = entries(&mixed);
    let refused = yard.call("POST", EVENTS, None, Some(&lot)).await;
    assert_eq!(refused.status, 422);
    assert_eq!(
        refused.json()["errors"][0]["pointer"],
        "/entries/1/event/reading/temperature_c",
        "{}",
        refused.json()
    );
    assert_eq!(readings(&yard).await, [0.0; 0]);

    lot["mode"] = json!("keep_good");
    let kept = yard.good("POST", EVENTS, None, Some(&lot)).await;
    let items = kept["items"].as_array().expect("items");
    let outcomes: Vec<_> = items.iter().map(|item| text(&item["outcome"])).collect();
    assert_eq!(outcomes, ["added", "refused", "refused", "added", "refused"]);
    assert_eq!(items[1]["problem"]["errors"][0]["pointer"], "/event/reading/temperature_c");
    assert_eq!(items[2]["problem"]["detail"], "there is no bay `nowhere`");
    assert_eq!(items[4]["problem"]["errors"][0]["pointer"], "/event/level/fill_fraction");
    assert_eq!(readings(&yard).await, [44.0, 58.0]);

    let pair =
        entries(&[reading("2026-04-07", 50.0), json!({ "at": "2026-04-08", "move": { "to_bay": "x" } })]);
    let refused = yard.call("POST", EVENTS, None, Some(&pair)).await;
    assert_eq!(
        (refused.status.as_u16(), &refused.json()["errors"][0]["pointer"]),
        (422, &json!("/entries/1"))
    );
    assert_eq!(readings(&yard).await.len(), 2);
}

pub async fn the_callers_own_ids_make_an_append_repeatable(database: Database) {
    let yard = yard(database).await;
    let own = |temperature_c: f64| {
        let mut event = reading("2026-04-03", temperature_c);
        event["id"] = json!("probe-17");
        event
    };
    let outcome = async |lot: Value| {
        let answer = yard.call("POST", EVENTS, None, Some(&lot)).await;
        (answer.status.as_u16(), answer.json()["items"][0]["outcome"].clone())
    };
    assert_eq!(outcome(entries(&[own(44.0)])).await, (200, json!("added")));
    assert_eq!(outcome(entries(&[own(44.0)])).await, (200, json!("unchanged")));
    assert_eq!(outcome(entries(&[own(46.0)])).await, (409, Value::Null));
    let replace = json!({ "entries": [{ "event": own(46.0), "own_id_taken": "replace" }] });
    assert_eq!(outcome(replace).await, (200, json!("replaced")));
    assert_eq!(readings(&yard).await, [46.0]);
}

#[tokio::test]
async fn what_is_no_append_is_refused() {
    let yard = yard(Database::sqlite()).await;
    for (lot, pointer) in [
        (json!({ "entries": [] }), "/entries"),
        (json!({ "entries": [{}] }), "/entries/0"),
        (json!({ "entries": [{ "event": { "at": "2026-04-03" } }] }), "/entries/0/event"),
        (json!({ "entries": [{ "supersedes": "x" }] }), "/entries/0/supersedes"),
        (json!({ "entries": [{ "event": { "at": "soon", "turn": {} } }] }), "/entries/0/event/at"),
        (json!({ "entries": [], "mode": "most" }), "/mode"),
        (json!({}), "/entries"),
    ] {
        let refused = yard.call("POST", EVENTS, None, Some(&lot)).await;
        assert_eq!(refused.status, 422, "{lot}");
        assert_eq!(refused.json()["errors"][0]["pointer"], pointer, "{lot}");
    }
}
