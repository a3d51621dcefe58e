//! Dates and times of day as people write them.

use baycast_model::moment::Moment;
use jiff::civil::{Date, DateTime, Time};
use jiff::tz::TimeZone;
use serde::{Deserialize, Serialize};

/// The forms that are always taken.
const FORMS: &str = "a date like 2026-04-30 or a time like 2026-04-30T18:00:00Z";

/// Months by their first three letters.
const MONTHS: [&str; 12] =
    ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"];

/// Days of the week by their first three letters; they add nothing to a date.
const WEEKDAYS: [&str; 7] = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"];

/// How a sheet writes dates in figures.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum SheetDates {
    /// The year first, as 2026-04-30.
    #[default]
    Iso,
    /// The day first, as 30/04/2026, 30.4.2026 or 30-04-26; the year first is taken as well.
    DayFirst,
}

/// The moment that a date and perhaps a time of day in a cell of its own tell, or what would be taken instead.
///
/// A time without an offset is the local one in `zone`; of the two moments that a local time has when clocks go back, the
/// earlier.
pub fn read(
    text: &str,
    time: Option<&str>,
    dates: SheetDates,
    zone: Option<&TimeZone>,
) -> Result<Moment, String> {
    if let (Ok(moment), None) = (text.parse(), time) {
        return Ok(moment);
    }
    let (day, in_cell) = parts(text);
    let day = date(&day, dates)?;
    let Some(time) = time.or(in_cell.as_deref()) else { return Ok(Moment::Date(day)) };
    let time = time_of_day(time).ok_or("a time of day like 18:00 or 6:00 pm")?;
    let Some(zone) = zone else {
        return Err("a time with its offset, like 2026-04-30T18:00:00Z: no time zone is known here".into());
    };
    let local = zone.to_zoned_datetime(DateTime::from_parts(day, time));
    local.map(|local| Moment::Instant(local.timestamp())).map_err(|_| FORMS.to_owned())
}

/// The date and the time of day in one cell.
fn parts(text: &str) -> (String, Option<String>) {
    let text = text.trim();
    if let Some((day, time)) = text.split_once('T')
        && day.ends_with(|last: char| last.is_ascii_digit())
    {
        return (day.to_owned(), Some(time.to_owned()));
    }
    let words: Vec<&str> = text.split_whitespace().collect();
    let time = words.iter().position(|word| word.contains(':'));
    match time {
        Some(start) => (words[..start].join(" "), Some(words[start..].join(" "))),
        None => (words.join(" "), None),
    }
}

/// A day in figures, or with its month in letters.
fn date(text: &str, dates: SheetDates) -> Result<Date, String> {
    let lower = text.to_lowercase();
    let words = lower.split([' ', '-', '/', '.', ',']).filter(|word| !word.is_empty());
    let words: Vec<&str> = words.filter(|word| !is_weekday(word)).collect();
    let [first, second, third] = words[..] else { return Err(FORMS.into()) };
    let by_name = [(first, second), (second, first)].into_iter().find_map(|(day, month)| {
        let day: i8 = day.trim_end_matches(|letter: char| letter.is_alphabetic()).parse().ok()?;
        Some((day, month_of(month)?))
    });
    if let Some((day, month)) = by_name {
        return year(third).and_then(|year| Date::new(year, month, day).ok()).ok_or_else(|| FORMS.into());
    }
    if first.len() == 4 {
        return figures(first, second, third).ok_or_else(|| FORMS.into());
    }
    let day_first = figures(third, second, first);
    match dates {
        SheetDates::DayFirst => day_first.ok_or_else(|| {
            "a date like 2026-04-30 or, with the day first, 30/04/2026; a time of day may follow".into()
        }),
        SheetDates::Iso => Err(undecided(day_first, figures(third, first, second))),
    }
}

/// What is told of figures that do not begin with the year.
fn undecided(day_first: Option<Date>, month_first: Option<Date>) -> String {
    match (day_first, month_first) {
        (Some(day), Some(month)) if day != month => {
            format!(
                "{day} if the day comes first (say that dates are day-first) or {month} if the month does"
            )
        }
        (Some(day), _) => format!("{FORMS}, or {day} if it is said that dates are day-first"),
        _ => FORMS.into(),
    }
}

/// A date of year, month and day in figures.
fn figures(year_text: &str, month: &str, day: &str) -> Option<Date> {
    Date::new(year(year_text)?, month.parse().ok()?, day.parse().ok()?).ok()
}

/// A year of four figures, or of two in this century.
fn year(text: &str) -> Option<i16> {
    let figures = text.bytes().all(|byte| byte.is_ascii_digit());
    match text.len() {
        4 if figures => text.parse().ok(),
        2 if figures => text.parse().ok().map(|year: i16| 2000 + year),
        _ => None,
    }
}

/// The month of a name or its beginning.
fn month_of(text: &str) -> Option<i8> {
    let start = text.get(..3)?;
    let named = text.bytes().all(|byte| byte.is_ascii_alphabetic());
    let index = MONTHS.iter().position(|month| named && *month == start)?;
    i8::try_from(index + 1).ok()
}

/// Whether a word is a day of the week.
fn is_weekday(word: &str) -> bool {
    word.get(..3).is_some_and(|start| WEEKDAYS.contains(&start))
}

/// A time of day, of twelve hours or of twenty-four.
fn time_of_day(text: &str) -> Option<Time> {
    let lower = text.trim().to_lowercase();
    let (figures, half) = match lower.strip_suffix('m').and_then(|rest| rest.chars().last()) {
        Some(half @ ('a' | 'p')) => (lower[..lower.len() - 2].trim(), Some(half)),
        _ => (lower.as_str(), None),
    };
    let mut parts = figures.split(':');
    let mut next = || parts.next().map(|part| part.parse::<i8>().ok());
    let (hour, minute, second) = (next()??, next().unwrap_or(Some(0))?, next().unwrap_or(Some(0))?);
    let minutes_are_told = figures.contains(':') || half.is_some();
    if parts.next().is_some() || !minutes_are_told {
        return None;
    }
    let hour = match half {
        None => hour,
        Some(_) if !(1..=12).contains(&hour) => return None,
        Some('p') => hour % 12 + 12,
        Some(_) => hour % 12,
    };
    Time::new(hour, minute, second, 0).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(text: &str, time: Option<&str>, dates: SheetDates) -> Result<String, String> {
        let zone = TimeZone::get("Europe/London").expect("the zone is built in");
        read(text, time, dates, Some(&zone)).map(|moment| moment.to_string())
    }

    #[test]
    fn dates_and_times_are_read_as_they_are_written() {
        use SheetDates::{DayFirst, Iso};
        // London keeps UTC + 1 h from the last Sunday of March to that of October: 29 March and 25 October in 2026
        // (computed from the rule). Text, time of its own, writing, moment.
        for (text, time, dates, moment) in [
            ("2026-04-30", None, Iso, "2026-04-30"),
            ("2026-04-30T18:00:00Z", None, Iso, "2026-04-30T18:00:00Z"),
            ("2026-04-30T18:00:00+02:00", None, Iso, "2026-04-30T16:00:00Z"),
            ("2026-04-30T18:00", None, Iso, "2026-04-30T17:00:00Z"),
            ("2026-04-30 18:00:30", None, Iso, "2026-04-30T17:00:30Z"),
            ("2026-01-30 18:00", None, Iso, "2026-01-30T18:00:00Z"),
            ("2026/4/3", None, Iso, "2026-04-03"),
            ("2026-04-30", Some("7:05 am"), Iso, "2026-04-30T06:05:00Z"),
            ("3 April 2026", Some("12:30 pm"), Iso, "2026-04-03T11:30:00Z"),
            ("Fri 3rd Apr 2026 6pm", None, DayFirst, "none"),
            ("Fri 3rd Apr 2026", Some("6pm"), Iso, "2026-04-03T17:00:00Z"),
            ("Apr 3, 2026", None, Iso, "2026-04-03"),
            ("3-Apr-26", None, Iso, "2026-04-03"),
            ("03/04/2026", None, DayFirst, "2026-04-03"),
            ("3.4.26 18:00", None, DayFirst, "2026-04-03T17:00:00Z"),
            ("30-04-2026", None, DayFirst, "2026-04-30"),
            ("2026-04-30", None, DayFirst, "2026-04-30"),
            // The hour that is there twice is the first of the two; the one that is not there, an hour on.
            ("2026-10-25 01:30", None, Iso, "2026-10-25T00:30:00Z"),
            ("2026-03-29 01:30", None, Iso, "2026-03-29T01:30:00Z"),
        ] {
            let read = told(text, time, dates).unwrap_or("none".into());
            assert_eq!(read, moment, "{text} {time:?} {dates:?}");
        }
    }

    #[test]
    fn what_may_be_two_days_is_refused_with_both() {
        let both = "2026-04-03 if the day comes first (say that dates are day-first) or 2026-03-04 if the month does";
        assert_eq!(told("03/04/2026", None, SheetDates::Iso), Err(both.to_owned()));
        assert_eq!(told("3.4.26 18:00", None, SheetDates::Iso), Err(both.to_owned()));
        let one = format!("{FORMS}, or 2026-04-30 if it is said that dates are day-first");
        assert_eq!(told("30/04/2026", None, SheetDates::Iso), Err(one));
    }

    #[test]
    fn what_is_no_moment_is_refused() {
        for dates in [SheetDates::Iso, SheetDates::DayFirst] {
            for text in ["", "soon", "1 May", "2026-02-30", "31/02/2026", "45", "46142", "2026-04-30 25:00"] {
                assert!(told(text, None, dates).is_err(), "{text}");
            }
            for time in ["noon", "7", "13 pm", "07:60", "1:2:3:4"] {
                assert!(told("2026-04-30", Some(time), dates).is_err(), "{time}");
            }
        }
        let told = read("2026-04-30 18:00", None, SheetDates::Iso, None);
        assert!(told.unwrap_err().starts_with("a time with its offset"));
    }
}
