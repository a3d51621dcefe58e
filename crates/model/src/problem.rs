//! What is wrong with a history, field by field.

use std::fmt;

/// One field that cannot be used, with where it stands, what it held and what would be taken.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// JSON Pointer (RFC 6901) from the top of the history, such as `/events/3/reading/temperature_c`.
    pub pointer: String,
    /// The value given, as JSON or a short description where it is long.
    pub value: String,
    /// The range, set or form that is taken.
    pub accepted: String,
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {} given, accepted: {}", self.pointer, self.value, self.accepted)
    }
}

/// Every problem found in one history, never empty when returned as an error.
#[derive(Clone, Debug, Default, PartialEq, Eq, thiserror::Error)]
pub struct Problems(pub Vec<Problem>);

impl fmt::Display for Problems {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, problem) in self.0.iter().enumerate() {
            if index > 0 {
                f.write_str("; ")?;
            }
            problem.fmt(f)?;
        }
        Ok(())
    }
}

impl Problems {
    /// Notes that `value` at `pointer` is outside what is `accepted`.
    pub fn add(&mut self, pointer: impl Into<String>, value: impl fmt::Display, accepted: impl Into<String>) {
        self.0.push(Problem { pointer: pointer.into(), value: value.to_string(), accepted: accepted.into() });
    }

    /// Notes a number outside `low..=high`; NaN is outside every range.
    pub fn range(&mut self, pointer: impl Into<String>, value: f64, low: f64, high: f64) {
        if !(low..=high).contains(&value) {
            self.add(pointer, value, format!("{low} to {high}"));
        }
    }

    /// The same for a value that may be absent.
    pub fn range_if(&mut self, pointer: impl Into<String>, value: Option<f64>, low: f64, high: f64) {
        if let Some(value) = value {
            self.range(pointer, value, low, high);
        }
    }

    /// `Err` with everything noted, or `Ok` where nothing was.
    pub fn into_result(self) -> Result<(), Self> {
        if self.0.is_empty() { Ok(()) } else { Err(self) }
    }
}
