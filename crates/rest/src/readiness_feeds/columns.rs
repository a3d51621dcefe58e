//! The columns of the sheet, which are the single values too.

use baycast_service::readiness::{BatchReadiness, Readiness, WindowReadiness};
use jiff::Timestamp;
use jiff::civil::Date;
use serde::Serialize;

use super::quantities::Quantity;

/// What stands in a cell.
#[derive(Clone, Debug, PartialEq)]
pub enum Cell {
    /// Nothing: it is not known, or lies beyond the horizon.
    Empty,
    /// Text, some of which people wrote.
    Text(String),
    /// A number.
    Number(f64),
    /// A day.
    Day(Date),
    /// An instant, to the second.
    Instant(Timestamp),
}

/// What a column is read from.
#[derive(Clone, Copy)]
pub enum Source {
    /// The batch: the same in each of its rows.
    Batch(fn(&Readiness, &BatchReadiness) -> Cell),
    /// The window of the row.
    Window(fn(&WindowReadiness) -> Cell),
}

/// The columns in their order, which stays: a new one is added at the end.
pub const COLUMNS: [(&str, Source); 25] = [
    ("farm", Source::Batch(|farm, _| Cell::Text(farm.farm.clone()))),
    ("batch", Source::Batch(|_, batch| Cell::Text(batch.batch.clone()))),
    ("name", Source::Batch(|_, batch| Cell::Text(batch.name.clone()))),
    ("bay", Source::Batch(|_, batch| Cell::Text(batch.bay.clone()))),
    ("as_of", Source::Batch(|_, batch| Cell::Day(batch.as_of))),
    ("stage", Source::Batch(|_, batch| Cell::Text(word(&batch.stage)))),
    ("use", Source::Window(|window| Cell::Text(word(&window.for_use)))),
    ("opens_p10", Source::Window(|window| day(window.opens.p10))),
    ("opens_p50", Source::Window(|window| day(window.opens.p50))),
    ("opens_p90", Source::Window(|window| day(window.opens.p90))),
    ("best_by_p10", Source::Window(|window| day(window.best_by.p10))),
    ("best_by_p50", Source::Window(|window| day(window.best_by.p50))),
    ("best_by_p90", Source::Window(|window| day(window.best_by.p90))),
    ("open_now_probability", Source::Window(|window| fraction(Some(window.open_now_probability)))),
    ("volume_at_opening_m3", Source::Window(|window| volume(window.volume_at_opening_m3))),
    ("volume_m3", Source::Batch(|_, batch| volume(batch.now.map(|heap| heap.volume_m3.p50)))),
    ("fill_fraction", Source::Batch(|_, batch| fraction(batch.now.map(|heap| heap.fill_fraction)))),
    ("core_c", Source::Batch(|_, batch| temperature(batch.now.map(|heap| heap.core_c.p50)))),
    ("edge_c", Source::Batch(|_, batch| temperature(batch.now.map(|heap| heap.edge_c.p50)))),
    (
        "moisture_fraction",
        Source::Batch(|_, batch| fraction(batch.now.map(|heap| heap.moisture_fraction.p50))),
    ),
    ("maturity_index", Source::Batch(|_, batch| fraction(batch.maturity_index.map(|index| index.p50)))),
    ("turn_by", Source::Batch(|_, batch| day(batch.turn.as_ref().map(|turn| turn.by)))),
    ("next_action", Source::Batch(|_, batch| text(batch.advice.first().map(|advice| &advice.action)))),
    ("next_reason", Source::Batch(|_, batch| text(batch.advice.first().map(|advice| &advice.reason)))),
    ("changed_at", Source::Batch(|_, batch| Cell::Instant(batch.changed_at))),
];

/// The column of a name. `opens` and `best_by` are their middles.
pub fn column(name: &str) -> Option<Source> {
    let name = match name {
        "opens" => "opens_p50",
        "best_by" => "best_by_p50",
        other => other,
    };
    COLUMNS.iter().find(|(own, _)| *own == name).map(|(_, source)| *source)
}

impl Source {
    /// What stands in the column, in the row of a batch and a window.
    pub fn cell(self, farm: &Readiness, batch: &BatchReadiness, window: &WindowReadiness) -> Cell {
        match self {
            Self::Batch(of) => of(farm, batch),
            Self::Window(of) => of(window),
        }
    }
}

impl std::fmt::Display for Cell {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Empty => Ok(()),
            Self::Text(text) => f.write_str(text),
            Self::Number(number) => write!(f, "{number}"),
            Self::Day(day) => write!(f, "{day}"),
            Self::Instant(at) => write!(f, "{at:.0}"),
        }
    }
}

/// The snake-case word that an enum has in JSON.
pub fn word(member: &impl Serialize) -> String {
    match serde_json::to_value(member) {
        Ok(serde_json::Value::String(word)) => word,
        _ => String::new(),
    }
}

fn text(text: Option<&String>) -> Cell {
    text.map_or(Cell::Empty, |text| Cell::Text(text.clone()))
}

fn day(day: Option<Date>) -> Cell {
    day.map_or(Cell::Empty, Cell::Day)
}

fn volume(m3: Option<f64>) -> Cell {
    m3.map_or(Cell::Empty, |m3| Cell::Number(Quantity::VolumeM3(m3).value()))
}

fn temperature(c: Option<f64>) -> Cell {
    c.map_or(Cell::Empty, |c| Cell::Number(Quantity::TemperatureC(c).value()))
}

fn fraction(fraction: Option<f64>) -> Cell {
    fraction.map_or(Cell::Empty, |fraction| Cell::Number(Quantity::Fraction(fraction).value()))
}
