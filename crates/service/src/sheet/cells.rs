//! The filled cells of one row, taken out one by one as its events use them.

use std::fmt;

use baycast_model::problem::Problem;
use serde::de::DeserializeOwned;

use super::column::Column;
use super::field::Field;
use super::grammar::Grammar;
use super::unit::{Quantity, Unit, billionth};
use super::{number, shown, word};

/// Cells that people fill to say that there is nothing.
const NOTHING: [&str; 4] = ["-", "–", "—", "n/a"];

/// A share above this is in percent where nobody says so: nothing is filled to twice its height.
const LARGEST_SHARE: f64 = 2.0;

/// Where a value of an event stood.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Place {
    /// JSON Pointer below the event.
    pub below: &'static str,
    /// The column's name.
    pub column: String,
    /// What the value is in, where the cell is in another unit.
    pub si: Option<&'static str>,
}

/// Filled cells, and what is wrong with those that were taken.
pub struct Cells<'a> {
    pub(super) grammar: &'a Grammar,
    columns: &'a [Column],
    delimiter: u8,
    filled: Vec<(usize, &'a str)>,
    /// Everything that is wrong with the row.
    pub faults: Vec<Problem>,
    /// Where the values of the event at hand stood.
    pub places: Vec<Place>,
}

impl<'a> Cells<'a> {
    /// The cells of a row under its columns; what is empty, or in a column of notes, is left out.
    pub fn new(
        grammar: &'a Grammar,
        columns: &'a [Column],
        delimiter: u8,
        cells: impl Iterator<Item = &'a str>,
    ) -> Self {
        let filled = cells.map(str::trim).enumerate();
        let filled = filled.filter(|(index, text)| {
            let noted = columns.get(*index).is_some_and(|column| column.field == Field::Notes);
            !text.is_empty() && !noted && !NOTHING.contains(text)
        });
        let filled = filled.collect();
        Self { grammar, columns, delimiter, filled, faults: Vec::new(), places: Vec::new() }
    }

    /// Whether nothing is filled, or left.
    pub fn is_empty(&self) -> bool {
        self.filled.is_empty()
    }

    /// Whether a column of this field is filled.
    pub fn has(&self, field: Field) -> bool {
        self.any(|own| own == field)
    }

    /// Whether a column is filled whose field is wanted.
    pub fn any(&self, wanted: impl Fn(Field) -> bool) -> bool {
        self.filled.iter().any(|(index, _)| self.field_of(*index).is_some_and(&wanted))
    }

    /// The text of a cell that is not taken yet.
    pub fn peek(&self, field: Field) -> Option<&'a str> {
        let found = self.filled.iter().find(|(index, _)| self.field_of(*index) == Some(field));
        found.map(|(_, text)| *text)
    }

    /// The field of the column at an index.
    pub fn field_of(&self, index: usize) -> Option<Field> {
        self.columns.get(index).map(|column| column.field)
    }

    /// The column at an index.
    pub fn column(&self, index: usize) -> &'a str {
        self.columns.get(index).map_or("", |column| column.name.as_str())
    }

    /// Takes a cell out, with its column's index.
    pub fn take(&mut self, field: Field) -> Option<(usize, &'a str)> {
        self.take_if(|own| own == field)
    }

    /// Takes the first cell out whose field is wanted.
    pub fn take_if(&mut self, wanted: impl Fn(Field) -> bool) -> Option<(usize, &'a str)> {
        let place = self.filled.iter().position(|(index, _)| self.field_of(*index).is_some_and(&wanted))?;
        Some(self.filled.remove(place))
    }

    /// Takes everything that is left.
    pub fn rest(&mut self) -> Vec<(usize, &'a str)> {
        std::mem::take(&mut self.filled)
    }

    /// Notes where a value of the event at hand stood.
    pub fn place(&mut self, index: usize, below: &'static str, si: Option<&'static str>) {
        self.places.push(Place { below, column: self.column(index).to_owned(), si });
    }

    /// Notes what is wrong.
    pub fn wrong(&mut self, column: &str, given: impl fmt::Display, accepted: impl Into<String>) {
        let (pointer, value) = (column.to_owned(), given.to_string());
        self.faults.push(Problem { pointer, value, accepted: accepted.into() });
    }

    /// Notes that a cell holds what is not taken.
    pub fn wrong_cell(&mut self, (index, text): (usize, &str), accepted: impl Into<String>) {
        self.wrong(self.column(index), shown(text), accepted);
    }

    /// Takes a measure in SI.
    pub fn measure(&mut self, field: Field, below: &'static str, quantity: Quantity) -> Option<f64> {
        let cell = self.take(field)?;
        let (value, unit) = self.number(cell)?;
        let unit = unit.or(match quantity {
            Quantity::Temperature => Some(self.grammar.unit()),
            Quantity::Share if value > LARGEST_SHARE => Some(Unit::Percent),
            _ => None,
        });
        self.place(cell.0, below, unit.filter(|unit| !unit.is_si()).map(|_| quantity.si()));
        match unit {
            None => Some(value),
            Some(unit) if unit.quantity() == quantity => Some(unit.to_si(value)),
            Some(_) => {
                self.wrong_cell(cell, format!("a number in {}", quantity.si()));
                None
            }
        }
    }

    /// Takes a share in percent.
    pub fn percent(&mut self, field: Field, below: &'static str) -> Option<f64> {
        let share = self.measure(field, below, Quantity::Share)?;
        for place in self.places.iter_mut().filter(|place| place.below == below) {
            place.si = Some("%");
        }
        Some(billionth(share * 100.0))
    }

    /// The number in a cell, with the unit that it or its column says.
    pub fn number(&mut self, cell: (usize, &str)) -> Option<(f64, Option<Unit>)> {
        match number::read(cell.1, self.delimiter) {
            Ok((value, unit)) => {
                Some((value, unit.or_else(|| self.columns.get(cell.0).and_then(|column| column.unit))))
            }
            Err(accepted) => {
                self.wrong_cell(cell, accepted);
                None
            }
        }
    }

    /// Takes a word, in any case; `others` are further words for what the contract has one for.
    pub fn word<T: DeserializeOwned>(&mut self, field: Field, others: &[(&str, &str)]) -> Option<T> {
        let cell = self.take(field)?;
        let given = cell.1.to_lowercase().replace([' ', '-'], "_");
        let known = others.iter().find(|(other, _)| *other == given).map_or(given.as_str(), |(_, word)| word);
        word::parse(known).map_err(|accepted| self.wrong_cell(cell, accepted)).ok()
    }

    /// Takes a yes or a no.
    pub fn yes(&mut self, field: Field) -> Option<bool> {
        let cell = self.take(field)?;
        let said = said(cell.1);
        if said.is_none() {
            self.wrong_cell(cell, "yes or no");
        }
        said
    }

    /// Whether a cell only says that something was not done.
    pub fn is_no(&self, (index, text): (usize, &str)) -> bool {
        matches!(self.field_of(index), Some(Field::Turned | Field::Firmed | Field::Shredded))
            && said(text) == Some(false)
    }
}

/// What a cell of yes or no says.
fn said(text: &str) -> Option<bool> {
    match text.to_lowercase().as_str() {
        "yes" | "y" | "x" | "true" | "1" | "done" | "✓" | "✔" => Some(true),
        "no" | "n" | "false" | "0" => Some(false),
        _ => None,
    }
}
