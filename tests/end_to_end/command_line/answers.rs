//! One batch has one answer, however it is written and wherever it is asked.

use std::fmt::Write;

use serde_json::{Value, json};

use super::{Folder, SHEET_FLAGS, SPRING_LOGBOOK, SPRING_SHEET, baycast, estimates, history, served, spring};

#[test]
fn one_batch_has_one_answer_however_it_is_written() {
    let folder = Folder::new("one-answer");
    let one = history("spring", &spring());
    folder.write("spring.json", serde_json::to_string_pretty(&one).unwrap());
    folder.write("array.json", json!([one]).to_string());
    folder.write("lines.ndjson", format!("{one}\n"));
    folder.write("spring.csv", SPRING_SHEET);
    let ndjson = ["--to", "ndjson", "--as-of", "2026-06-01"];
    let from_json = served(&baycast(&folder, &[&["estimate", "spring.json"], &ndjson[..]].concat(), b""));
    assert_eq!(estimates(&from_json)[0]["batch"], "spring");
    let line = one.to_string();
    folder.write("logbook.csv", SPRING_LOGBOOK);
    let ways: [(&[&str], &[u8]); 7] = [
        (&["array.json"], b""),
        (&["lines.ndjson"], b""),
        (&["spring.csv"], b""),
        (&["logbook.csv", "--dates", "day-first", "--time-zone", "Europe/Madrid"], b""),
        (&["-"], line.as_bytes()),
        (&["-", "--from", "ndjson"], line.as_bytes()),
        (&["-", "--from", "csv"], SPRING_SHEET.as_bytes()),
    ];
    for (way, standard_input) in ways {
        let mut arguments = [&["estimate"], way, &ndjson[..]].concat();
        if way.concat().contains("csv") {
            arguments.extend(SHEET_FLAGS);
        }
        let answer = served(&baycast(&folder, &arguments, standard_input));
        // A sheet from standard input has no file name to take the batch's name from.
        let expected = if way == ["-", "--from", "csv"] {
            from_json.replace("\"batch\":\"spring\"", "\"batch\":\"batch\"")
        } else {
            from_json.clone()
        };
        assert_eq!(answer, expected, "{way:?}");
    }
}

#[test]
fn sheets_may_hold_several_batches_and_files_keep_their_order() {
    let folder = Folder::new("order");
    folder.write("two.json", json!([history("b", &spring()), history("a", &spring())]).to_string());
    folder.write(
        "three.csv",
        "batch,at,event,feedstock,mass_kg,temperature_c\n\
         d,2026-03-20,addition,grass_mowings,80,\n\
         c,2026-03-20,addition,horse_manure_bedded,300,\n\
         d,2026-03-25,reading,,,50\n",
    );
    let arguments =
        [&["estimate", "two.json", "three.csv", "--to", "ndjson", "--as-of", "2026-06-01"], &SHEET_FLAGS[..]]
            .concat();
    let answers = estimates(&served(&baycast(&folder, &arguments, b"")));
    let names: Vec<_> = answers.iter().map(|answer| answer["batch"].as_str().unwrap()).collect();
    assert_eq!(names, ["b", "a", "d", "c"]);
}

#[test]
fn readings_with_one_addition_make_a_sheet() {
    let folder = Folder::new("readings");
    folder.write(
        "bay.json",
        json!({"id": "heap", "length_m": 2.0, "width_m": 2.0, "height_m": 1.2, "wall": {"construction": "open_heap"}})
            .to_string(),
    );
    folder.write(
        "site.json",
        json!({"latitude_deg": 40.0, "daily": [{"date": "2026-05-02", "mean_air_c": 11.5, "rain_mm": 0.0}]})
            .to_string(),
    );
    folder.write(
        "own.json",
        json!([{
            "id": "own_mix", "moisture_fraction": 0.6, "nitrogen_fraction": 0.016, "c_to_n": 28.0, "ash_fraction": 0.1,
            "bulk_density_kg_m3": 400.0, "fast_fraction": 0.3, "slow_fraction": 0.4,
        }])
        .to_string(),
    );
    let mut sheet =
        String::from("at,event,feedstock,volume_m3,temperature_c\n2026-05-01,addition,own_mix,4.0,\n");
    for day in 2..30 {
        writeln!(sheet, "2026-05-{day:02},reading,,,{}", 60 - day).unwrap();
    }
    folder.write("heap.csv", sheet);
    let flags = ["--site", "site.json", "--bay", "bay.json", "--feedstocks", "own.json"];
    let arguments = [&["estimate", "heap.csv", "--as-of", "last", "--to", "ndjson"], &flags[..]].concat();
    let answer = estimates(&served(&baycast(&folder, &arguments, b""))).remove(0);
    assert_eq!((&answer["as_of"], &answer["bay"]), (&json!("2026-05-29"), &json!("heap")));
    // 4 m³ of 400 kg/m³ at 60 % moisture are 640 kg of dry matter; a volume is only so certain, and readings move it.
    let dry_in_kg = answer["balance"]["dry_in_kg"].as_f64().unwrap();
    assert!((400.0..1000.0).contains(&dry_in_kg), "{dry_in_kg} kg");
}

#[test]
fn every_form_of_output_says_the_same() {
    let folder = Folder::new("forms");
    folder
        .write("two.json", json!([history("one", &spring()), history("two, later", &spring())]).to_string());
    let run = |to: &str| served(&baycast(&folder, &["estimate", "two.json", "--to", to], b""));
    let lines = estimates(&run("ndjson"));
    let array: Vec<Value> = serde_json::from_str(&run("json")).unwrap();
    assert_eq!(array, lines);
    assert_eq!(lines.len(), 2);

    let sheet = run("csv");
    let rows: Vec<&str> = sheet.lines().collect();
    assert!(
        rows[0]
            .starts_with("batch,as_of,bay,stage,core_c,edge_c,volume_m3,mass_kg,moisture_fraction,c_to_n,")
    );
    assert_eq!(rows.len(), 3);
    assert!(rows[2].starts_with("\"two, later\",2026-06-01,pallet-1,"), "{}", rows[2]);
    let columns: Vec<&str> = rows[0].split(',').collect();
    let cells: Vec<&str> = rows[1].split(',').collect();
    let cell = |name: &str| cells[columns.iter().position(|column| *column == name).unwrap()];
    for (column, pointer) in [
        ("core_c", "/now/core_c/p50"),
        ("volume_m3", "/now/volume_m3/p50"),
        ("mass_kg", "/now/mass_kg"),
        ("maturity_index", "/maturity/index/p50"),
        ("respiration", "/maturity/respiration_mg_co2c_g_vs_day"),
        ("degree_days_c", "/thermal_time/degree_days_c"),
    ] {
        let number: Value = serde_json::from_str(cell(column)).unwrap();
        assert_eq!(number.as_f64(), lines[0].pointer(pointer).unwrap().as_f64(), "{column}");
    }
    for (index, purpose) in ["mulch", "bed_dressing", "potting"].iter().enumerate() {
        let opens = &lines[0]["windows"][index]["opens"]["p50"];
        assert_eq!(cell(&format!("{purpose}_opens_p50")), opens.as_str().unwrap_or(""), "{purpose}");
    }

    let table = run("table");
    assert_eq!(served(&baycast(&folder, &["estimate", "two.json"], b"")), table);
    assert!(!table.contains('\u{1b}'), "no escape codes where it is piped");
    assert!(table.lines().all(|line| line.chars().count() <= 100), "{table}");
    assert!(table.contains("1 Jun 2026"), "{table}");
    let volume = format!("{:.2} m³", lines[0]["now"]["volume_m3"]["p50"].as_f64().unwrap());
    assert!(table.contains(&volume), "{volume} is missing from\n{table}");
    let caution = lines[0]["cautions"][0].as_str().unwrap().split_whitespace().next().unwrap();
    assert!(table.contains("Bear in mind") && table.contains(caution), "{table}");
    for word in ["weed-free", "weed free", "sanitised", "sanitized", "sterile"] {
        assert!(!table.contains(word), "`{word}` is claimed in\n{table}");
    }
}

#[test]
fn as_of_overrides_the_histories_own_day() {
    let folder = Folder::new("as-of");
    folder.write("a.json", history("a", &spring()).to_string());
    let day = |flags: &[&str]| {
        let arguments = [&["estimate", "a.json", "--to", "ndjson"], flags].concat();
        estimates(&served(&baycast(&folder, &arguments, b""))).remove(0)["as_of"].clone()
    };
    assert_eq!(day(&[]), "2026-06-01");
    assert_eq!(day(&["--as-of", "2026-08-15"]), "2026-08-15");
    assert_eq!(day(&["--as-of", "last"]), "2026-05-25");
}

#[test]
fn days_asked_about_are_answered_for_each_use() {
    let folder = Folder::new("ready-by");
    let mut own = history("a", &spring());
    own["ready_by"] = json!(["2026-09-09"]);
    folder.write("a.json", own.to_string());
    folder.write("a.csv", SPRING_SHEET);
    let answer = |input: &[&str], flags: &[&str]| {
        let arguments = [&["estimate"], input, &["--to", "ndjson", "--as-of", "2026-06-01"], flags].concat();
        estimates(&served(&baycast(&folder, &arguments, b""))).remove(0)["windows"].clone()
    };
    let days = |windows: &Value| -> Vec<Vec<String>> {
        let days = |window: &Value| {
            let by = window["ready_by"].as_array().expect("a list");
            by.iter().map(|by| by["date"].as_str().expect("a date").to_owned()).collect()
        };
        windows.as_array().expect("windows").iter().map(days).collect()
    };
    assert_eq!(days(&answer(&["a.json"], &[])), vec![["2026-09-09"]; 3], "the history's own");
    let flags = ["--ready-by", "2026-10-01,2026-08-01", "--ready-by", "2027-05-01"];
    let asked = ["2026-10-01", "2026-08-01", "2027-05-01"];
    let windows = answer(&["a.json"], &flags);
    assert_eq!(days(&windows), vec![asked; 3], "in place of the history's own");
    let of_sheet = answer(&[&["a.csv"], &SHEET_FLAGS[..]].concat(), &flags);
    assert_eq!(of_sheet, windows, "sheets are asked alike");
    let table = served(&baycast(&folder, &[&["estimate", "a.json"], &flags[..]].concat(), b""));
    let flat = table.split_whitespace().collect::<Vec<_>>().join(" ");
    for window in windows.as_array().expect("windows") {
        let likely = window["ready_by"][2]["probability"].as_f64().expect("a probability") * 100.0;
        assert!(flat.contains(&format!("{likely:.0} % likely by 1 May 2027")), "{likely} in\n{table}");
    }
    let refused = baycast(&folder, &["estimate", "a.json", "--ready-by", "2099-01-01"], b"");
    assert_eq!(refused.status.code(), Some(1));
    let told = String::from_utf8_lossy(&refused.stderr).into_owned();
    assert!(told.contains("/ready_by/0: \"2099-01-01\" given, accepted: 2026-03-21 to 2027-06-01"), "{told}");
}

#[test]
fn what_was_learned_and_what_could_be_done_are_told_in_every_form() {
    let folder = Folder::new("futures");
    folder.write("a.json", history("a", &spring()).to_string());
    folder.write("a.csv", SPRING_SHEET);
    let run = |input: &[&str], flags: &[&str]| {
        served(&baycast(&folder, &[&["estimate"], input, &["--as-of", "2026-06-01"], flags].concat(), b""))
    };
    let asked = estimates(&run(&["a.json"], &["--to", "ndjson", "--compare-futures"])).remove(0);
    let unasked = estimates(&run(&["a.json"], &["--to", "ndjson"])).remove(0);
    assert!(unasked.get("futures").is_none());
    let sheet = [&["a.csv"], &SHEET_FLAGS[..]].concat();
    let of_sheet = estimates(&run(&sheet, &["--to", "ndjson", "--compare-futures"])).remove(0);
    assert_eq!(of_sheet["futures"], asked["futures"], "sheets are asked alike");
    let mut own = history("a", &spring());
    own["compare_futures"] = json!(true);
    folder.write("own.json", own.to_string());
    assert_eq!(
        estimates(&run(&["own.json"], &["--to", "ndjson"])).remove(0),
        asked,
        "the history asks itself"
    );

    let table = run(&["a.json"], &["--compare-futures"]);
    assert!(table.lines().all(|line| line.chars().count() <= 100), "{table}");
    let flat = table.split_whitespace().collect::<Vec<_>>().join(" ");
    let reason = asked["learned"]["reason"].as_str().expect("a reason");
    assert!(flat.contains(reason.trim_end_matches('.')), "`{reason}` is missing from\n{table}");
    let futures = asked["futures"].as_array().expect("futures");
    let steps = ["leave it", "turn it now", "turn it in two weeks", "turn it now with wood", "cover it now"];
    let rows = steps.iter().filter(|step| table.contains(**step)).count();
    assert_eq!(rows, futures.len(), "{table}");
    assert!(!run(&["a.json"], &[]).contains("What if"), "only where asked for");

    let csv = run(&["a.json"], &["--to", "csv"]);
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let header = reader.headers().expect("a header").iter().map(String::from).collect::<Vec<_>>();
    let row = reader.records().next().expect("a row").expect("cells");
    let row = row.iter().map(String::from).collect::<Vec<_>>();
    assert_eq!(header[header.len() - 3..], ["trust", "next_look", "next_look_on"].map(String::from));
    let told = [
        unasked.pointer("/learned/trust"),
        unasked.pointer("/learned/next_look/at"),
        unasked.pointer("/learned/next_look/on"),
    ];
    let told = told.map(|value| value.and_then(Value::as_str).unwrap_or_default().to_owned());
    assert_eq!(row[row.len() - 3..], told);
}

#[test]
fn fahrenheit_and_celsius_give_one_answer() {
    let folder = Folder::new("units");
    let sheet = |unit: &str, values: [f64; 5]| {
        let mut text = format!(
            "at,event,feedstock,mass_kg,temperature_{unit}\n2026-03-20,addition,grass_mowings,300,\n"
        );
        for (index, value) in values.iter().enumerate() {
            writeln!(text, "2026-03-{},reading,,,{value}", 22 + 2 * index).unwrap();
        }
        text
    };
    let answers: Vec<String> =
        [("c", [40.0, 55.0, 60.0, 50.0, 45.0]), ("f", [104.0, 131.0, 140.0, 122.0, 113.0])]
            .into_iter()
            .map(|(unit, values)| {
                folder.write("heap.csv", sheet(unit, values));
                let arguments =
                    [&["estimate", "heap.csv", "--to", "ndjson", "--as-of", "2026-06-01"], &SHEET_FLAGS[..]]
                        .concat();
                served(&baycast(&folder, &arguments, b""))
            })
            .collect();
    assert_eq!(answers[0], answers[1]);
    folder.write("heap.csv", sheet("c", [40.0, 55.0, 60.0, 50.0, 20.0]));
    let arguments =
        [&["estimate", "heap.csv", "--to", "ndjson", "--as-of", "2026-06-01"], &SHEET_FLAGS[..]].concat();
    assert_ne!(served(&baycast(&folder, &arguments, b"")), answers[0], "readings do count");
}

#[test]
fn the_service_gives_the_same_numbers() {
    let folder = Folder::new("same-numbers");
    let one = history("spring", &spring());
    folder.write("spring.json", one.to_string());
    let local =
        estimates(&served(&baycast(&folder, &["estimate", "spring.json", "--to", "ndjson"], b""))).remove(0);
    let server = crate::server::Server::start();
    let remote: Value = serde_json::from_str(&server.post_json("/v1/estimates", &one.to_string())).unwrap();
    assert_eq!(local, remote);
}
