//! Which day it is on a farm.

use baycast_records::{Farm, Told};
use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan};

/// The farm's day, in its time zone.
pub(crate) fn on(farm: &Farm, now: Timestamp) -> Date {
    // A zone is checked when it is said; one that a newer table no longer knows is like none.
    let zone = TimeZone::get(&farm.time_zone).unwrap_or(TimeZone::UTC);
    zone.to_datetime(now).date()
}

/// The day that a batch is estimated for: the farm's. It is the next one where that was told already, as by a replica whose
/// clock is ahead, or where something was seen on it: the model's days are of UTC, in which a day may begin in the
/// afternoon before.
pub(super) fn of(told: &Told, now: Timestamp) -> Date {
    let day = on(&told.farm, now);
    let next = day.saturating_add(1.day());
    let begun = told.seen_at.is_some_and(|at| at.date() == next);
    if begun || told.day == Some(next) { next } else { day }
}
