//! The histories of `tests/scenarios`.

use std::fs;

use baycast_model::history::History;
use baycast_model::parameters::Parameters;
use baycast_model::timeline::Timeline;
use serde_json::{Value, json};

use crate::binary::repository;

/// A named history and the days it is compared at.
pub struct Scenario {
    /// The file's name.
    pub name: String,
    /// What stands in it, in order.
    pub timeline: Timeline,
    /// Days since 1970-01-01T00:00Z.
    pub days: Vec<f64>,
    history: Value,
}

impl Scenario {
    /// Reads one, to be compared at every 06:00 UTC from its first event to its end.
    fn read(name: String, text: &str) -> Self {
        let history: History = serde_json::from_str(text).unwrap_or_else(|error| panic!("{name}: {error}"));
        assert!(history.as_of.is_some(), "{name} says when it is made for");
        let timeline = Timeline::new(&history, jiff::civil::date(2026, 1, 1))
            .unwrap_or_else(|problems| panic!("{name}: {problems:?}"));
        let (first, last) = (timeline.start.ceil() as i32, timeline.until.floor() as i32);
        assert!((120..=366).contains(&(last - first)), "{name} lasts {} days", last - first);
        let days = (first..last).map(|day| f64::from(day) + 0.25).collect();
        let history = serde_json::from_str(text).expect("what was read once can be read again");
        Self { name, timeline, days, history }
    }

    /// The line that the reference reads.
    pub fn question(&self) -> Value {
        json!({
            "parameters": Parameters::default(),
            "feedstocks": baycast_model::default_feedstocks(),
            "history": self.history,
            "days": self.days,
        })
    }
}

/// Every scenario, by name.
pub fn all() -> Vec<Scenario> {
    let folder = repository().join("tests/scenarios");
    let mut files: Vec<_> = fs::read_dir(folder)
        .expect("the scenarios are there")
        .map(|entry| entry.expect("an entry can be read").path())
        .collect();
    files.sort();
    files
        .iter()
        .map(|path| {
            let name = path.file_stem().expect("a file has a name").to_string_lossy().into_owned();
            Scenario::read(name, &fs::read_to_string(path).expect("a scenario can be read"))
        })
        .collect()
}
