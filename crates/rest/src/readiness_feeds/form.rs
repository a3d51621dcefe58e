//! The forms of a farm's readiness.

use baycast_service::Error;
use baycast_service::readiness::Readiness;

use super::{atom, calendar, csv, json_feed};

/// One of them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// The contract's own JSON.
    Json,
    /// A row for each batch and use.
    Csv,
    /// Events in the farm's days.
    Calendar,
    /// An entry for each batch.
    Atom,
    /// An item for each batch.
    JsonFeed,
}

impl Form {
    /// How many there are.
    pub const COUNT: usize = 5;

    /// Its media type.
    pub fn media_type(self) -> &'static str {
        match self {
            Self::Json => "application/json",
            Self::Csv => "text/csv; charset=utf-8; header=present",
            Self::Calendar => "text/calendar; charset=utf-8",
            Self::Atom => "application/atom+xml; charset=utf-8",
            Self::JsonFeed => "application/feed+json",
        }
    }

    /// A farm's readiness in this form.
    pub fn render(self, farm: &Readiness) -> Result<Vec<u8>, Error> {
        match self {
            Self::Json => serde_json::to_vec(farm).map_err(|_| Error::Internal),
            Self::Csv => Ok(csv::csv(farm)),
            Self::Calendar => Ok(calendar::calendar(farm)),
            Self::Atom => atom::atom(farm).map_err(|_| Error::Internal),
            Self::JsonFeed => Ok(json_feed::json_feed(farm)),
        }
    }
}
