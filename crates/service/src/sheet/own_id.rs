//! The id of a row that gives none: made of what the row says, so that the same sheet sent again adds nothing.
//!
//! It names the moment, the kind of event, and what tells events of a kind apart: a reading's zone and depth, an
//! addition's feedstock, a merge's source. Rows of one batch that agree in all of that are counted, so that two barrow
//! loads of straw on one day are two. What is not in it (a temperature, an amount) can be corrected: the row that says it
//! anew takes the place of the one before. Where a day's rows come in several sheets, give them times or an `id`.

use std::collections::HashMap;

use baycast_model::history::{Event, Zone};

use crate::hash::sha256_hex;

/// Longest id that is kept, characters.
const LONGEST: usize = 128;

/// Counts equal rows of a sheet.
#[derive(Debug, Default)]
pub struct OwnIds {
    seen: HashMap<(String, String), u32>,
}

impl OwnIds {
    /// Gives the event an id where it has none.
    pub fn give(&mut self, batch: &str, event: &mut Event) {
        if event.id.is_some() {
            return;
        }
        let key = key(event);
        let count = self.seen.entry((batch.to_owned(), key.clone())).or_default();
        *count += 1;
        let id = if *count == 1 { key } else { format!("{key} #{count}") };
        event.id = Some(if id.chars().count() <= LONGEST { id } else { sha256_hex(&id) });
    }
}

/// What an event says of itself besides what may be corrected.
fn key(event: &Event) -> String {
    let mut words = vec![event.at.to_string()];
    words.extend(event.details().iter().map(ToString::to_string));
    if let Some(reading) = &event.reading {
        words.extend(reading.zone.map(|zone| match zone {
            Zone::Core => "core".to_owned(),
            Zone::Edge => "edge".to_owned(),
        }));
        words.extend(reading.depth_m.map(|depth_m| format!("{depth_m} m")));
    }
    words.extend(event.addition.as_ref().map(|addition| addition.feedstock.clone()));
    words.extend(event.merge.as_ref().map(|merge| merge.source.clone()));
    words.join(" ")
}

#[cfg(test)]
mod tests {
    use baycast_model::history::{Addition, Reading};

    use super::*;

    fn id(ids: &mut OwnIds, batch: &str, mut event: Event) -> String {
        ids.give(batch, &mut event);
        event.id.unwrap()
    }

    fn reading(temperature_c: f64, zone: Option<Zone>, depth_m: Option<f64>) -> Event {
        let reading = Reading { temperature_c: Some(temperature_c), zone, depth_m, ..Reading::default() };
        Event { reading: Some(reading), ..Event::at("2026-04-08".parse().unwrap()) }
    }

    #[test]
    fn equal_rows_are_counted_and_what_may_be_corrected_is_left_out() {
        let mut ids = OwnIds::default();
        for (batch, event, expected) in [
            ("one", reading(58.0, None, None), "2026-04-08 reading"),
            ("one", reading(61.0, None, None), "2026-04-08 reading #2"),
            ("two", reading(58.0, None, None), "2026-04-08 reading"),
            ("one", reading(58.0, Some(Zone::Edge), Some(0.3)), "2026-04-08 reading edge 0.3 m"),
        ] {
            assert_eq!(id(&mut ids, batch, event), expected);
        }
    }

    #[test]
    fn a_given_id_stays_and_a_long_one_is_shortened() {
        let mut ids = OwnIds::default();
        assert_eq!(id(&mut ids, "one", Event { id: Some("r7".into()), ..reading(58.0, None, None) }), "r7");
        let addition = Addition { feedstock: "x".repeat(128), ..Addition::default() };
        let long = Event { addition: Some(addition), ..Event::at("2026-04-08".parse().unwrap()) };
        let first = id(&mut ids, "one", long.clone());
        assert_eq!(first.len(), 64);
        assert_ne!(id(&mut ids, "one", long.clone()), first);
        assert_eq!(id(&mut OwnIds::default(), "one", long), first);
    }
}
