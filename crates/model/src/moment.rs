//! When something happened: an instant, or a date whose hour nobody wrote down.

use std::fmt;
use std::str::FromStr;

use jiff::civil::Date;
use jiff::{SignedDuration, Timestamp};
use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

/// Seconds in a day.
const DAY_S: f64 = 86_400.0;

/// The dates the model accepts: 1900-01-01 to 2199-12-31, as days since 1970-01-01.
pub const ACCEPTED_DAYS: std::ops::RangeInclusive<f64> = -25_567.0..=84_006.0;

/// A point in time as a grower's notes give it.
///
/// A date without an hour stands for noon UTC of that day, at most half a day from the truth.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Moment {
    /// A calendar date, RFC 3339 `full-date`.
    Date(Date),
    /// An instant, RFC 3339 `date-time`.
    Instant(Timestamp),
}

impl Moment {
    /// Days since 1970-01-01T00:00Z.
    #[must_use]
    pub fn days(self) -> f64 {
        match self {
            Self::Date(date) => date_to_days(date) + 0.5,
            Self::Instant(instant) => instant.as_duration().as_secs_f64() / DAY_S,
        }
    }

    /// The UTC calendar date.
    #[must_use]
    pub fn date(self) -> Date {
        match self {
            Self::Date(date) => date,
            Self::Instant(_) => days_to_date(self.days()),
        }
    }
}

/// Days from 1970-01-01 to `date`.
#[must_use]
pub fn date_to_days(date: Date) -> f64 {
    let epoch = jiff::civil::date(1970, 1, 1);
    let span = date.duration_since(epoch);
    (span.as_hours() as f64) / 24.0
}

/// The last moment of a day as a share of it.
const LAST_MOMENT: f64 = 1.0 - 1e-6;

/// The last moment of `date`, days since 1970-01-01: what happened on that day happened by then.
#[must_use]
pub fn last_moment(date: Date) -> f64 {
    date_to_days(date) + LAST_MOMENT
}

/// The UTC date on which `days` since 1970-01-01 falls; clamped to the calendar's ends.
#[must_use]
pub fn days_to_date(days: f64) -> Date {
    jiff::civil::date(1970, 1, 1).saturating_add(SignedDuration::from_hours(days.floor() as i64 * 24))
}

impl FromStr for Moment {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let parsed =
            if text.len() == 10 { text.parse().map(Self::Date) } else { text.parse().map(Self::Instant) };
        parsed.map_err(|_| {
            format!("`{text}` is neither a date like 2026-04-30 nor a time like 2026-04-30T18:00:00Z")
        })
    }
}

impl fmt::Display for Moment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Date(date) => date.fmt(f),
            Self::Instant(instant) => instant.fmt(f),
        }
    }
}

impl Serialize for Moment {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Moment {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = <std::borrow::Cow<'de, str>>::deserialize(deserializer)?;
        text.parse().map_err(de::Error::custom)
    }
}

#[cfg(feature = "schema")]
impl utoipa::PartialSchema for Moment {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
        utoipa::openapi::ObjectBuilder::new()
            .schema_type(utoipa::openapi::schema::Type::String)
            .description(Some(
                "RFC 3339 date (2026-04-30, taken as noon UTC) or date-time (2026-04-30T18:00:00Z).",
            ))
            .pattern(Some(
                "^[0-9]{4}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])(T([01][0-9]|2[0-3]):[0-5][0-9]:[0-5][0-9]\
                 (\\.[0-9]{1,9})?(Z|[+-]([01][0-9]|2[0-3]):[0-5][0-9]))?$",
            ))
            .examples(["2026-04-30"])
            .build()
            .into()
    }
}

#[cfg(feature = "schema")]
impl utoipa::ToSchema for Moment {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_date_is_its_noon_and_an_offset_is_honoured() {
        let date: Moment = "1970-01-02".parse().unwrap();
        assert_eq!(date.days(), 1.5);
        let instant: Moment = "1970-01-02T14:00:00+02:00".parse().unwrap();
        assert_eq!(instant.days(), 1.5);
        assert_eq!(days_to_date(-0.25), jiff::civil::date(1969, 12, 31));
    }

    #[test]
    fn what_is_no_date_is_refused_with_its_text() {
        let error = "30/04/2026".parse::<Moment>().unwrap_err();
        assert!(error.contains("30/04/2026"), "{error}");
    }
}
