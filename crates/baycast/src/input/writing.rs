//! How sheets are written, as flags say it.

use baycast_service::sheet::{SheetDates, SheetUnits};

/// How dates in figures are written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, clap::ValueEnum)]
pub enum Dates {
    /// The year first: 2026-04-30.
    #[default]
    Iso,
    /// The day first: 30/04/2026.
    DayFirst,
}

/// What temperatures are in where nothing says so.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, clap::ValueEnum)]
pub enum Units {
    /// °C.
    #[default]
    C,
    /// °F.
    F,
}

impl From<Dates> for SheetDates {
    fn from(dates: Dates) -> Self {
        match dates {
            Dates::Iso => Self::Iso,
            Dates::DayFirst => Self::DayFirst,
        }
    }
}

impl From<Units> for SheetUnits {
    fn from(units: Units) -> Self {
        match units {
            Units::C => Self::Celsius,
            Units::F => Self::Fahrenheit,
        }
    }
}
