//! Values on their way into a statement and out of a row, the same for both databases.

use jiff::Timestamp;
use serde::de::DeserializeOwned;

use crate::error::{Error, Result};
use crate::instant;

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    /// Text.
    Text,
    /// A whole number.
    Int,
    /// A number.
    Real,
}

/// One value.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Value {
    /// Nothing, of a kind.
    Null(Kind),
    /// A whole number.
    Int(i64),
    /// A number.
    Real(f64),
    /// Text.
    Text(String),
}

impl From<i64> for Value {
    fn from(value: i64) -> Self {
        Self::Int(value)
    }
}

impl From<&str> for Value {
    fn from(value: &str) -> Self {
        Self::Text(value.to_owned())
    }
}

impl From<String> for Value {
    fn from(value: String) -> Self {
        Self::Text(value)
    }
}

impl From<&String> for Value {
    fn from(value: &String) -> Self {
        Self::Text(value.clone())
    }
}

impl From<Timestamp> for Value {
    fn from(value: Timestamp) -> Self {
        Self::Text(instant::text(value))
    }
}

impl From<Option<Timestamp>> for Value {
    fn from(value: Option<Timestamp>) -> Self {
        value.map_or(Self::Null(Kind::Text), Self::from)
    }
}

impl From<Option<String>> for Value {
    fn from(value: Option<String>) -> Self {
        value.map_or(Self::Null(Kind::Text), Self::Text)
    }
}

impl From<Option<&String>> for Value {
    fn from(value: Option<&String>) -> Self {
        Self::from(value.cloned())
    }
}

impl From<Option<f64>> for Value {
    fn from(value: Option<f64>) -> Self {
        value.map_or(Self::Null(Kind::Real), Self::Real)
    }
}

impl From<Option<u32>> for Value {
    fn from(value: Option<u32>) -> Self {
        value.map_or(Self::Null(Kind::Int), |value| Self::Int(i64::from(value)))
    }
}

/// A list of values, each turned into a [`Value`].
macro_rules! values {
    ($($value:expr),* $(,)?) => { vec![$($crate::value::Value::from($value)),*] };
}
pub(crate) use values;

/// One row, read from the left.
#[derive(Debug)]
pub(crate) struct Row(std::vec::IntoIter<Value>);

impl Row {
    /// A row of these values.
    pub fn new(values: Vec<Value>) -> Self {
        Self(values.into_iter())
    }

    fn next(&mut self) -> Result<Value> {
        self.0.next().ok_or_else(|| Error::corrupt("a row is too short"))
    }

    /// The next column: text or nothing.
    pub fn text_or_none(&mut self) -> Result<Option<String>> {
        match self.next()? {
            Value::Text(text) => Ok(Some(text)),
            Value::Null(_) => Ok(None),
            other => Err(Error::corrupt(format!("{other:?} where text belongs"))),
        }
    }

    /// The next column: text.
    pub fn text(&mut self) -> Result<String> {
        self.text_or_none()?.ok_or_else(|| Error::corrupt("nothing where text belongs"))
    }

    /// The next column: a whole number or nothing.
    pub fn int_or_none(&mut self) -> Result<Option<i64>> {
        match self.next()? {
            Value::Int(number) => Ok(Some(number)),
            Value::Null(_) => Ok(None),
            other => Err(Error::corrupt(format!("{other:?} where a whole number belongs"))),
        }
    }

    /// The next column: a whole number.
    pub fn int(&mut self) -> Result<i64> {
        self.int_or_none()?.ok_or_else(|| Error::corrupt("nothing where a whole number belongs"))
    }

    /// The next column: days or nothing.
    pub fn days_or_none(&mut self) -> Result<Option<u32>> {
        self.int_or_none()?.map(|days| u32::try_from(days).map_err(Error::corrupt)).transpose()
    }

    /// The next column: a number or nothing.
    pub fn real_or_none(&mut self) -> Result<Option<f64>> {
        match self.next()? {
            Value::Real(number) => Ok(Some(number)),
            Value::Int(number) => Ok(Some(number as f64)),
            Value::Null(_) => Ok(None),
            Value::Text(text) => Err(Error::corrupt(format!("{text:?} where a number belongs"))),
        }
    }

    /// The next column: JSON.
    pub fn json<T: DeserializeOwned>(&mut self) -> Result<T> {
        from_json(&self.text()?)
    }

    /// The next column: an instant.
    pub fn instant(&mut self) -> Result<Timestamp> {
        instant::parse(&self.text()?)
    }

    /// The next column: an instant or nothing.
    pub fn instant_or_none(&mut self) -> Result<Option<Timestamp>> {
        self.text_or_none()?.map(|text| instant::parse(&text)).transpose()
    }
}

/// Reads stored JSON.
pub(crate) fn from_json<T: DeserializeOwned>(text: &str) -> Result<T> {
    serde_json::from_str(text).map_err(Error::corrupt)
}

/// Canonical JSON: fields in the order in which their types declare them, no white space.
pub(crate) fn to_json<T: serde::Serialize>(value: &T) -> Result<String> {
    serde_json::to_string(value).map_err(|error| Error::invalid("json", &error.to_string(), "finite numbers"))
}
