//! Dates and ranges of dates, spelt out.

use baycast_model::window::DateSpread;
use jiff::civil::Date;

/// Names of the months, short.
pub const MONTHS: [&str; 12] =
    ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];

/// A date like `12 Sep 2026`.
pub fn full(date: Date) -> String {
    format!("{} {}", day(date), date.year())
}

/// A date like `12 Sep`, with its year where that isn't `year`.
pub fn within(date: Date, year: i16) -> String {
    if date.year() == year { day(date) } else { full(date) }
}

/// Two dates like `5 Sep to 28 Sep 2026`; one of them where they are the same.
pub fn stretch(from: Date, to: Date) -> String {
    if from == to { full(to) } else { format!("{} to {}", within(from, to.year()), full(to)) }
}

/// When a window opens, as seen on `as_of` by a forecast that goes as far as `until`.
pub fn opening(opens: DateSpread, as_of: Date, until: Date) -> String {
    match opens {
        DateSpread { p50: Some(middle), p10, p90 } => {
            let lead = if middle <= as_of { "open since" } else { "from" };
            let range = range(p10.unwrap_or(middle), middle, p90, until);
            format!("{lead} {}{range}", full(middle))
        }
        DateSpread { p10: Some(early), .. } => {
            format!("perhaps from {}, more likely after {}", full(early), full(until))
        }
        DateSpread { .. } => format!("not by {}", full(until)),
    }
}

/// The outer dates around `middle`, in brackets; nothing where they all are one day.
fn range(early: Date, middle: Date, late: Option<Date>, until: Date) -> String {
    if early == middle && late == Some(middle) {
        return String::new();
    }
    let year = middle.year();
    let late = late.map_or_else(|| format!("after {}", within(until, year)), |late| within(late, year));
    format!(" ({} to {late})", within(early, year))
}

/// A text with its ISO dates spelt out, but for one that ends a name in backticks.
pub fn spelt(text: &str) -> String {
    let word = |word: &str| {
        let date = word.trim_end_matches(|last: char| last.is_ascii_punctuation());
        let parsed: Option<Date> = (date.len() == 10).then(|| date.parse().ok()).flatten();
        let parsed = parsed.filter(|_| !word[date.len()..].starts_with('`'));
        parsed.map_or_else(|| word.to_owned(), |parsed| full(parsed) + &word[date.len()..])
    };
    text.split(' ').map(word).collect::<Vec<_>>().join(" ")
}

/// A day like `12 Sep`.
fn day(date: Date) -> String {
    let month = usize::try_from(date.month()).unwrap_or(1);
    format!("{} {}", date.day(), MONTHS[month - 1])
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;

    #[test]
    fn a_range_names_a_year_only_where_it_changes() {
        let (middle, until) = (date(2026, 12, 12), date(2027, 9, 15));
        assert_eq!(full(middle), "12 Dec 2026");
        let late = date(2027, 1, 28);
        assert_eq!(range(date(2026, 11, 5), middle, Some(late), until), " (5 Nov to 28 Jan 2027)");
        assert_eq!(range(middle, middle, Some(middle), until), "");
        assert_eq!(range(middle, middle, None, until), " (12 Dec to after 15 Sep 2027)");
        assert_eq!(stretch(date(2026, 3, 5), date(2026, 3, 8)), "5 Mar to 8 Mar 2026");
    }

    #[test]
    fn an_opening_beyond_the_forecast_is_not_dated() {
        let (as_of, until) = (date(2026, 9, 15), date(2027, 9, 15));
        let spread = |p10, p50| DateSpread { p10, p50, p90: None };
        assert_eq!(opening(spread(None, None), as_of, until), "not by 15 Sep 2027");
        let early = Some(date(2027, 5, 1));
        assert_eq!(
            opening(spread(early, None), as_of, until),
            "perhaps from 1 May 2027, more likely after 15 Sep 2027"
        );
        assert_eq!(opening(spread(early, early), as_of, until), "from 1 May 2027 (1 May to after 15 Sep)");
        let now = Some(as_of);
        assert!(opening(spread(now, now), as_of, until).starts_with("open since 15 Sep 2026"));
    }

    #[test]
    fn dates_in_a_text_are_spelt_out() {
        assert_eq!(spelt("best by 2026-09-01."), "best by 1 Sep 2026.");
        assert_eq!(spelt("`bay 2026-09-01`, 2026-09-01"), "`bay 2026-09-01`, 1 Sep 2026");
        assert_eq!(spelt("EU 142/2011, 2026-13-01 of 1-2 °C"), "EU 142/2011, 2026-13-01 of 1-2 °C");
    }
}
