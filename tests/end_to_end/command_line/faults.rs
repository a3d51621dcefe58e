//! What is wrong is named by file, line and field, and the rest is served.

use serde_json::Value;

use super::{Folder, SHEET_FLAGS, SPRING_SHEET, baycast, estimates, history, spring, text};

/// Runs the file `name` with these contents, and a good one after it: standard error must hold each of `expected`,
/// and `served` good batches of the file must be answered all the same.
fn refused(folder: &Folder, name: &str, contents: impl AsRef<[u8]>, expected: &[&str], served: usize) {
    folder.write(name, contents);
    folder.write("after.ndjson", history("good", &spring()).to_string());
    let mut arguments = vec!["estimate", name, "after.ndjson", "--to", "ndjson"];
    if name.contains(".csv") {
        arguments.extend(SHEET_FLAGS);
    }
    let output = baycast(folder, &arguments, b"");
    let stderr = text(&output.stderr);
    assert_eq!(output.status.code(), Some(1), "{name}: {stderr}");
    for part in expected {
        assert!(stderr.contains(part), "{name}: `{part}` is missing from\n{stderr}");
    }
    let answers = estimates(&text(&output.stdout));
    assert_eq!(answers.len(), served + 1, "{name}: {stderr}");
    assert!(answers.iter().all(|answer| answer["batch"] == "good"), "{name}");
}

/// A good history, and one with a reading of 180 °C.
fn good_and_hot() -> (String, String) {
    let hot =
        history("hot", &spring()).to_string().replace("\"temperature_c\":45.0", "\"temperature_c\":180");
    (history("good", &spring()).to_string(), hot)
}

#[test]
fn a_wrong_field_of_a_document_is_named_with_its_line() {
    let folder = Folder::new("documents");
    let (good, hot) = good_and_hot();
    let both: [Value; 2] = [&good, &hot].map(|text| serde_json::from_str(text).unwrap());
    let pretty = serde_json::to_string_pretty(&both).unwrap();
    let line = 1 + pretty.lines().position(|line| line.contains("180")).unwrap();
    let place = format!("value.json:{line}: /events/3/reading/temperature_c: 180");
    refused(&folder, "value.json", pretty, &[&place, "-20 to 95"], 1);
    let with_text = good.replace("\"mass_kg\":60", "\"mass_kg\":\"60 kg\"");
    refused(&folder, "type.json", with_text, &["type.json:1: /events/0/addition/mass_kg: ", "60 kg"], 0);
    let renamed = good.replace("\"barrows\"", "\"barrow_loads\"");
    refused(&folder, "field.json", renamed, &["field.json:1: /events/1/addition/barrow_loads: "], 0);
    refused(&folder, "cut.json", format!("\n\n{}", &good[..300]), &["cut.json:3: ", "not JSON"], 0);
    let nan = good.replace("\"mass_kg\":60", "\"mass_kg\":NaN");
    refused(&folder, "nan.json", nan, &["nan.json:1: /events/0/addition/mass_kg: not JSON"], 0);
    refused(&folder, "empty.json", "", &["empty.json:", "not JSON"], 0);
}

#[test]
fn a_bad_line_of_a_stream_is_named_and_the_rest_is_served() {
    let folder = Folder::new("lines");
    let (good, hot) = good_and_hot();
    let lines = format!("{good}\nnonsense\n\n{hot}\n{good}\n");
    let places = ["lines.ndjson:2: not JSON", "lines.ndjson:4: /events/3/reading/temperature_c: 180"];
    refused(&folder, "lines.ndjson", lines, &places, 2);
    let bytes = [good.as_bytes(), b"\n\xff\xfe\n", good.as_bytes()].concat();
    refused(&folder, "bytes.ndjson", bytes, &["bytes.ndjson:2: "], 2);
}

#[test]
fn a_wrong_cell_of_a_sheet_is_named_with_its_line_and_column() {
    let folder = Folder::new("sheets");
    // Rows before those of a good batch, and what standard error must say of them.
    let cases = [
        (
            "hot,2026-03-20,addition,grass_mowings,80,\nhot,2026-03-21,reading,,,180",
            "3: temperature_c: 180 given, accepted: -20 to 95",
        ),
        (
            "bad,2026-03-20,addition,grass_mowings,\"1,250\",",
            "2: mass_kg: `1,250` given, accepted: 1250 or 1.25, written so that it can be only one of them",
        ),
        ("bad,2026-03-20,addition,grass_mowings,inf,", "2: mass_kg: `inf` given, accepted: a number"),
        ("bad,2026-03-20,addition,grass_mowings,-3,", "2: mass_kg: -3 given, accepted: 0 to 50000"),
        ("bad,20/03/2026,addition,grass_mowings,60,", "2: at: `20/03/2026` given, accepted: a date like"),
        (
            "bad,2026-03-20,stirred,grass_mowings,60,",
            "2: event: `stirred` given, accepted: addition, reading",
        ),
        (
            "bad,2026-03-20,addition,grass_mowings,60,\nbad,2026-03-21,reading,,12,50",
            "3: mass_kg: `12` given, accepted: nothing, for a row of reading",
        ),
        (
            "bad,2026-03-20,addition,unobtainium,60,",
            "2: feedstock: `unobtainium` given, accepted: a feedstock's id or name",
        ),
        (
            "bad,2026-03-20,addition,straw,60,",
            "2: feedstock: `straw` given, accepted: a feedstock's id or name, perhaps one of `oat_straw`",
        ),
        (
            "bad,03/04/2026,addition,grass_mowings,60,",
            "2: at: `03/04/2026` given, accepted: 2026-04-03 if the day comes first",
        ),
        ("bad,2026-03-20,addition,,60,", "2: feedstock: nothing given, accepted: a feedstock's id"),
        ("bad,2026-03-20,turn", "2: a row of 3 cells given, accepted: 6"),
    ];
    for (index, (rows, expected)) in cases.into_iter().enumerate() {
        let name = format!("{index}.csv");
        let header = "batch,at,event,feedstock,mass_kg,temperature_c";
        let sheet = format!("{header}\n{rows}\ngood,2026-03-20,addition,grass_mowings,80,\n");
        refused(&folder, &name, sheet, &[&format!("{name}:{expected}")], 1);
    }
    let unknown = ["header.csv:1: header: column `pH` given, accepted: batch, bay, at"];
    refused(&folder, "header.csv", "at,event,pH\n2026-03-20,turn,\n", &unknown, 0);
    refused(&folder, "empty.csv", "", &["empty.csv:1: header: no column `at`"], 0);
}

#[test]
fn a_file_that_is_not_there_is_named_and_the_rest_is_served() {
    let folder = Folder::new("absent");
    folder.write("after.ndjson", history("good", &spring()).to_string());
    let output = baycast(&folder, &["estimate", "absent.json", "after.ndjson", "--to", "csv"], b"");
    assert_eq!(output.status.code(), Some(1));
    assert!(text(&output.stderr).starts_with("absent.json: not readable: "), "{}", text(&output.stderr));
    assert_eq!(text(&output.stdout).lines().count(), 2);
}

#[test]
fn wrong_usage_ends_with_two_before_anything_is_read() {
    let folder = Folder::new("usage");
    folder.write("a.json", history("a", &spring()).to_string());
    folder.write("a.csv", SPRING_SHEET);
    folder.write("a.txt", "");
    folder.write("site.json", "{\"latitude_deg\": \"north\"}");
    let bay = "1x1x1 cardboard_lined";
    let cases: [(&[&str], &str); 12] = [
        (&["estimate"], "FILE"),
        (&["estimate", "a.json", "--to", "xml"], "xml"),
        (&["estimate", "a.json", "--as-of", "yesterday"], "accepted: a date like 2026-09-15, or `last`"),
        (&["estimate", "a.txt"], "--from"),
        (&["estimate", "-", "-"], "standard input is named twice"),
        (&["estimate", "a.json", "--latitude", "52"], "for CSV"),
        (&["estimate", "a.csv", "--bay", bay], "--latitude"),
        (&["estimate", "a.csv", "--latitude", "52"], "--bay"),
        (
            &["estimate", "a.csv", "--latitude", "52", "--bay", "1x1x1 brick"],
            "`brick` given, accepted: a wall (thin_plastic",
        ),
        (&["estimate", "a.csv", "--site", "site.json", "--bay", bay], "site.json:1: "),
        (&["estimate", "a.csv", "--site", "none.json", "--bay", bay], "none.json: "),
        (&["estimat"], "estimate"),
    ];
    for (arguments, expected) in cases {
        let output = baycast(&folder, arguments, b"");
        let stderr = text(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}: {stderr}");
        assert!(stderr.contains(expected), "{arguments:?}: `{expected}` is missing from\n{stderr}");
        assert!(output.stdout.is_empty());
    }
}
