//! What was done and seen, day by day, the latest first.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use baycast_model::history::{Addition, CoverState, Event, Reading};
use baycast_service::records::{Farm, RecordedEvent};
use jiff::civil::Date;

use crate::{dates, words};

/// Days that are told.
const MOST_DAYS: usize = 40;
/// Readings of a day that are told one by one.
const FEW_READINGS: usize = 3;

/// A day with something to tell.
pub struct Day {
    /// Which.
    pub day: String,
    /// What.
    pub lines: Vec<String>,
}

/// The latest days, and whether there are earlier ones.
pub fn days(
    events: &[RecordedEvent],
    materials: &BTreeMap<String, String>,
    today: Date,
    farm: &Farm,
) -> (Vec<Day>, bool) {
    let zone = dates::zone(&farm.time_zone);
    let mut by_day: BTreeMap<Reverse<Date>, Vec<&Event>> = BTreeMap::new();
    for event in events.iter().filter_map(|recorded| recorded.event.as_ref()) {
        let day = match event.at {
            baycast_model::moment::Moment::Date(day) => day,
            baycast_model::moment::Moment::Instant(at) => zone.to_datetime(at).date(),
        };
        by_day.entry(Reverse(day)).or_default().push(event);
    }
    let more = by_day.len() > MOST_DAYS;
    let told = by_day.into_iter().take(MOST_DAYS).map(|(Reverse(day), events)| {
        let readings: Vec<&Reading> = events.iter().filter_map(|event| event.reading.as_ref()).collect();
        let mut lines = told(&readings);
        lines.extend(events.iter().filter_map(|event| line(event, materials)));
        Day { day: dates::day(day, today), lines }
    });
    (told.collect(), more)
}

/// The readings of a day.
fn told(readings: &[&Reading]) -> Vec<String> {
    let celsius: Vec<f64> = readings.iter().filter_map(|reading| reading.celsius()).collect();
    if celsius.len() > FEW_READINGS {
        let low = celsius.iter().copied().fold(f64::INFINITY, f64::min);
        let high = celsius.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        return vec![words::readings(celsius.len(), low, high)];
    }
    let one = |reading: &&Reading| Some(words::reading(reading.celsius()?, reading.zone(), reading.depth_m));
    readings.iter().filter_map(one).collect()
}

/// What is no reading.
fn line(event: &Event, materials: &BTreeMap<String, String>) -> Option<String> {
    let Event {
        at: _,
        id: _,
        addition,
        reading: _,
        moisture,
        level,
        turn,
        moved,
        merge,
        cover,
        watering,
        firming,
        withdrawal,
    } = event;
    let told = [
        addition.as_ref().map(|own| put_in(own, materials)),
        moisture.and_then(|own| own.percent).map(words::moisture_measured),
        moisture.and_then(|own| own.squeeze).map(words::handful),
        level.map(|own| words::stands_at(own.fill_fraction)),
        turn.map(|_| words::WAS_TURNED.to_owned()),
        moved.as_ref().map(|own| words::moved_into(&own.to_bay)),
        merge.as_ref().map(|own| words::joined(&own.source)),
        cover.map(|own| match own.state {
            CoverState::On => words::WAS_COVERED.to_owned(),
            CoverState::Off => words::WAS_UNCOVERED.to_owned(),
        }),
        watering.map(|own| words::watered(own.litres)),
        firming.map(|_| words::WAS_FIRMED.to_owned()),
        withdrawal.map(|own| own.volume_m3.map_or_else(|| words::ALL_TAKEN_OUT.to_owned(), words::taken_out)),
    ];
    told.into_iter().flatten().next().map(|line| words::sentence(&line))
}

fn put_in(own: &Addition, materials: &BTreeMap<String, String>) -> String {
    let amount = own
        .mass_kg
        .map(words::kilograms)
        .or_else(|| own.volume_m3.map(words::cubic_metres))
        .or_else(|| own.barrows.map(words::barrow_loads))
        .or_else(|| own.filled_to_fraction.map(words::up_to));
    let name = materials.get(&own.feedstock).unwrap_or(&own.feedstock);
    words::put_in(name, amount.as_deref(), own.preparation)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn recorded(event: serde_json::Value) -> RecordedEvent {
        RecordedEvent {
            id: String::new(),
            external_id: None,
            event: Some(serde_json::from_value(event).expect("an event")),
            supersedes: None,
            recorded_at: jiff::Timestamp::UNIX_EPOCH,
            recorded_by: String::new(),
        }
    }

    #[test]
    fn a_day_is_the_farms_and_the_latest_comes_first() {
        let farm = r#"{"id":"f","site":{"latitude_deg":52},"time_zone":"Europe/London"}"#;
        let farm: Farm = serde_json::from_str(farm).expect("a farm");
        let mut events = vec![
            recorded(serde_json::json!({ "at": "2026-06-30T23:30:00Z", "turn": {} })),
            recorded(
                serde_json::json!({ "at": "2026-07-02", "addition": { "feedstock": "straw", "barrows": 2 } }),
            ),
        ];
        events.extend((0..5).map(|hour| {
            let at = format!("2026-07-01T0{hour}:00:00Z");
            recorded(serde_json::json!({ "at": at, "reading": { "temperature_c": 50 + hour } }))
        }));
        let names = BTreeMap::from([("straw".to_owned(), "wheat straw".to_owned())]);
        let (days, more) = days(&events, &names, jiff::civil::date(2026, 7, 2), &farm);
        let told: Vec<_> = days.iter().map(|day| (day.day.as_str(), day.lines.join(" / "))).collect();
        assert_eq!(
            told,
            [
                ("2 Jul", "2 barrows of wheat straw put in.".to_owned()),
                ("1 Jul", "5 readings, 50 to 54 °C / Turned.".to_owned()),
            ]
        );
        assert!(!more);
    }
}
