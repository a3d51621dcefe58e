//! Published temperature series, as sheets through `baycast estimate` (sources in `tests/series/README.md`).

use std::fs;
use std::process::{Command, Output};

use serde_json::Value;

use crate::binary::{self, repository};

/// A series and the base of its heap.
const SERIES: [(&str, &str); 2] = [
    ("martins2023_poultry_litter", "heap: 1.6x1.6x1.0 open_heap roofed soil"),
    ("wan2022_garden_and_food", "heap: 1.0x1.0x1.0 open_heap roofed soil"),
];

/// Runs a sheet of `series` through the command line, daily forecast, as JSON.
fn estimate(series: &str, bay: &str, sheet: &str, as_of: &str) -> Value {
    let folder = repository().join("tests/series");
    let output: Output = Command::new(binary::path())
        .current_dir(&folder)
        .args(["estimate", sheet, "--feedstocks", "feedstocks.json", "--bay", bay, "--as-of", as_of])
        .args(["--site", &format!("{series}_site.json"), "--forecast-step-days", "1", "--to", "json"])
        .output()
        .expect("the binary runs");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let estimates: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    estimates[0].clone()
}

/// Day and temperature of each reading of a sheet.
fn readings(sheet: &str) -> Vec<(String, f64)> {
    let rows = sheet.lines().filter(|line| line.contains(",reading,"));
    rows.map(|row| {
        let cells: Vec<&str> = row.split(',').collect();
        (cells[0][..10].to_owned(), cells[4].parse().expect("a temperature"))
    })
    .collect()
}

/// Root mean square and greatest difference between an estimate's core and the field, °C, and both peaks.
fn difference(estimate: &Value, field: &[(String, f64)]) -> (f64, f64, f64, f64) {
    let core: std::collections::HashMap<&str, f64> = estimate["forecast"]
        .as_array()
        .expect("a forecast")
        .iter()
        .map(|point| {
            (point["date"].as_str().expect("a date"), point["core_c"]["p50"].as_f64().expect("a number"))
        })
        .collect();
    let differences: Vec<f64> =
        field.iter().filter_map(|(day, seen)| Some((core.get(day.as_str())? - seen).abs())).collect();
    assert!(differences.len() + 1 >= field.len(), "a forecast for every reading");
    let square = differences.iter().map(|d| d * d).sum::<f64>() / differences.len() as f64;
    let highest = |values: &mut dyn Iterator<Item = f64>| values.fold(f64::NEG_INFINITY, f64::max);
    (
        square.sqrt(),
        highest(&mut differences.iter().copied()),
        highest(&mut field.iter().map(|(_, seen)| *seen)),
        highest(&mut core.into_values()),
    )
}

#[test]
fn published_series_run_as_they_are() {
    for (series, bay) in SERIES {
        let path = repository().join(format!("tests/series/{series}.csv"));
        let sheet = fs::read_to_string(&path).expect("the series can be read");
        let field = readings(&sheet);
        let last = field.last().expect("readings").0.clone();

        // Without its readings: a forecast from the materials alone.
        let blind = std::env::temp_dir().join(format!("baycast-{}-{series}.csv", std::process::id()));
        let unread: Vec<&str> = sheet.lines().filter(|line| !line.contains(",reading,")).collect();
        fs::write(&blind, unread.join("\n")).expect("a file can be written");
        let before = estimate(series, bay, blind.to_str().expect("a path"), &last);
        let after = estimate(series, bay, path.to_str().expect("a path"), "last");
        fs::remove_file(&blind).expect("the file is there");

        assert_eq!(before["thermal_time"]["measured_fraction"], 0.0);
        let measured = after["thermal_time"]["measured_fraction"].as_f64().expect("a number");
        assert!(measured > 0.8, "{series}: readings cover {measured:.2}");
        let (rms_before, worst_before, field_peak, peak_before) = difference(&before, &field);
        let (rms_after, worst_after, _, peak_after) = difference(&after, &field);
        println!(
            "{series}: field peak {field_peak:.1} °C; from materials alone peak {peak_before:.1}, off by {rms_before:.1} rms, \
             {worst_before:.1} at worst; with readings peak {peak_after:.1}, off by {rms_after:.1} rms, {worst_after:.1} at worst"
        );
        assert!(rms_after < rms_before, "{series}: readings must bring the estimate closer");
    }
}
