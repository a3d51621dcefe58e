//! Dates and times as they are written on the board, in the farm's time zone.

use baycast_model::window::DateSpread;
use jiff::Timestamp;
use jiff::civil::{Date, DateTime};
use jiff::tz::TimeZone;

use crate::words;

/// The time zone of that name; UTC where this machine does not know it.
pub fn zone(name: &str) -> TimeZone {
    TimeZone::get(name).unwrap_or(TimeZone::UTC)
}

/// A day, with its year only where it is not `today`'s.
pub fn day(day: Date, today: Date) -> String {
    let month = words::MONTHS[usize::from(day.month().unsigned_abs()) - 1];
    if day.year() == today.year() {
        format!("{} {month}", day.day())
    } else {
        format!("{} {month} {}", day.day(), day.year())
    }
}

/// A day with its weekday and year.
pub fn whole(day: Date) -> String {
    let weekday = words::WEEKDAYS[usize::from(day.weekday().to_monday_zero_offset().unsigned_abs())];
    let month = words::MONTHS_WHOLE[usize::from(day.month().unsigned_abs()) - 1];
    format!("{weekday} {} {month} {}", day.day(), day.year())
}

/// A day and the time of day.
pub fn instant(at: Timestamp, zone: &TimeZone, today: Date) -> String {
    let at = zone.to_datetime(at);
    format!("{:02}:{:02}, {}", at.hour(), at.minute(), day(at.date(), today))
}

/// A moment as a form's field for date and time has it.
pub fn field(at: DateTime) -> String {
    let (day, time) = (at.date(), at.time());
    format!("{day}T{:02}:{:02}", time.hour(), time.minute())
}

/// The outer days of a range; nothing where even its early end lies beyond the horizon.
pub fn range(spread: &DateSpread, today: Date) -> Option<String> {
    let early = day(spread.p10?, today);
    Some(match spread.p90 {
        Some(late) if spread.p10 == Some(late) => early,
        Some(late) => words::from_to(&early, &day(late, today)),
        None => words::from_to_beyond(&early),
    })
}

/// A text whose dates, written as in the contracts, are written as on the board.
pub fn in_text(text: &str, today: Date) -> String {
    let (mut out, mut rest) = (String::with_capacity(text.len()), text);
    while let Some(start) = rest.find(|letter: char| letter.is_ascii_digit()) {
        let (before, from) = rest.split_at(start);
        let end = from.find(|letter: char| !letter.is_ascii_digit() && letter != '-').unwrap_or(from.len());
        let (number, after) = from.split_at(end);
        out.push_str(before);
        match number.parse::<Date>() {
            Ok(date) if number.len() == "2026-09-15".len() => out.push_str(&day(date, today)),
            _ => out.push_str(number),
        }
        rest = after;
    }
    out.push_str(rest);
    out
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;

    #[test]
    fn a_year_is_written_where_it_is_another() {
        let today = date(2026, 9, 15);
        assert_eq!(day(date(2026, 10, 1), today), "1 Oct");
        assert_eq!(day(date(2027, 1, 31), today), "31 Jan 2027");
        assert_eq!(whole(today), "Tuesday 15 September 2026");
    }

    #[test]
    fn a_range_that_ends_beyond_the_horizon_says_so() {
        let today = date(2026, 9, 15);
        let spread = |p10, p90| DateSpread { p10, p50: p10, p90 };
        let (early, late) = (Some(date(2026, 9, 25)), Some(date(2027, 2, 14)));
        assert_eq!(range(&spread(early, late), today).as_deref(), Some("25 Sep to 14 Feb 2027"));
        assert_eq!(range(&spread(early, None), today).as_deref(), Some("25 Sep to more than a year on"));
        assert_eq!(range(&spread(early, early), today).as_deref(), Some("25 Sep"));
        assert_eq!(range(&spread(None, None), today), None);
    }

    #[test]
    fn dates_in_a_text_are_written_as_beside_it() {
        let today = date(2026, 9, 15);
        let told = in_text("pallet-1 2026-09-22, by 2027-01-05: 0.30 m³ of 1-2", today);
        assert_eq!(told, "pallet-1 22 Sep, by 5 Jan 2027: 0.30 m³ of 1-2");
        assert_eq!(in_text("", today), "");
    }

    #[test]
    fn a_time_is_that_of_the_farm() {
        let at: Timestamp = "2026-07-01T22:05:00Z".parse().expect("a time");
        let zone = zone("Europe/London");
        assert_eq!(instant(at, &zone, date(2026, 7, 1)), "23:05, 1 Jul");
        assert_eq!(field(zone.to_datetime(at)), "2026-07-01T23:05");
    }
}
