//! One row of a sheet of events: the columns that its kind of event uses, and no others.

use std::fmt;

use baycast_model::history::{
    Addition, Cover, Event, Firming, MoistureNote, Move, Reading, Turn, Watering, Withdrawal,
};
use baycast_model::moment::Moment;
use serde::de::DeserializeOwned;

use super::fault::Fault;
use super::word;

/// Every column, in the order that the documentation gives.
pub const COLUMNS: [&str; 21] = [
    "batch",
    "at",
    "event",
    "feedstock",
    "mass_kg",
    "volume_m3",
    "barrows",
    "filled_to_fraction",
    "moisture_fraction",
    "preparation",
    "temperature_c",
    "temperature_f",
    "depth_m",
    "zone",
    "ambient_c",
    "percent",
    "squeeze",
    "to_bay",
    "state",
    "litres",
    "id",
];

/// The kinds of event that a row can tell of.
const KINDS: &str = "addition, reading, moisture, turn, move, cover, watering, firming, withdrawal";

/// The filled cells of one row, taken out one by one as its event uses them.
pub struct Row<'a> {
    file: &'a str,
    line: u64,
    cells: Vec<(&'a str, &'a str)>,
    faults: Vec<Fault>,
}

impl<'a> Row<'a> {
    /// A row of cells under their columns' names; empty cells are left out.
    pub fn new(file: &'a str, line: u64, cells: impl Iterator<Item = (&'a str, &'a str)>) -> Self {
        let cells = cells.map(|(column, text)| (column, text.trim())).filter(|(_, text)| !text.is_empty());
        Self { file, line, cells: cells.collect(), faults: Vec::new() }
    }

    /// Takes the text under `column`.
    pub fn text(&mut self, column: &str) -> Option<&'a str> {
        let index = self.cells.iter().position(|(name, _)| *name == column)?;
        Some(self.cells.swap_remove(index).1)
    }

    /// The event, or everything that is wrong with the row.
    pub fn event(mut self) -> Result<Event, Vec<Fault>> {
        let at = self.moment();
        let kind = self.text("event").unwrap_or_default();
        let id = self.text("id").map(str::to_owned);
        let mut event = Event::at(at);
        event.id = id;
        match kind {
            "addition" => event.addition = Some(self.addition()),
            "reading" => event.reading = Some(self.reading()),
            "moisture" => {
                event.moisture =
                    Some(MoistureNote { percent: self.number("percent"), squeeze: self.word("squeeze") });
            }
            "turn" => event.turn = Some(Turn {}),
            "move" => event.moved = Some(Move { to_bay: self.required("to_bay", "a bay's id").into() }),
            "cover" => {
                if let Some(state) = self.word("state") {
                    event.cover = Some(Cover { state });
                } else if self.faults.is_empty() {
                    self.wrong("state", "nothing", "on or off");
                }
            }
            "watering" => {
                if let Some(litres) = self.number("litres") {
                    event.watering = Some(Watering { litres });
                } else if self.faults.is_empty() {
                    self.wrong("litres", "nothing", "0 to 20000");
                }
            }
            "firming" => event.firming = Some(Firming {}),
            "withdrawal" => event.withdrawal = Some(Withdrawal { volume_m3: self.number("volume_m3") }),
            "" => self.wrong("event", "nothing", KINDS),
            other => {
                self.wrong("event", format_args!("`{other}`"), KINDS);
                return Err(self.faults);
            }
        }
        if !kind.is_empty() {
            for (column, text) in std::mem::take(&mut self.cells) {
                self.wrong(column, format_args!("`{text}`"), &format!("nothing, for a row of {kind}"));
            }
        }
        if self.faults.is_empty() { Ok(event) } else { Err(self.faults) }
    }

    fn addition(&mut self) -> Addition {
        Addition {
            feedstock: self.required("feedstock", "a feedstock's id").into(),
            mass_kg: self.number("mass_kg"),
            volume_m3: self.number("volume_m3"),
            barrows: self.number("barrows"),
            filled_to_fraction: self.number("filled_to_fraction"),
            moisture_fraction: self.number("moisture_fraction"),
            temperature_c: self.number("temperature_c"),
            preparation: self.word("preparation").unwrap_or_default(),
        }
    }

    fn reading(&mut self) -> Reading {
        Reading {
            temperature_c: self.number("temperature_c"),
            temperature_f: self.number("temperature_f"),
            depth_m: self.number("depth_m"),
            zone: self.word("zone"),
            ambient_c: self.number("ambient_c"),
        }
    }

    /// When; the epoch, and a fault, where that cannot be told.
    fn moment(&mut self) -> Moment {
        let text = self.required("at", "a date or time");
        text.parse().unwrap_or_else(|_| {
            if !text.is_empty() {
                let accepted = "a date like 2026-04-30 or a time like 2026-04-30T18:00:00Z";
                self.wrong("at", format_args!("`{text}`"), accepted);
            }
            Moment::Date(jiff::civil::Date::constant(1970, 1, 1))
        })
    }

    fn required(&mut self, column: &str, accepted: &str) -> &'a str {
        self.text(column).unwrap_or_else(|| {
            self.wrong(column, "nothing", accepted);
            ""
        })
    }

    fn number(&mut self, column: &str) -> Option<f64> {
        let text = self.text(column)?;
        let number = text.parse().ok().filter(|number: &f64| number.is_finite());
        if number.is_none() {
            self.wrong(column, format_args!("`{text}`"), "a number like 12.5");
        }
        number
    }

    fn word<T: DeserializeOwned>(&mut self, column: &str) -> Option<T> {
        let text = self.text(column)?;
        word::parse(text).map_err(|accepted| self.wrong(column, format_args!("`{text}`"), &accepted)).ok()
    }

    fn wrong(&mut self, column: &str, given: impl fmt::Display, accepted: &str) {
        self.faults.push(Fault::value(self.file, Some(self.line), column, given, accepted));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn event(cells: &[(&'static str, &'static str)]) -> Result<Event, String> {
        Row::new("a.csv", 7, cells.iter().copied())
            .event()
            .map_err(|faults| faults.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))
    }

    #[test]
    fn each_kind_of_event_is_read() {
        let reading =
            event(&[("at", "2026-05-01"), ("event", "reading"), ("temperature_f", "131"), ("zone", "edge")]);
        let reading = reading.unwrap().reading.unwrap();
        assert_eq!((reading.temperature_f, reading.temperature_c), (Some(131.0), None));
        let moved = event(&[("at", "2026-05-01"), ("event", "move"), ("to_bay", "pallet-3")]).unwrap();
        assert_eq!(moved.moved.unwrap().to_bay, "pallet-3");
        let all = event(&[("at", "2026-05-01T07:00:00Z"), ("event", "withdrawal"), ("id", "w1")]).unwrap();
        assert_eq!((all.id.as_deref(), all.withdrawal), (Some("w1"), Some(Withdrawal { volume_m3: None })));
    }

    #[test]
    fn every_wrong_cell_is_named_at_once() {
        let faults = event(&[
            ("at", "1 May"),
            ("event", "reading"),
            ("temperature_c", "NaN"),
            ("zone", "rim"),
            ("mass_kg", "3"),
        ])
        .unwrap_err();
        assert_eq!(
            faults,
            "a.csv:7: at: `1 May` given, accepted: a date like 2026-04-30 or a time like 2026-04-30T18:00:00Z\n\
             a.csv:7: temperature_c: `NaN` given, accepted: a number like 12.5\n\
             a.csv:7: zone: `rim` given, accepted: core or edge\n\
             a.csv:7: mass_kg: `3` given, accepted: nothing, for a row of reading"
        );
    }

    #[test]
    fn what_a_row_must_say_is_asked_for() {
        assert!(event(&[("event", "turn")]).unwrap_err().contains("at: nothing given"));
        assert!(
            event(&[("at", "2026-05-01")]).unwrap_err().contains("event: nothing given, accepted: addition")
        );
        assert!(event(&[("at", "2026-05-01"), ("event", "cover")]).unwrap_err().contains("on or off"));
        assert!(
            event(&[("at", "2026-05-01"), ("event", "merge")]).unwrap_err().contains("event: `merge` given")
        );
    }
}
