//! A year of a timber bay: filled over five weeks, read once a day, turned once and covered.

use baycast_model::history::{Cover, CoverState, Event, History, Reading, Turn};
use baycast_model::moment::{Moment, date_to_days, days_to_date};
use jiff::civil::{Date, date};

use super::{filled_over, timber_bay, with_event};

/// Readings of the year.
pub const READINGS: u32 = 365;

/// The day of the last reading.
pub const LAST_DAY: Date = date(2026, 5, 1);

/// The batch, as of [`LAST_DAY`], with the first `readings` of its readings.
pub fn read_daily(readings: u32) -> History {
    let mut history = filled_over(timber_bay(), "2025-05-01", 5, 2183.0);
    history = with_event(history, "2025-06-20", |event| event.turn = Some(Turn::default()));
    history = with_event(history, "2025-06-21", |event| event.cover = Some(Cover { state: CoverState::On }));
    history.events.extend((1..=readings).map(reading));
    history.as_of = Some(Moment::Date(LAST_DAY));
    history
}

/// The reading at eight in the morning, so many days after the first filling: warmest after a month, as bays are.
pub fn reading(day: u32) -> Event {
    let date = days_to_date(date_to_days(LAST_DAY) - f64::from(READINGS) + f64::from(day));
    let warm = (-(f64::from(day) - 30.0).abs() / 40.0).exp();
    let celsius = 14.0 + 46.0 * warm + 3.0 * (1.7 * f64::from(day)).sin();
    Event {
        reading: Some(Reading { temperature_c: Some(celsius), depth_m: Some(0.5), ..Reading::default() }),
        ..Event::at(format!("{date}T08:00:00Z").parse().unwrap())
    }
}
