//! Instants as they are stored: RFC 3339 in UTC with six decimals, so that text order is time order.

use jiff::Timestamp;

use crate::error::{Error, Result};

/// An hour, s.
const HOUR_S: i64 = 3600;

/// `at` to the microsecond, which is as fine as the records keep it.
#[must_use]
pub(crate) fn to_microsecond(at: Timestamp) -> Timestamp {
    Timestamp::from_microsecond(at.as_microsecond()).unwrap_or(at)
}

/// The beginning of the hour that `at` is in: as fine as last uses are kept.
#[must_use]
pub(crate) fn to_hour(at: Timestamp) -> Timestamp {
    Timestamp::from_second(at.as_second().div_euclid(HOUR_S) * HOUR_S).unwrap_or(at)
}

/// The latest end that what is held from `now` to `until` can have by any clock that is nearly right: one beyond it was noted
/// before a clock was set back.
#[must_use]
pub(crate) fn no_later_than(now: Timestamp, until: Timestamp) -> Timestamp {
    until.saturating_add(until.duration_since(now)).unwrap_or(Timestamp::MAX)
}

/// As stored.
pub(crate) fn text(at: Timestamp) -> String {
    format!("{at:.6}")
}

/// Reads what [`text`] wrote.
pub(crate) fn parse(text: &str) -> Result<Timestamp> {
    text.parse().map_err(Error::corrupt)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_order_is_time_order_and_reads_back() {
        let early = Timestamp::new(1_700_000_000, 5_000).unwrap();
        let late = Timestamp::new(1_700_000_000, 900_000_000).unwrap();
        assert_eq!(text(early), "2023-11-14T22:13:20.000005Z");
        assert!(text(early) < text(late));
        assert_eq!(parse(&text(late)).unwrap(), late);
        assert_eq!(to_microsecond(Timestamp::new(1, 1_999).unwrap()), Timestamp::new(1, 1_000).unwrap());
    }
}
