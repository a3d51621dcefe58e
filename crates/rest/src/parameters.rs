//! Query parameters, read by name; one that is not known is refused by name.

use std::str::FromStr;

use axum::extract::{FromRequestParts, Query};
use axum::http::request::Parts;
use baycast_model::problem::Problems;
use baycast_service::Error;
use baycast_service::pointer::escaped;
use serde::de::value::{Error as Unread, StrDeserializer};
use serde::de::{DeserializeOwned, IntoDeserializer};
use utoipa::IntoParams;

use crate::problem::Problem;

/// The form of a day.
pub const DATE: &str = "a date like 2026-04-30";

/// Which part of a list of what is kept.
#[derive(Debug, Default, PartialEq, Eq, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct Paging {
    /// At most this many, 1 to 1000; 100 where absent or 0.
    #[param(minimum = 0)]
    pub page_size: Option<i64>,
    /// The `next_page_token` of the page before.
    #[param(required = false)]
    pub page_token: String,
}

/// A place in numbered changes: 0 or more, and no more than 64 bits with a sign hold, as the description has it.
pub struct Place(pub u64);

impl FromStr for Place {
    type Err = ();

    fn from_str(text: &str) -> Result<Self, ()> {
        text.parse::<i64>().ok().and_then(|place| place.try_into().ok()).map(Self).ok_or(())
    }
}

/// The parameters of a request, as they are read one by one.
pub struct Parameters {
    pairs: Vec<(String, String)>,
    known: Vec<&'static str>,
    problems: Problems,
}

impl<S: Send + Sync> FromRequestParts<S> for Parameters {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, Problem> {
        let pairs = Query::from_request_parts(parts, state).await.map(|Query(pairs)| pairs);
        Ok(Self { pairs: pairs.unwrap_or_default(), known: Vec::new(), problems: Problems::default() })
    }
}

impl Parameters {
    /// Reads with `read`; refuses what could not be read and what `read` did not ask for, all at once.
    pub fn read<T>(mut self, read: impl FnOnce(&mut Self) -> T) -> Result<T, Error> {
        let value = read(&mut self);
        let Self { pairs, known, mut problems } = self;
        for (name, value) in pairs {
            if !known.contains(&name.as_str()) {
                let accepted = format!("only the parameters {}", known.join(", "));
                problems.add(format!("/{}", escaped(&name)), format!("{value:?}"), accepted);
            }
        }
        problems.into_result().map_err(Error::Invalid)?;
        Ok(value)
    }

    /// A parameter as it stands; the last of several.
    pub fn text(&mut self, name: &'static str) -> Option<String> {
        self.known.push(name);
        self.pairs.iter().rev().find(|(given, _)| given == name).map(|(_, value)| value.clone())
    }

    /// A parameter of a type with a form of its own, which `accepted` says in words.
    pub fn parsed<T: FromStr>(&mut self, name: &'static str, accepted: &str) -> Option<T> {
        let text = self.text(name)?;
        let parsed = text.parse().ok();
        if parsed.is_none() {
            self.problems.add(format!("/{name}"), format!("{text:?}"), accepted);
        }
        parsed
    }

    /// The values of a parameter that may be given again, or with commas between them, in order.
    pub fn list<T: FromStr>(&mut self, name: &'static str, accepted: &str) -> Vec<T> {
        self.known.push(name);
        let given = self.pairs.iter().filter(|(given, _)| given == name);
        let mut values = Vec::new();
        for (index, text) in given.flat_map(|(_, texts)| texts.split(',')).enumerate() {
            match text.parse() {
                Ok(value) => values.push(value),
                Err(_) => self.problems.add(format!("/{name}/{index}"), format!("{text:?}"), accepted),
            }
        }
        values
    }

    /// A word of a few; the usual one where absent.
    pub fn word<T: DeserializeOwned + Default>(&mut self, name: &'static str, accepted: &str) -> T {
        self.said(name, accepted).unwrap_or_default()
    }

    /// A word of a few; nothing where absent.
    pub fn said<T: DeserializeOwned>(&mut self, name: &'static str, accepted: &str) -> Option<T> {
        let text = self.text(name)?;
        let word: StrDeserializer<'_, Unread> = text.as_str().into_deserializer();
        let read = T::deserialize(word).ok();
        if read.is_none() {
            self.problems.add(format!("/{name}"), format!("{text:?}"), accepted);
        }
        read
    }

    /// A word of a few that must be said.
    pub fn needed<T: DeserializeOwned>(&mut self, name: &'static str, accepted: &str) -> Option<T> {
        if !self.pairs.iter().any(|(given, _)| given == name) {
            self.problems.add(format!("/{name}"), "nothing", accepted);
        }
        self.said(name, accepted)
    }

    /// Which part of a list whose pages hold at most `most`.
    pub fn paging(&mut self, most: u32) -> Paging {
        let page_size = self.parsed("page_size", &format!("a whole number, 1 to {most}"));
        Paging { page_size, page_token: self.text("page_token").unwrap_or_default() }
    }

    /// Which part of a list of what is kept, where nothing else can be asked for.
    pub fn only_paging(self) -> Result<Paging, Error> {
        self.read(|parameters| parameters.paging(MAX_PAGE_SIZE))
    }
}

/// Most items on a page of what is kept.
pub const MAX_PAGE_SIZE: u32 = baycast_service::records::MAX_PAGE_SIZE;
