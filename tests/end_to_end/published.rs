//! The published temperature series of `tests/series`, and what `baycast estimate` makes of them.

use std::fs;
use std::io::Write;
use std::process::{Command, Stdio};

use baycast_model::moment::Moment;
use serde_json::Value;

use crate::binary::{self, repository};

/// A published series: a sheet, with the bay and the site that it is read with. Sources in `tests/series/README.md`.
pub struct Series {
    pub name: &'static str,
    bay: &'static str,
    site: &'static str,
}

const HEAP_900_KG: &str = "heap: 1.6x1.6x1.0 open_heap roofed soil";
const HEAP_350_KG: &str = "heap: 1.0x1.0x1.0 open_heap roofed soil";
const TIMBER_BIN: &str = "bin: 0.75x0.65x0.8 slatted_timber lidded soil";
const CONTAINER: &str = "cotera2024_container_bay.json";

/// Every series, one a line of the tables in `tests/series/README.md`.
pub const SERIES: [Series; 10] = [
    Series { name: "martins2023_poultry_litter", bay: HEAP_900_KG, site: "martins2023" },
    Series { name: "martins2023_filter_cake", bay: HEAP_900_KG, site: "martins2023" },
    Series { name: "martins2023_chicken_manure", bay: HEAP_900_KG, site: "martins2023" },
    Series { name: "wan2022_garden_and_food", bay: HEAP_350_KG, site: "wan2022_garden_and_food" },
    Series { name: "gaucher2014_timber_bin", bay: TIMBER_BIN, site: "gaucher2014_timber_bin" },
    Series { name: "gaucher2015_timber_bin", bay: TIMBER_BIN, site: "gaucher2015_timber_bin" },
    Series { name: "gaucher2016_timber_bin", bay: TIMBER_BIN, site: "gaucher2016_timber_bin" },
    Series { name: "gaucher2017_timber_bin", bay: TIMBER_BIN, site: "gaucher2017_timber_bin" },
    Series { name: "cotera2024_container_a", bay: CONTAINER, site: "cotera2024_container" },
    Series { name: "cotera2024_container_b", bay: CONTAINER, site: "cotera2024_container" },
];

/// A reading: days since 1970-01-01T00:00Z, and °C.
#[derive(Clone, Copy, Debug)]
pub struct Reading {
    pub day: f64,
    pub temperature_c: f64,
}

/// The cells of a row of a sheet.
fn cells(row: &str) -> Vec<&str> {
    row.split(',').collect()
}

/// Moment of a row of a sheet.
fn moment(row: &str) -> Moment {
    cells(row)[0].parse().unwrap_or_else(|problem| panic!("{row}: {problem}"))
}

/// Moment and temperature of a row of a sheet.
fn warmth(row: &str) -> Reading {
    let temperature_c = cells(row)[4].parse().unwrap_or_else(|_| panic!("{row}: a temperature"));
    Reading { day: moment(row).days(), temperature_c }
}

impl Series {
    /// The sheet as published.
    fn sheet(&self) -> String {
        let path = repository().join("tests/series").join(self.name).with_extension("csv");
        fs::read_to_string(path).unwrap_or_else(|error| panic!("{}: {error}", self.name))
    }

    /// Its readings, in order of time.
    pub fn readings(&self) -> Vec<Reading> {
        let readings: Vec<Reading> =
            self.sheet().lines().filter(|row| row.contains(",reading,")).map(warmth).collect();
        assert!(readings.windows(2).all(|pair| pair[0].day < pair[1].day), "{} is in order", self.name);
        readings
    }

    /// The estimate on the day of reading `on` (counted from 0) that knows the first `known` readings; what was done to the
    /// heap and the air of every day are known throughout. A forecast point a day, to the last reading.
    pub fn estimate(&self, known: usize, on: usize) -> Value {
        let sheet = self.sheet();
        let rows: Vec<&str> = sheet.lines().filter(|row| row.contains(",reading,")).collect();
        let (first, last) = (moment(rows[on]), moment(rows[rows.len() - 1]));
        let kept: Vec<&str> = sheet.lines().filter(|row| !rows[known..].contains(row)).collect();
        let horizon = (last.days() - first.days()).ceil() as u32 + 1;
        let mut baycast = Command::new(binary::path())
            .current_dir(repository().join("tests/series"))
            .args(["estimate", "-", "--from", "csv", "--bay", self.bay])
            .args(["--site", &format!("{}_site.json", self.site), "--feedstocks", "feedstocks.json"])
            .args(["--as-of", &first.date().to_string(), "--horizon-days", &horizon.to_string()])
            .args(["--forecast-step-days", "1", "--to", "json"])
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the binary runs");
        baycast
            .stdin
            .take()
            .expect("a pipe")
            .write_all(kept.join("\n").as_bytes())
            .expect("the sheet is taken");
        let output = baycast.wait_with_output().expect("the binary ends");
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        let estimates: Value = serde_json::from_slice(&output.stdout).expect("JSON");
        estimates[0].clone()
    }

    /// The course of the core in such an estimate, from the moment the heap was built.
    pub fn course(&self, estimate: &Value) -> Course {
        let sheet = self.sheet();
        let built = warmth(sheet.lines().find(|row| row.contains(",addition,")).expect("a heap is built"));
        let start = (built.day, [built.temperature_c; 3]);
        let points = estimate["forecast"].as_array().expect("a forecast").iter().map(|point| {
            let date: Moment = point["date"].as_str().and_then(|date| date.parse().ok()).expect("a date");
            let core = ["p10", "p50", "p90"].map(|part| point["core_c"][part].as_f64().expect("a number"));
            // Values are for the day's end; a date stands for its noon.
            (date.days() + 0.5, core)
        });
        Course { points: std::iter::once(start).chain(points).collect() }
    }
}

/// P10, P50 and P90 of a core over time, °C, on straight lines between the points of a forecast.
pub struct Course {
    points: Vec<(f64, [f64; 3])>,
}

impl Course {
    /// The three at a moment.
    pub fn at(&self, day: f64) -> [f64; 3] {
        let after = self.points.partition_point(|point| point.0 < day).clamp(1, self.points.len() - 1);
        let ((from, early), (until, late)) = (self.points[after - 1], self.points[after]);
        let share = ((day - from) / (until - from)).clamp(0.0, 1.0);
        [0, 1, 2].map(|part| early[part] + share * (late[part] - early[part]))
    }

    /// Day and temperature of the highest point of the middle course up to a day.
    pub fn peak(&self, until: f64) -> Reading {
        let within = self.points.iter().filter(|point| point.0 <= until + 0.5);
        let highest = within.max_by(|one, other| one.1[1].total_cmp(&other.1[1])).expect("a point");
        Reading { day: highest.0, temperature_c: highest.1[1] }
    }
}

/// The warmest of readings, the first of equals.
pub fn warmest(readings: &[Reading]) -> Reading {
    let rising = |one: &&Reading, other: &&Reading| one.temperature_c.total_cmp(&other.temperature_c);
    *readings.iter().rev().max_by(rising).expect("a reading")
}

/// Root mean square.
pub fn rms(errors: &[f64]) -> f64 {
    (errors.iter().map(|error| error * error).sum::<f64>() / errors.len() as f64).sqrt()
}

/// Mean.
pub fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}
