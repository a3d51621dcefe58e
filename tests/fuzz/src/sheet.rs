//! A sheet of notes.

use baycast_model::history::Event;
use baycast_service::parse;
use baycast_service::sheet::{Grammar, Names, OwnIds, Row, Sheet, SheetDates, SheetUnits};
use jiff::tz::TimeZone;

use super::told;

/// Longest id that the records keep, characters.
const LONGEST_ID: usize = 128;

/// Each row is told what is wrong with it, by its columns; or its events are as good as if they had come as JSON.
pub fn ask(text: &[u8]) {
    for (delimiter, grammar) in [(None, of_a_farm()), (Some(b'\t'), of_a_file())] {
        match Sheet::open(text, delimiter) {
            Ok(sheet) => look_through(&sheet, text, &grammar),
            Err(problems) => {
                assert!(!problems.0.is_empty(), "an error without a problem");
                problems.0.iter().for_each(told::whole);
            }
        }
    }
}

fn look_through(sheet: &Sheet<'_>, text: &[u8], grammar: &Grammar) {
    let lines = 1 + text.iter().filter(|byte| matches!(byte, b'\r' | b'\n')).count() as u64;
    let (mut ids, mut above) = (OwnIds::default(), 0);
    for Row { line, batch, events, .. } in sheet.rows(grammar) {
        assert!(above < line && line <= lines, "line {line} after {above} of {lines}");
        above = line;
        match events {
            Ok(noted) => {
                assert!(!noted.is_empty(), "line {line} tells of nothing");
                let batch = batch.map(|name| name.text).unwrap_or_default();
                for mut event in noted.into_iter().map(|noted| noted.event) {
                    let given = event.id.is_some();
                    ids.give(&batch, &mut event);
                    let length = event.id.as_ref().map_or(0, |id| id.chars().count());
                    assert!(given || (1..=LONGEST_ID).contains(&length), "an id of {length} characters");
                    assert_eq!(event.details().len(), 1, "{event:?}");
                    let written = serde_json::to_vec(&event).expect("an event can be written");
                    assert_eq!(parse::json::<Event>(&written).as_ref(), Ok(&event));
                }
            }
            Err(problems) => {
                assert!(!problems.is_empty(), "line {line} is refused for nothing");
                problems.iter().for_each(told::whole);
            }
        }
    }
}

/// As a farm's records have it: only what is there can be named.
fn of_a_farm() -> Grammar {
    let own = |what, names: &[(&str, &str)]| {
        Names::new(what, names.iter().map(|(id, shown)| ((*id).to_owned(), (*shown).to_owned())))
    };
    Grammar {
        dates: SheetDates::DayFirst,
        units: SheetUnits::Celsius,
        zone: TimeZone::get("Europe/London").ok(),
        barrow_m3: Some(0.09),
        bays: Some(own("a bay's id", &[("1", ""), ("timber-2", "")])),
        batches: Some(own("a batch's id or name", &[("spring", "Spring, first"), ("heap", "")])),
        ..of_a_file()
    }
}

/// As it is read without records: any name is taken.
fn of_a_file() -> Grammar {
    let feedstocks = baycast_model::default_feedstocks().into_iter().map(|own| (own.id, own.name));
    Grammar {
        dates: SheetDates::Iso,
        units: SheetUnits::Fahrenheit,
        zone: None,
        barrow_m3: None,
        feedstocks: Names::new("a feedstock's id or name", feedstocks),
        bays: None,
        batches: None,
    }
}
