//! What a sheet does not say itself, and how its cells are to be read.

use jiff::tz::TimeZone;
use serde::{Deserialize, Serialize};

use super::names::Names;
use super::unit::Unit;
use super::when::SheetDates;

/// What temperatures are in where neither the header nor the cell says so.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum SheetUnits {
    /// °C.
    #[default]
    Celsius,
    /// °F.
    Fahrenheit,
}

/// How a sheet is read.
#[derive(Clone, Debug)]
pub struct Grammar {
    /// How dates in figures are written.
    pub dates: SheetDates,
    /// What temperatures are in where nothing says so.
    pub units: SheetUnits,
    /// Where local times are; without it only times with an offset are taken.
    pub zone: Option<TimeZone>,
    /// One barrow load, m³, where known: compost taken out by the barrow is told in m³.
    pub barrow_m3: Option<f64>,
    /// The materials there are.
    pub feedstocks: Names,
    /// The bays there are; any name is taken where not given.
    pub bays: Option<Names>,
    /// The batches there are; any name is taken where not given.
    pub batches: Option<Names>,
}

impl Grammar {
    /// The unit of a temperature that says none.
    pub(super) fn unit(&self) -> Unit {
        match self.units {
            SheetUnits::Celsius => Unit::Celsius,
            SheetUnits::Fahrenheit => Unit::Fahrenheit,
        }
    }
}
