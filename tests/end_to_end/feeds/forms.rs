//! The sheet, the JSON Feed and the single values against the contract's own JSON.

use serde_json::{Value, json};

use super::heaps::{Heaps, IDS, NAMES, encoded};

/// The columns in the order in which they are documented.
const COLUMNS: &str = "farm,batch,name,bay,as_of,stage,use,opens_p10,opens_p50,opens_p90,best_by_p10,best_by_p50,\
    best_by_p90,open_now_probability,volume_at_opening_m3,volume_m3,fill_fraction,core_c,edge_c,moisture_fraction,\
    maturity_index,turn_by,next_action,next_reason,changed_at";

/// A number of the JSON, as the sheet rounds it.
fn rounded(value: &Value, steps: f64) -> String {
    value.as_f64().map_or_else(String::new, |value| ((value * steps).round() / steps).to_string())
}

fn words(value: &Value) -> String {
    value.as_str().unwrap_or_default().to_owned()
}

#[tokio::test]
async fn the_sheet_has_a_row_for_each_batch_and_use_with_the_documented_columns() {
    let heaps = Heaps::new().await;
    let answer = heaps.read("readiness.csv").await;
    assert_eq!(answer.header("content-type"), "text/csv; charset=utf-8; header=present");
    let text = heaps.text("readiness.csv").await;
    assert!(text.starts_with(&format!("{COLUMNS}\r\n")), "{text}");
    assert_eq!(text.matches('\n').count(), text.matches("\r\n").count(), "RFC 4180 ends lines with CRLF");
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let headers = reader.headers().expect("headings").clone();
    let rows: Vec<csv::StringRecord> = reader.records().map(|row| row.expect("a row")).collect();
    let told = heaps.readiness().await;
    let batches = told["batches"].as_array().expect("batches");
    assert_eq!((batches.len(), rows.len()), (4, 12));
    let windows = batches.iter().flat_map(|batch| {
        batch["windows"].as_array().expect("windows").iter().map(move |window| (batch, window))
    });
    let mut known_days = 0;
    for ((batch, window), row) in windows.zip(&rows) {
        let cell = |name: &str| &row[headers.iter().position(|own| own == name).expect("a column")];
        // Names are invented, and the one that begins with = is neutralised; so is the id that begins with -.
        let plain =
            |text: &str| if text.starts_with(['=', '-']) { format!("'{text}") } else { text.to_owned() };
        for (name, expected) in [
            ("farm", "home".to_owned()),
            ("batch", plain(&words(&batch["batch"]))),
            ("name", plain(&words(&batch["name"]))),
            ("bay", words(&batch["bay"])),
            ("as_of", words(&batch["as_of"])),
            ("stage", words(&batch["stage"])),
            ("use", words(&window["use"])),
            ("opens_p10", words(&window["opens"]["p10"])),
            ("opens_p50", words(&window["opens"]["p50"])),
            ("opens_p90", words(&window["opens"]["p90"])),
            ("best_by_p10", words(&window["best_by"]["p10"])),
            ("best_by_p50", words(&window["best_by"]["p50"])),
            ("best_by_p90", words(&window["best_by"]["p90"])),
            ("open_now_probability", rounded(&window["open_now_probability"], 1000.0)),
            ("volume_at_opening_m3", rounded(&window["volume_at_opening_m3"], 1000.0)),
            ("volume_m3", rounded(&batch["now"]["volume_m3"]["p50"], 1000.0)),
            ("fill_fraction", rounded(&batch["now"]["fill_fraction"], 1000.0)),
            ("core_c", rounded(&batch["now"]["core_c"]["p50"], 10.0)),
            ("edge_c", rounded(&batch["now"]["edge_c"]["p50"], 10.0)),
            ("moisture_fraction", rounded(&batch["now"]["moisture_fraction"]["p50"], 1000.0)),
            ("maturity_index", rounded(&batch["maturity_index"]["p50"], 1000.0)),
            ("turn_by", words(&batch["turn"]["by"])),
            ("next_action", words(&batch["advice"][0]["action"])),
            ("next_reason", words(&batch["advice"][0]["reason"])),
        ] {
            assert_eq!(cell(name), expected, "{name} of {batch}");
        }
        known_days += usize::from(!cell("opens_p50").is_empty());
        let changed = cell("changed_at");
        assert_eq!((changed.len(), &changed[19..]), ("2026-09-15T08:00:00Z".len(), "Z"), "{changed}");
        assert!(words(&batch["changed_at"]).starts_with(&changed[..16]), "to the second");
    }
    assert!(known_days >= 6, "the heaps have windows: {text}");
    for name in NAMES {
        assert!(batches.iter().any(|batch| batch["name"] == name), "{name}");
    }
}

#[tokio::test]
async fn a_single_value_is_the_sheets_cell() {
    let heaps = Heaps::new().await;
    let sheet = heaps.text("readiness.csv").await;
    let mut reader = csv::Reader::from_reader(sheet.as_bytes());
    let headers = reader.headers().expect("headings").clone();
    let rows: Vec<csv::StringRecord> = reader.records().map(|row| row.expect("a row")).collect();
    let id = IDS[1];
    let row = rows.iter().find(|row| &row[1] == id && &row[6] == "bed_dressing").expect("the row");
    let batch = encoded(id);
    for (name, cell) in headers.iter().zip(row) {
        let answer = heaps.read(&format!("batches/{batch}/{name}?use=bed_dressing")).await;
        assert_eq!(answer.header("content-type"), "text/plain; charset=utf-8");
        assert_eq!(String::from_utf8_lossy(&answer.body), cell, "{name}");
    }
    for (short, column) in [("opens", "opens_p50"), ("best_by", "best_by_p50")] {
        let value = heaps.text(&format!("batches/{batch}/{short}?use=bed_dressing")).await;
        assert_eq!(value, row[headers.iter().position(|own| own == column).expect("a column")]);
    }
    // Over a key the same; the farm has no key, so none is shown.
    let by_key = format!("/v1/farms/home/batches/{batch}/readiness/core_c");
    let answer = crate::http::get(&heaps.yard.server, &by_key).await;
    assert_eq!(String::from_utf8_lossy(&answer.body), heaps.text(&format!("batches/{batch}/core_c")).await);
    // Text stands as it is: a value is no sheet.
    let named = heaps.text(&format!("batches/{}/name", encoded(IDS[3]))).await;
    assert_eq!(named, NAMES[3]);

    let wrong = async |below: &str| {
        let path = format!("{}/batches/{batch}/{below}", heaps.path);
        let answer = crate::http::get(&heaps.yard.server, &path).await;
        (answer.status.as_u16(), answer.json()["errors"][0]["pointer"].clone())
    };
    assert_eq!(wrong("opens").await, (422, json!("/use")), "a window's value needs its use");
    assert_eq!(wrong("opens?use=tea").await, (422, json!("/use")));
    assert_eq!(wrong("core_c?usage=mulch").await, (422, json!("/usage")));
    assert_eq!(wrong("colour").await.0, 404);
}

#[tokio::test]
async fn the_json_feed_has_what_its_version_1_1_requires() {
    let heaps = Heaps::new().await;
    let answer = heaps.read("readiness.feed.json").await;
    assert_eq!(answer.header("content-type"), "application/feed+json");
    let feed = answer.json();
    // JSON Feed version 1.1, "Top-level" and "Items": required, and those of which one is.
    assert_eq!(feed["version"], "https://jsonfeed.org/version/1.1");
    assert_eq!(feed["title"], "Long field: compost readiness");
    let items = feed["items"].as_array().expect("items");
    assert_eq!(items.len(), 4);
    let mut ids: Vec<_> = items.iter().map(|item| words(&item["id"])).collect();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), 4, "each id once");
    assert!(ids.iter().all(|id| id.starts_with("urn:uuid:")));
    for item in items {
        let (text, html) = (words(&item["content_text"]), words(&item["content_html"]));
        for told in
            ["Windows", "ready to spread on beds", "An estimate, not a measurement", "free of herbicide"]
        {
            assert!(text.contains(told) && html.contains(told), "{told}: {text}");
        }
        let date: Result<jiff::Timestamp, _> = words(&item["date_modified"]).parse();
        assert!(date.is_ok(), "RFC 3339: {item}");
    }
    let again = heaps.read("readiness.feed.json").await.json();
    assert_eq!(again, feed, "ids and dates stay while nothing changes");
}
