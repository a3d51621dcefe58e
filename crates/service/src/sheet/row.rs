//! One row of a sheet: the events that it tells of, or everything that is wrong with it.

use baycast_model::history::Event;
use baycast_model::moment::Moment;
use baycast_model::problem::Problem;

use super::cells::{Cells, Place};
use super::field::Field;
use super::kind::{KINDS, Kind};
use super::{details, shown, when};

/// An event, and where in its row each of its values stood.
#[derive(Clone, Debug, PartialEq)]
pub struct Noted {
    /// The event.
    pub event: Event,
    /// Where its values stood.
    pub places: Places,
}

/// Where the values of an event stood.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Places(Vec<Place>);

impl Places {
    /// The places of an event's values.
    pub(super) fn new(places: Vec<Place>) -> Self {
        Self(places)
    }

    /// A problem with the value at `below` in the event, told by its column; the last part of the pointer where no cell
    /// is to blame.
    #[must_use]
    pub fn told(&self, below: &str, problem: &Problem) -> Problem {
        let Problem { pointer: _, value, accepted } = problem.clone();
        match self.0.iter().find(|place| place.below == below) {
            Some(Place { column, si: Some(si), .. }) => Problem {
                pointer: column.clone(),
                value: format!("{value} {si}"),
                accepted: format!("{accepted} {si}"),
            },
            Some(Place { column, .. }) => Problem { pointer: column.clone(), value, accepted },
            None => {
                let name = below.rsplit('/').next().unwrap_or_default().to_owned();
                Problem { pointer: name, value, accepted }
            }
        }
    }
}

/// The events of a row, one where it names a kind, and else one for each that its columns tell of.
pub fn events(mut cells: Cells<'_>) -> Result<Vec<Noted>, Vec<Problem>> {
    let at = moment(&mut cells);
    let id = cells.take(Field::Id).map(|(_, text)| text);
    let stated = cells.take(Field::Event);
    let kinds = match stated {
        Some(cell) => {
            let Some(kind) = Kind::of(cell.1) else {
                cells.wrong_cell(cell, KINDS);
                return Err(cells.faults);
            };
            vec![kind]
        }
        None => kinds(&mut cells),
    };
    let mut noted = Vec::new();
    for kind in &kinds {
        details::add(&mut cells, *kind, at, &mut noted);
    }
    if kinds.is_empty() && cells.faults.is_empty() {
        cells.wrong("event", "nothing", KINDS);
    }
    if !kinds.is_empty() {
        let told: Vec<&str> = kinds.iter().map(|kind| kind.name()).collect();
        for cell in cells.rest() {
            if cells.is_no(cell) {
                continue;
            }
            let nothing = format!("nothing, for a row of {}", told.join(" and "));
            match cells.field_of(cell.0) {
                Some(Field::Level | Field::Height) if !kinds.contains(&Kind::Level) => {
                    cells.wrong_cell(cell, format!("{nothing}; the level needs a row of its own"));
                }
                _ => cells.wrong_cell(cell, nothing),
            }
        }
    }
    for (count, own) in (1..).zip(&mut noted) {
        own.event.id = id.map(|id| if count == 1 { id.to_owned() } else { format!("{id} #{count}") });
    }
    if cells.faults.is_empty() { Ok(noted) } else { Err(cells.faults) }
}

/// When; the epoch, and a fault, where that cannot be told.
fn moment(cells: &mut Cells<'_>) -> Moment {
    let epoch = Moment::Date(jiff::civil::Date::constant(1970, 1, 1));
    let day = cells.take(Field::At);
    let time = cells.take(Field::Time).map(|(_, text)| text);
    let Some(day) = day else {
        cells.wrong("at", "nothing", "a date or time");
        return epoch;
    };
    cells.place(day.0, "/at", None);
    let grammar = cells.grammar;
    when::read(day.1, time, grammar.dates, grammar.zone.as_ref()).unwrap_or_else(|accepted| {
        match time {
            Some(time) => {
                let given = shown(&format!("{} {time}", day.1));
                cells.wrong(cells.column(day.0), given, accepted);
            }
            None => cells.wrong_cell(day, accepted),
        }
        epoch
    })
}

/// What the filled columns of a row tell of that names no kind.
fn kinds(cells: &mut Cells<'_>) -> Vec<Kind> {
    let any = |cells: &Cells<'_>, fields: &[Field]| fields.iter().any(|field| cells.has(*field));
    let mut kinds = Vec::new();
    let amounts = [Field::Amount, Field::Mass, Field::Volume, Field::Barrows, Field::FilledTo];
    let addition = cells.has(Field::Feedstock) || any(cells, &amounts);
    // Beside what raises or lowers the heap it is not told whether the level was seen before or after it.
    let raised = addition || any(cells, &[Field::ToBay, Field::Source, Field::TakenOut]);
    let level = any(cells, &[Field::Level, Field::Height]) && !raised;
    let mut note = |tells: bool, kind| kinds.extend(tells.then_some(kind));
    // First, since an addition takes a temperature for the material's own.
    note(cells.any(|field| matches!(field, Field::Temperature(..))), Kind::Reading);
    note(addition, Kind::Addition);
    note(cells.has(Field::Squeeze) || cells.has(Field::Moisture) && !addition, Kind::Moisture);
    note(level, Kind::Level);
    note(cells.yes(Field::Turned) == Some(true), Kind::Turn);
    note(cells.has(Field::ToBay), Kind::Move);
    note(cells.has(Field::Source), Kind::Merge);
    note(cells.has(Field::Cover), Kind::Cover(None));
    note(cells.has(Field::Water) || cells.has(Field::Litres) && !addition, Kind::Watering);
    note(cells.yes(Field::Firmed) == Some(true), Kind::Firming);
    note(cells.has(Field::TakenOut), Kind::Withdrawal);
    kinds
}
