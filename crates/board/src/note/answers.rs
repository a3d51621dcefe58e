//! What a form's fields say, and everything that is wrong with them at once.

use baycast_model::history::Event;
use baycast_model::moment::Moment;
use jiff::civil::DateTime;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use serde::Serialize;

use super::kind::Kind;
use crate::words;

/// How far a phone's clock may be ahead of ours.
const AHEAD: SignedDuration = SignedDuration::from_mins(5);

/// A field that is at fault.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Fault {
    /// The field; empty where the whole is at fault.
    pub field: &'static str,
    /// What is wrong.
    pub text: String,
}

/// A form's fields.
pub struct Answers<'a> {
    pairs: &'a [(String, String)],
    zone: TimeZone,
    now: Timestamp,
    faults: Vec<Fault>,
}

impl<'a> Answers<'a> {
    /// The fields as they were sent, on a farm in that time zone, at `now`.
    pub fn new(pairs: &'a [(String, String)], zone: TimeZone, now: Timestamp) -> Self {
        Self { pairs, zone, now, faults: Vec::new() }
    }

    /// The event that they tell, or all that is wrong with them.
    pub fn event(&mut self, kind: Kind) -> Result<Event, Vec<Fault>> {
        let at = self.when();
        let event = kind.event(self, at);
        if self.faults.is_empty() { Ok(event) } else { Err(std::mem::take(&mut self.faults)) }
    }

    /// A field's text, where there is any.
    pub fn text(&self, name: &str) -> Option<String> {
        let (_, text) = self.pairs.iter().find(|(given, _)| given == name)?;
        let text = text.trim();
        (!text.is_empty()).then(|| text.to_owned())
    }

    /// Notes that a field is at fault.
    pub fn fault(&mut self, field: &'static str, accepted: &str) {
        let given = self.text(field).unwrap_or_default();
        self.faults.push(Fault { field, text: words::fault(&given, accepted) });
    }

    /// A number, with a point or a comma.
    pub fn number(&mut self, name: &'static str) -> Option<f64> {
        let text = self.text(name)?;
        let number = text.replace(',', ".").parse::<f64>().ok().filter(|number| number.is_finite());
        if number.is_none() {
            self.fault(name, words::A_NUMBER);
        }
        number
    }

    /// A number that must be given.
    pub fn needed(&mut self, name: &'static str) -> Option<f64> {
        if self.text(name).is_none() {
            self.fault(name, words::A_NUMBER);
        }
        self.number(name)
    }

    /// A number within bounds, by a hundred: what is asked for in cm or percent.
    pub fn hundredths(&mut self, name: &'static str, (low, high): (f64, f64), accepted: &str) -> Option<f64> {
        let number = self.number(name)?;
        if !(low..=high).contains(&number) {
            self.fault(name, accepted);
        }
        Some(number / 100.0)
    }

    /// The moment told, on the farm's clock; now where none is. It must not lie ahead.
    fn when(&mut self) -> Moment {
        const FIELD: &str = "when";
        let Some(text) = self.text(FIELD) else { return Moment::Instant(self.now) };
        let told = text.parse::<DateTime>().ok().filter(|_| text.contains('T'));
        // An hour that the clock shows twice is the first of them.
        match told.and_then(|told| self.zone.to_timestamp(told).ok()) {
            None => self.fault(FIELD, words::A_TIME),
            Some(told) if told > self.now + AHEAD => self.fault(FIELD, words::NOT_LATER),
            Some(told) => return Moment::Instant(told),
        }
        Moment::Instant(self.now)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn when(text: &str) -> Result<String, String> {
        let pairs = [("when".to_owned(), text.to_owned())];
        let now: Timestamp = "2026-07-01T12:00:00Z".parse().expect("a time");
        let mut answers = Answers::new(&pairs, crate::dates::zone("Europe/London"), now);
        let event = answers.event(Kind::Turn);
        event.map(|event| event.at.to_string()).map_err(|faults| faults[0].text.clone())
    }

    #[test]
    fn the_time_is_the_farms_and_not_ahead() {
        assert_eq!(when("2026-07-01T09:30").as_deref(), Ok("2026-07-01T08:30:00Z"));
        assert_eq!(when("").as_deref(), Ok("2026-07-01T12:00:00Z"));
        assert_eq!(when("2026-07-01T13:04").as_deref(), Ok("2026-07-01T12:04:00Z"), "clocks differ");
        for (text, accepted) in [
            ("2026-07-01T14:00", words::NOT_LATER),
            ("yesterday", words::A_TIME),
            ("2026-07-01", words::A_TIME),
        ] {
            let fault = when(text).expect_err(text);
            assert!(fault.contains(text) && fault.contains(accepted), "{fault}");
        }
    }

    #[test]
    fn numbers_take_a_comma() {
        let pairs = [("a".to_owned(), "58,5".to_owned()), ("b".to_owned(), "warm".to_owned())];
        let mut answers = Answers::new(&pairs, TimeZone::UTC, Timestamp::UNIX_EPOCH);
        assert_eq!(answers.number("a"), Some(58.5));
        assert_eq!((answers.number("b"), answers.faults.len()), (None, 1));
    }
}
