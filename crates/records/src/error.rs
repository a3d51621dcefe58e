//! Why a record is not read or kept: one closed set, without any database's own words in its shape.

use std::fmt;

use serde::{Deserialize, Serialize};

/// The outcome of an operation on the records.
pub type Result<T, E = Error> = std::result::Result<T, E>;

/// Every way in which the records decline.
///
/// Serialised, because an answer kept under an idempotency key may hold refusals of single entries.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Error {
    /// There is no such thing on this farm; also said of what belongs to another farm.
    #[error("there is no {what} `{name}`")]
    NotFound {
        /// The kind of thing.
        what: Thing,
        /// The name asked for.
        name: String,
    },
    /// It cannot be together with what is there.
    #[error("{what}")]
    Conflict {
        /// What is in the way.
        what: Clash,
    },
    /// Changed by someone else since the caller read it.
    #[error("version {given} was given, the current one is {current}")]
    Stale {
        /// The version the caller expected.
        given: i64,
        /// The version there is.
        current: i64,
    },
    /// A value that is not taken.
    #[error("`{field}`: {given} given, {accepted} is taken")]
    Invalid {
        /// The field.
        field: String,
        /// The value given, shortened.
        given: String,
        /// What would be taken.
        accepted: String,
    },
    /// Entries of an all-or-nothing append that are refused; nothing of it was kept.
    #[error("{} of the entries are refused, nothing was kept", .0.len())]
    Refused(Vec<Refusal>),
    /// The database cannot be reached or is busy: the same call may succeed later. Whether a write was kept is not known
    /// unless it carried an idempotency key or the caller's own ids.
    #[error("the records cannot be reached: {detail}")]
    Unavailable {
        /// What the database said.
        detail: String,
    },
    /// A file of a backup that cannot be used.
    #[error("{path}: {problem}; {expected}")]
    File {
        /// Where it is.
        path: String,
        /// What is wrong with it.
        problem: String,
        /// What would be taken.
        expected: String,
    },
    /// The database can be read and takes nothing: a standby, or a file on what may only be read.
    #[error("the records can only be read: {detail}")]
    ReadOnly {
        /// What the database said.
        detail: String,
    },
    /// No room left on the disk.
    #[error("there is no room left for records: {detail}")]
    Full {
        /// What the database said.
        detail: String,
    },
    /// What is stored does not read back as what was written.
    #[error("the records are damaged: {detail}")]
    Corrupt {
        /// What is wrong.
        detail: String,
    },
    /// Written by a newer version of this crate.
    #[error("the records have schema {found}, this version knows {known}: use a newer version")]
    NewerSchema {
        /// The schema found.
        found: i64,
        /// The newest schema known.
        known: i64,
    },
}

/// One refused entry of an append.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Refusal {
    /// Its place in the list of entries, from 0.
    pub index: usize,
    /// Why.
    pub error: Error,
}

/// The kinds of things there are.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Thing {
    /// A farm.
    Farm,
    /// A bay.
    Bay,
    /// A feedstock.
    Feedstock,
    /// A batch.
    Batch,
    /// An event.
    Event,
    /// An API key.
    Key,
    /// A feed address.
    Feed,
    /// A webhook.
    Webhook,
    /// A message to a webhook.
    Delivery,
    /// A farm's season.
    Season,
}

impl fmt::Display for Thing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Farm => "farm",
            Self::Bay => "bay",
            Self::Feedstock => "feedstock",
            Self::Batch => "batch",
            Self::Event => "event",
            Self::Key => "key",
            Self::Feed => "feed",
            Self::Webhook => "webhook",
            Self::Delivery => "delivery",
            Self::Season => "season",
        })
    }
}

/// What is in the way.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Clash {
    /// The name is taken.
    #[error("there is already a {what} `{name}`")]
    Exists {
        /// The kind of thing.
        what: Thing,
        /// The name.
        name: String,
    },
    /// Put away: it takes no more events or changes until it is brought back.
    #[error("the {what} `{name}` is archived")]
    Archived {
        /// The kind of thing.
        what: Thing,
        /// The name.
        name: String,
    },
    /// There are as many as there may be.
    #[error("a farm has at most {most} {what}s")]
    TooMany {
        /// The kind of thing.
        what: Thing,
        /// The most there may be.
        most: usize,
    },
    /// The event was corrected or retracted before.
    #[error("event {event} was superseded before")]
    Superseded {
        /// The event.
        event: String,
    },
    /// A correction named another of the caller's own ids than the event it corrects.
    #[error("a correction keeps the own id of the event it corrects")]
    OwnId,
    /// The idempotency key was used for another request.
    #[error("the idempotency key `{key}` was used for another request")]
    IdempotencyKey {
        /// The key.
        key: String,
    },
    /// A merge that would make a batch part of itself.
    #[error("merging `{source_batch}` would make the batch part of itself")]
    Cycle {
        /// The batch to be merged.
        source_batch: String,
    },
    /// Merges within merges, deeper than a history may be.
    #[error("merging `{source_batch}` nests merges more than {most} deep")]
    TooDeep {
        /// The batch to be merged.
        source_batch: String,
        /// The most levels taken.
        most: usize,
    },
    /// The database refused what no check foresaw, as when two replicas write at once.
    #[error("in conflict with another record: {detail}")]
    Constraint {
        /// What the database said.
        detail: String,
    },
}

impl Error {
    /// Nothing by that name.
    pub(crate) fn missing(what: Thing, name: impl Into<String>) -> Self {
        Self::NotFound { what, name: name.into() }
    }

    /// Something in the way.
    pub(crate) fn clash(what: Clash) -> Self {
        Self::Conflict { what }
    }

    /// Does not read back.
    pub(crate) fn corrupt(detail: impl fmt::Display) -> Self {
        Self::Corrupt { detail: detail.to_string() }
    }

    /// Not taken.
    pub(crate) fn invalid(field: impl Into<String>, given: &str, accepted: impl Into<String>) -> Self {
        let shown: String = given.chars().take(64).collect();
        Self::Invalid { field: field.into(), given: format!("{shown:?}"), accepted: accepted.into() }
    }
}
