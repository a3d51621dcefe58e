//! Sheets and bulk brought into a farm's records.

use std::fmt::Write;
use std::process::Command;

use serde_json::{Value, json};

use super::yard::{Yard, batch, bay, entries, reading};
use crate::binary;
use crate::databases::Database;
use crate::http::{Answer, send};

/// Where events of the farm below are brought in.
const PATH: &str = "/v1/farms/home/events";

/// A logbook as a spreadsheet saves it that parts by semicolons and writes decimal commas.
const LOGBOOK: &str = "\u{feff}\"Date\";\"Time\";\"Heap\";\"Material\";\"Barrow loads\";\"Temp °C\";\"Depth cm\";\"Turned\";\"Notes\"\r\n\
    \"01/04/2026\";\"\";\"April fill\";\"Grass mowings\";\"3,5\";\"\";\"\";\"\";\"first cut\"\r\n\
    \"01/04/2026\";\"\";\"April fill\";\"Grass mowings\";\"2\";\"\";\"\";\"\";\"\"\r\n\
    ;;;;;;;;\r\n\
    \"08/04/2026\";\"07:30\";\"heap-home\";\"\";\"\";\"58,5\";\"50\";\"yes\";\"steaming; turned\"\r\n";

/// A yard with the farm `home`: a batch `heap-home`, called April fill, in `bay-home`.
async fn yard(database: Database) -> Yard {
    let yard = Yard::on(database);
    yard.farm(None, "home", "-home").await;
    yard
}

async fn post(yard: &Yard, query: &str, content_type: &str, body: impl Into<Vec<u8>>) -> Answer {
    let path = format!("{PATH}{query}");
    let body = String::from_utf8(body.into()).expect("text");
    send(&yard.server, "POST", &path, &[("content-type", content_type)], body).await
}

/// An answer that is good.
async fn brought(yard: &Yard, query: &str, content_type: &str, body: &str) -> Value {
    let answer = post(yard, query, content_type, body).await;
    assert_eq!(answer.status, 200, "{}", answer.json());
    answer.json()
}

/// The counts of an answer: added, replaced, unchanged, refused.
fn counts(answer: &Value) -> [u64; 4] {
    ["added", "replaced", "unchanged", "refused"].map(|count| answer[count].as_u64().expect("a count"))
}

/// Line and outcome of each event of an answer.
fn outcomes(answer: &Value) -> Vec<(u64, String)> {
    let items = answer["items"].as_array().expect("items");
    let told = items.iter().map(|item| {
        (item["line"].as_u64().expect("a line"), item["outcome"].as_str().expect("a word").to_owned())
    });
    told.collect()
}

/// The farm's export, byte by byte.
fn export(yard: &Yard) -> String {
    let mut command = Command::new(binary::path());
    let output = command.args(["export", "home", "--store", &yard.database.url]).output().expect("it runs");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).expect("text")
}

/// How many events of the batch hold.
async fn held(yard: &Yard) -> usize {
    let path = "/v1/farms/home/batches/heap-home/events?page_size=1000";
    yard.good("GET", path, None, None).await["items"].as_array().expect("items").len()
}

pub async fn the_same_sheet_twice_adds_nothing_and_a_corrected_row_replaces(database: Database) {
    let yard = yard(database).await;
    let before = export(&yard);
    let sheet = "text/csv; charset=utf-8";
    let words = ["added", "added", "added", "added"].map(str::to_owned);
    let expected: Vec<(u64, String)> = [2, 3, 5, 5].into_iter().zip(words).collect();

    let dry = brought(&yard, "?dates=day_first&dry_run=true", sheet, LOGBOOK).await;
    assert_eq!((outcomes(&dry), counts(&dry)), (expected.clone(), [4, 0, 0, 0]));
    assert!(dry["items"].as_array().unwrap().iter().all(|item| item.get("id").is_none()), "{dry}");
    assert_eq!(export(&yard), before, "a dry run writes nothing");

    let first = brought(&yard, "?dates=day_first", sheet, LOGBOOK).await;
    assert_eq!((outcomes(&first), counts(&first)), (expected, [4, 0, 0, 0]));
    let own_ids: Vec<_> =
        first["items"].as_array().unwrap().iter().map(|item| &item["external_id"]).collect();
    assert_eq!(
        own_ids,
        [
            "2026-04-01 addition grass_mowings",
            "2026-04-01 addition grass_mowings #2",
            // In London, an hour before UTC since 29 March 2026.
            "2026-04-08T06:30:00Z reading 0.5 m",
            "2026-04-08T06:30:00Z turn",
        ]
    );
    let id = first["items"][2]["id"].as_str().expect("an id");
    let event = format!("/v1/farms/home/batches/heap-home/events/{id}");
    let kept = yard.good("GET", &event, None, None).await;
    assert_eq!(kept["event"]["reading"], json!({ "temperature_c": 58.5, "depth_m": 0.5 }));

    let after = export(&yard);
    let again = brought(&yard, "?dates=day_first", sheet, LOGBOOK).await;
    assert_eq!(counts(&again), [0, 0, 4, 0]);
    assert_eq!(export(&yard), after, "what is there already is not written again");

    let corrected = LOGBOOK.replace("58,5", "61");
    for (query, expected) in
        [("?dates=day_first&dry_run=true", [0, 1, 3, 0]), ("?dates=day_first", [0, 1, 3, 0])]
    {
        assert_eq!(counts(&brought(&yard, query, sheet, &corrected).await), expected, "{query}");
    }
    assert_eq!(held(&yard).await, 5, "with the one that was there before");
}

pub async fn all_or_nothing_is_the_rule_and_the_good_are_kept_on_demand(database: Database) {
    let yard = yard(database).await;
    let sheet = "date\tbatch\ttemp\n2026-04-08\theap-home\t58\n2026-04-09\theap-home\t180\n\
        2026-04-10\tnowhere\t60\n03/04/2026\theap-home\thot\n2026-04-11\theap-home\t131 °F\n";
    let tabs = "text/tab-separated-values";
    let before = export(&yard);
    let answer = post(&yard, "", tabs, sheet).await;
    assert_eq!(answer.status, 422);
    assert_eq!(answer.header("content-type"), "application/problem+json");
    let problem = answer.json();
    let pointers: Vec<_> = problem["errors"].as_array().unwrap().iter().map(|one| &one["pointer"]).collect();
    assert_eq!(pointers, ["/lines/3/temp", "/lines/4/batch", "/lines/5/date", "/lines/5/temp"]);
    assert_eq!(export(&yard), before, "nothing is kept");

    let dry = brought(&yard, "?dry_run=true", tabs, sheet).await;
    assert_eq!(counts(&dry), [2, 0, 0, 3]);
    assert_eq!(export(&yard), before);
    let good = brought(&yard, "?mode=keep_good", tabs, sheet).await;
    assert_eq!(outcomes(&good), outcomes(&dry), "a dry run says what becomes of each");
    assert_eq!(counts(&good), [2, 0, 0, 3]);
    let faults: Vec<_> =
        good["items"].as_array().unwrap().iter().filter_map(|item| item.get("errors")).collect();
    assert_eq!(
        faults[0],
        &json!([{ "pointer": "temp", "value": "180", "accepted": "-20 to 95" }]),
        "a value out of range is told by its column"
    );
    assert_eq!(faults[2][0]["value"], "`03/04/2026`");
    let both = faults[2][0]["accepted"].as_str().unwrap();
    assert!(both.contains("2026-04-03") && both.contains("2026-03-04"), "{both}");
    assert_eq!(held(&yard).await, 3);
}

pub async fn bulk_goes_to_any_number_of_batches(database: Database) {
    let yard = yard(database).await;
    yard.good("POST", "/v1/farms/home/batches", None, Some(&batch("pile", "bay-home"))).await;
    let event = |batch: &str, id: &str, temperature_c: f64| {
        let mut event = reading("2026-04-09", temperature_c);
        event["id"] = json!(id);
        json!({ "batch": batch, "event": event })
    };
    let list = json!({ "events": [event("heap-home", "a", 50.0), event("pile", "a", 51.0), event("nowhere", "a", 52.0)] });
    let list = list.to_string();
    let refused = post(&yard, "", "application/json", list.clone()).await;
    assert_eq!(
        (refused.status.as_u16(), &refused.json()["errors"][0]["pointer"]),
        (422, &json!("/events/2"))
    );
    let kept = brought(&yard, "?mode=keep_good", "application/json", &list).await;
    assert_eq!(outcomes(&kept), [(1, "added".into()), (2, "added".into()), (3, "refused".into())]);

    let lines = [
        event("heap-home", "a", 50.0).to_string(),
        String::new(),
        event("pile", "a", 99.0).to_string(),
        "{\"batch\":\"pile\",\"event\":{\"at\":\"soon\",\"turn\":{}}}".to_owned(),
        "nonsense".to_owned(),
        event("pile", "a", 60.0).to_string(),
    ];
    let ndjson = lines.join("\r\n");
    let kept = brought(&yard, "?mode=keep_good", "application/x-ndjson", &ndjson).await;
    let words = ["unchanged", "refused", "refused", "refused", "replaced"];
    let expected: Vec<(u64, String)> = [1, 3, 4, 5, 6].into_iter().zip(words.map(str::to_owned)).collect();
    assert_eq!(outcomes(&kept), expected);
    let pointers: Vec<_> = (1..4).map(|index| &kept["items"][index]["errors"][0]["pointer"]).collect();
    assert_eq!(pointers, ["/event/reading/temperature_c", "/event/at", ""]);
}

pub async fn many_thousand_lines_are_kept_some_at_a_time(database: Database) {
    let yard = yard(database).await;
    let mut lines = String::new();
    for number in 0..12_000 {
        let temperature_c = if number % 1000 == 7 { 300 } else { 20 + number % 50 };
        let event = json!({ "at": "2026-04-09T12:00:00Z", "id": format!("p-{number}"),
            "reading": { "temperature_c": temperature_c } });
        lines.push_str(&json!({ "batch": "heap-home", "event": event }).to_string());
        lines.push('\n');
    }
    let kept = brought(&yard, "?mode=keep_good", "application/x-ndjson", &lines).await;
    assert_eq!(counts(&kept), [11_988, 0, 0, 12]);
    let again = brought(&yard, "?mode=keep_good&dry_run=true", "application/x-ndjson", &lines).await;
    assert_eq!(counts(&again), [0, 0, 11_988, 12]);
    let own = yard.good("GET", "/v1/farms/home/batches/heap-home", None, None).await;
    assert_eq!(own["event_version"], 11_989);
}

pub async fn an_idempotency_key_makes_events_without_ids_safe_to_send_again(database: Database) {
    let yard = yard(database).await;
    let list = json!({ "events": [{ "batch": "heap-home", "event": reading("2026-04-09", 50.0) }] });
    let headers = [("idempotency-key", "monday")];
    let first = yard.call_with("POST", PATH, None, &headers, Some(&list)).await;
    let again = yard.call_with("POST", PATH, None, &headers, Some(&list)).await;
    assert_eq!((first.status.as_u16(), first.json()), (200, again.json()));
    assert_eq!(held(&yard).await, 2);
    let other = json!({ "events": [{ "batch": "heap-home", "event": reading("2026-04-10", 50.0) }] });
    assert_eq!(yard.call_with("POST", PATH, None, &headers, Some(&other)).await.status, 409);
}

pub async fn a_bay_stands_for_the_batch_that_stood_in_it(database: Database) {
    let yard = yard(database).await;
    // `heap-home` starts on 1 April in `bay-home` and moves on the 10th; `pile` is filled there on the 12th.
    yard.good("POST", "/v1/farms/home/bays", None, Some(&bay("west"))).await;
    yard.good("POST", "/v1/farms/home/batches", None, Some(&batch("pile", "bay-home"))).await;
    let moved = entries(&[json!({ "at": "2026-04-10", "move": { "to_bay": "west" } })]);
    yard.good("POST", "/v1/farms/home/batches/heap-home/events", None, Some(&moved)).await;
    let fill = json!({ "at": "2026-04-12", "addition": { "feedstock": "wheat_straw", "mass_kg": 90 } });
    yard.good("POST", "/v1/farms/home/batches/pile/events", None, Some(&entries(&[fill]))).await;
    let rows = [
        ("2026-04-09", "Bay Home", Some("heap-home")),
        ("2026-04-11", "bay-home", None),
        ("2026-04-13", "bay-home", Some("pile")),
        ("2026-04-11", "West", Some("heap-home")),
        ("2026-04-09", "west", None),
        ("2026-04-09", "north", None),
    ];
    let mut sheet = String::from("date,bay,temp\n");
    for (date, bay, _) in rows {
        writeln!(sheet, "{date},{bay},50").expect("a text takes it");
    }
    let kept = brought(&yard, "?mode=keep_good", "text/csv", &sheet).await;
    let items = kept["items"].as_array().unwrap();
    for ((date, bay, batch), item) in rows.iter().zip(items) {
        match batch {
            Some(batch) => assert_eq!(
                (&item["outcome"], &item["batch"]),
                (&json!("added"), &json!(batch)),
                "{date} {bay}"
            ),
            None => assert_eq!(item["errors"][0]["pointer"], "bay", "{date} {bay}: {item}"),
        }
    }
    // From the day of the move on, both stood there for a day where one comes as the other goes.
    let fill = json!({ "at": "2026-04-10", "addition": { "feedstock": "wheat_straw", "mass_kg": 9 } });
    yard.good("POST", "/v1/farms/home/batches/pile/events", None, Some(&entries(&[fill]))).await;
    let kept = brought(&yard, "?mode=keep_good", "text/csv", "date,bay,temp\n2026-04-10,bay-home,50\n").await;
    let told = kept["items"][0]["errors"][0]["accepted"].as_str().unwrap();
    assert!(told.contains("`heap-home`, `pile`"), "{told}");
}

pub async fn what_cannot_be_read_at_all_is_a_problem(database: Database) {
    let yard = yard(database).await;
    for (query, content_type, body, status, told) in [
        ("", "application/xml", "<a/>", 415, "text/csv, text/tab-separated-values, application/json"),
        ("", "text/csv; charset=latin1", "date,temp\n", 415, "UTF-8"),
        ("", "text/csv", "date,batch,pH\n2026-04-09,heap-home,7\n", 422, "column `pH`"),
        ("", "text/csv", "batch,temp\nheap-home,7\n", 422, "no column `at`"),
        ("", "application/json", "{\"events\": [", 400, "malformed"),
        ("", "application/json", "{\"entries\": []}", 422, "only the members events"),
        ("?dates=month_first", "text/csv", "date,batch,temp\n", 422, "one of iso, day_first"),
        ("?dry_run=perhaps", "text/csv", "date,batch,temp\n", 422, "true or false"),
        ("?format=csv", "text/csv", "date,batch,temp\n", 422, "only the parameters mode, dry_run"),
    ] {
        let answer = post(&yard, query, content_type, body).await;
        let text = answer.json().to_string();
        assert_eq!(answer.status.as_u16(), status, "{query} {content_type}: {text}");
        assert!(text.contains(told), "{told}: {text}");
    }
    let large = post(&yard, "", "text/csv", vec![b'x'; (32 << 20) + 1]).await;
    assert_eq!(large.status, 413);
    assert_eq!(counts(&brought(&yard, "", "text/csv", "date,batch,temp\n").await), [0; 4]);
    assert_eq!(held(&yard).await, 1, "nothing came of all that");
}

pub async fn another_farms_things_are_named_nowhere(database: Database) {
    let yard = yard(database).await;
    yard.farm(None, "theirs", "-theirs").await;
    let sheet = "date,batch,bay,material,kg,temp\n2026-04-09,heap-theirs,,,,50\n2026-04-09,,bay-theirs,,,50\n\
        2026-04-09,heap-home,,bines-theirs,5,\n2026-04-09,heap-their,,,,50\n";
    let kept = brought(&yard, "?mode=keep_good", "text/csv", sheet).await;
    assert_eq!(counts(&kept), [0, 0, 0, 4]);
    for item in kept["items"].as_array().unwrap() {
        let accepted = item["errors"][0]["accepted"].as_str().expect("a text");
        assert!(!accepted.contains("theirs"), "{item}");
    }
}
