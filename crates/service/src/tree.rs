//! A JSON tree read into types, with faults that say in parts what is wrong and where.

use std::fmt;

use serde::de::value::StrDeserializer;
use serde::de::{
    self, DeserializeSeed, Deserializer, Expected, IntoDeserializer, MapAccess, SeqAccess, Unexpected,
    Visitor,
};
use serde_json::Value;

use crate::pointer::escaped;

/// A place in a tree.
#[derive(Clone, Debug)]
pub struct Node<'a> {
    value: &'a Value,
    pointer: String,
}

impl<'a> Node<'a> {
    /// The top of a tree.
    #[must_use]
    pub fn top(value: &'a Value) -> Self {
        Self { value, pointer: String::new() }
    }

    /// What lies below, by member name or index.
    fn below(&self, segment: impl fmt::Display, value: &'a Value) -> Self {
        Self { value, pointer: format!("{}/{segment}", self.pointer) }
    }

    /// Reads what `seed` wants here; a fault of the seed's own, such as a text that is no date, is placed here.
    fn read<S: DeserializeSeed<'a>>(self, seed: S) -> Result<S::Value, Fault> {
        let here = self.clone();
        seed.deserialize(self).map_err(|fault| here.place(fault))
    }

    /// Places a fault here where nothing below has placed it yet.
    fn place(&self, mut fault: Fault) -> Fault {
        fault.pointer.get_or_insert_with(|| self.pointer.clone());
        fault
    }

    /// The fault of a value here that is not what is `expected`.
    fn unexpected(&self, expected: Kind) -> Fault {
        Fault { pointer: Some(self.pointer.clone()), kind: expected }
    }
}

/// What is wrong, and where.
#[derive(Clone, Debug)]
pub struct Fault {
    /// JSON Pointer to the value, or to the object where a member is missing or unknown.
    pub pointer: Option<String>,
    /// What is wrong there.
    pub kind: Kind,
}

/// What is wrong with a value.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Kind {
    /// This member is required and absent.
    Missing(&'static str),
    /// This member is not known.
    UnknownMember(String, &'static [&'static str]),
    /// Not one of the words there are.
    NotAWord(&'static [&'static str]),
    /// Not an object.
    NotAnObject(&'static [&'static str]),
    /// Not of the type described.
    NotA(String),
    /// Of the right type, but not readable.
    Unreadable(String),
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:?} at {:?}", self.kind, self.pointer)
    }
}

impl std::error::Error for Fault {}

impl From<Kind> for Fault {
    fn from(kind: Kind) -> Self {
        Self { pointer: None, kind }
    }
}

impl de::Error for Fault {
    fn custom<T: fmt::Display>(message: T) -> Self {
        Kind::Unreadable(message.to_string()).into()
    }

    fn invalid_type(_: Unexpected<'_>, expected: &dyn Expected) -> Self {
        Kind::NotA(expected.to_string()).into()
    }

    fn invalid_value(_: Unexpected<'_>, expected: &dyn Expected) -> Self {
        Kind::NotA(expected.to_string()).into()
    }

    fn unknown_variant(_: &str, expected: &'static [&'static str]) -> Self {
        Kind::NotAWord(expected).into()
    }

    fn unknown_field(name: &str, expected: &'static [&'static str]) -> Self {
        Kind::UnknownMember(name.to_owned(), expected).into()
    }

    fn missing_field(name: &'static str) -> Self {
        Kind::Missing(name).into()
    }
}

impl<'de> Deserializer<'de> for Node<'de> {
    type Error = Fault;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Fault> {
        let read = match self.value {
            Value::Null => visitor.visit_unit(),
            Value::Bool(truth) => visitor.visit_bool(*truth),
            Value::Number(number) => match (number.as_u64(), number.as_i64(), number.as_f64()) {
                (Some(whole), _, _) => visitor.visit_u64(whole),
                (None, Some(whole), _) => visitor.visit_i64(whole),
                (None, None, number) => visitor.visit_f64(number.unwrap_or(f64::NAN)),
            },
            Value::String(text) => visitor.visit_borrowed_str(text),
            Value::Array(elements) => {
                visitor.visit_seq(Elements { of: &self, next: elements.iter().enumerate() })
            }
            Value::Object(members) => {
                visitor.visit_map(Members { of: &self, next: members.iter(), value: None })
            }
        };
        read.map_err(|fault| self.place(fault))
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Fault> {
        if self.value.is_null() { visitor.visit_none() } else { visitor.visit_some(self) }
    }

    fn deserialize_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        members: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Fault> {
        if !self.value.is_object() {
            return Err(self.unexpected(Kind::NotAnObject(members)));
        }
        self.deserialize_any(visitor)
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _: &'static str,
        words: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Fault> {
        let Value::String(word) = self.value else {
            return Err(self.unexpected(Kind::NotAWord(words)));
        };
        let word: StrDeserializer<'_, Fault> = word.as_str().into_deserializer();
        visitor.visit_enum(word).map_err(|fault| self.place(fault))
    }

    serde::forward_to_deserialize_any! {
        bool i8 i16 i32 i64 i128 u8 u16 u32 u64 u128 f32 f64 char str string bytes byte_buf unit unit_struct
        newtype_struct seq tuple tuple_struct map identifier ignored_any
    }
}

/// The elements of an array, one after the other.
struct Elements<'n, 'a> {
    of: &'n Node<'a>,
    next: std::iter::Enumerate<std::slice::Iter<'a, Value>>,
}

impl<'de> SeqAccess<'de> for Elements<'_, 'de> {
    type Error = Fault;

    fn next_element_seed<S: DeserializeSeed<'de>>(&mut self, seed: S) -> Result<Option<S::Value>, Fault> {
        self.next.next().map(|(index, value)| self.of.below(index, value).read(seed)).transpose()
    }
}

/// The members of an object, one after the other.
struct Members<'n, 'a> {
    of: &'n Node<'a>,
    next: serde_json::map::Iter<'a>,
    value: Option<Node<'a>>,
}

impl<'de> MapAccess<'de> for Members<'_, 'de> {
    type Error = Fault;

    fn next_key_seed<S: DeserializeSeed<'de>>(&mut self, seed: S) -> Result<Option<S::Value>, Fault> {
        let Some((name, value)) = self.next.next() else { return Ok(None) };
        self.value = Some(self.of.below(escaped(name), value));
        let name: StrDeserializer<'_, Fault> = name.as_str().into_deserializer();
        seed.deserialize(name).map(Some)
    }

    fn next_value_seed<S: DeserializeSeed<'de>>(&mut self, seed: S) -> Result<S::Value, Fault> {
        let value =
            self.value.take().ok_or_else(|| Kind::Unreadable("a value before its name".to_owned()))?;
        value.read(seed)
    }
}
