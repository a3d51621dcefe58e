//! Why a request is not answered: one closed set, rendered by each front end.

use baycast_model::problem::{Problem, Problems};

/// Every way in which the service declines.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Error {
    /// The text is not JSON.
    #[error("malformed JSON at `{pointer}`: {detail}")]
    Malformed {
        /// JSON Pointer to the place reached when the text stopped being JSON.
        pointer: String,
        /// What was found there, with line and column.
        detail: String,
    },
    /// Fields that cannot be used, all at once.
    #[error("{0}")]
    Invalid(Problems),
    /// More than is taken.
    #[error("{what}: {}, at most {limit} are taken", given.map_or("too many given".to_owned(), |n| format!("{n} given")))]
    TooLarge {
        /// What there is too much of.
        what: Quantity,
        /// The most that is taken.
        limit: u64,
        /// What was given, where it was counted to the end.
        given: Option<u64>,
    },
    /// The content is not of a type that is read.
    #[error("{given} is not read here, only {accepted}")]
    UnsupportedMediaType {
        /// The type given.
        given: String,
        /// The types that are read.
        accepted: &'static str,
    },
    /// There is nothing by that name.
    #[error("there is no {what} `{name}`")]
    NotFound {
        /// The kind of thing asked for.
        what: &'static str,
        /// The name asked for.
        name: String,
    },
    /// No key where one is needed, or one that is not good: unknown or revoked.
    #[error("a good API key is needed: `Authorization: Bearer <key>`")]
    Unauthenticated,
    /// The key reaches the farm, but its scope does not allow this.
    #[error("the key's scope does not allow this: {needed} is needed")]
    Forbidden {
        /// The lowest scope that allows it.
        needed: &'static str,
    },
    /// It cannot be together with what is there.
    #[error("{0}")]
    Conflict(Conflict),
    /// Changed by someone else since the caller read it.
    #[error("changed meanwhile: version {given} was given, the current one is {current}")]
    Stale {
        /// The version the caller expected.
        given: i64,
        /// The version there is.
        current: i64,
    },
    /// Something that this hangs on is out for a while; the same call may succeed later.
    #[error("{outage}, try again in {retry_after_s} s")]
    Unavailable {
        /// What is out.
        outage: Outage,
        /// When to come back, s.
        retry_after_s: u64,
    },
    /// Every worker is taken and the queue is full.
    #[error("more work than can be taken in now, try again in {retry_after_s} s")]
    Busy {
        /// When to come back, s.
        retry_after_s: u64,
    },
    /// The caller calls more often than one may.
    #[error("more requests than one caller may make, try again in {retry_after_s} s")]
    TooOften {
        /// When to come back, s.
        retry_after_s: u64,
    },
    /// The request took longer than it may.
    #[error("not done within the time allowed")]
    Deadline,
    /// A fault of the service itself.
    #[error("the service failed")]
    Internal,
}

/// What is out for a while.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Outage {
    /// The records' database.
    #[error("the records cannot be reached now")]
    Reach,
    /// Room on its disk.
    #[error("there is no room left for records: nothing can be recorded now")]
    Room,
    /// Writing to it.
    #[error("the records can only be read: nothing can be recorded now")]
    Writing,
    /// This process, which is shutting down.
    #[error("the service is shutting down here")]
    Process,
}

/// What is in the way.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Conflict {
    /// The name is taken.
    #[error("there is already a {what} `{name}`")]
    Exists {
        /// The kind of thing.
        what: &'static str,
        /// The name.
        name: String,
    },
    /// What is there does not allow it as it stands: archived, superseded before, or the idempotency key was used for
    /// something else.
    #[error("{detail}")]
    State {
        /// Why.
        detail: String,
    },
}

/// What a limit is set on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Quantity {
    /// Bytes of one request body.
    BodyBytes,
    /// Bytes of one line of a stream.
    LineBytes,
    /// Events of a history, its sources' included.
    Events,
    /// Levels of histories within histories.
    SourceLevels,
    /// Days of weather of a history.
    WeatherDays,
    /// Bays, feedstocks, criteria and layers of a history, its sources' included.
    Rows,
    /// Events brought in at once.
    EventsAtOnce,
    /// Events of all batches of a season, their sources' included.
    SeasonEvents,
    /// Days of weather of a batch of a season, its sources' included.
    BatchWeatherDays,
}

impl Quantity {
    /// JSON Pointer to the field that holds it; empty for the whole.
    #[must_use]
    pub fn pointer(self) -> &'static str {
        match self {
            Self::BodyBytes | Self::LineBytes | Self::Rows | Self::EventsAtOnce => "",
            Self::Events => "/events",
            Self::SourceLevels => "/sources",
            Self::WeatherDays => "/site/daily",
            Self::SeasonEvents | Self::BatchWeatherDays => "/batches",
        }
    }
}

impl std::fmt::Display for Quantity {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::BodyBytes => "bytes of body",
            Self::LineBytes => "bytes in a line",
            Self::Events => "events, those of sources included",
            Self::SourceLevels => "levels of sources",
            Self::WeatherDays => "days of weather",
            Self::Rows => "bays, layers, feedstocks and criteria",
            Self::EventsAtOnce => "events at once",
            Self::SeasonEvents => "events of all batches, those of sources included",
            Self::BatchWeatherDays => "days of weather for one batch",
        })
    }
}

impl Error {
    /// The kind in snake case: a word that stays the same, from which front ends make their identifiers.
    #[must_use]
    pub fn kind(&self) -> &'static str {
        match self {
            Self::Malformed { .. } => "malformed",
            Self::Invalid(_) => "invalid",
            Self::TooLarge { .. } => "too_large",
            Self::UnsupportedMediaType { .. } => "unsupported_media_type",
            Self::NotFound { .. } => "not_found",
            Self::Unauthenticated => "unauthenticated",
            Self::Forbidden { .. } => "forbidden",
            Self::Conflict(_) => "conflict",
            Self::Stale { .. } => "stale",
            Self::Unavailable { .. } => "unavailable",
            Self::Busy { .. } => "busy",
            Self::TooOften { .. } => "too_often",
            Self::Deadline => "deadline",
            Self::Internal => "internal",
        }
    }

    /// The kind as a URN, the `type` of RFC 9457.
    #[must_use]
    pub fn urn(&self) -> String {
        format!("urn:baycast:problem:{}", self.kind())
    }

    /// The kind in a few words.
    #[must_use]
    pub fn title(&self) -> &'static str {
        match self {
            Self::Malformed { .. } => "Not JSON",
            Self::Invalid(_) => "Fields that cannot be used",
            Self::TooLarge { .. } => "Too large",
            Self::UnsupportedMediaType { .. } => "Content type not read",
            Self::NotFound { .. } => "Not found",
            Self::Unauthenticated => "Key needed",
            Self::Forbidden { .. } => "Not allowed with this key",
            Self::Conflict(_) => "In conflict with what is there",
            Self::Stale { .. } => "Changed meanwhile",
            Self::Unavailable { .. } => "Out for a while",
            Self::Busy { .. } => "Too busy",
            Self::TooOften { .. } => "Too many requests",
            Self::Deadline => "Out of time",
            Self::Internal => "Service failure",
        }
    }

    /// What happened this time, short where many fields are at fault: [`Error::fields`] has them all.
    #[must_use]
    pub fn detail(&self) -> String {
        match self {
            Self::Invalid(Problems(problems)) => match problems.as_slice() {
                [only] => only.to_string(),
                [first, rest @ ..] => format!("{first}; and {} more", rest.len()),
                [] => "the history cannot be used".to_owned(),
            },
            other => other.to_string(),
        }
    }

    /// When to come back, s, where coming back may help.
    #[must_use]
    pub fn retry_after_s(&self) -> Option<u64> {
        match self {
            Self::Unavailable { retry_after_s, .. }
            | Self::Busy { retry_after_s }
            | Self::TooOften { retry_after_s } => Some(*retry_after_s),
            _ => None,
        }
    }

    /// Whether it is what the records told of themselves in the log when it began.
    #[must_use]
    pub fn is_outage(&self) -> bool {
        matches!(self, Self::Unavailable { .. })
    }

    /// Every field at fault, in one form for all kinds that have any.
    #[must_use]
    pub fn fields(&self) -> Vec<Problem> {
        match self {
            Self::Invalid(Problems(problems)) => problems.clone(),
            Self::Malformed { pointer, .. } => vec![Problem {
                pointer: pointer.clone(),
                value: "no JSON value".to_owned(),
                accepted: "JSON (RFC 8259), each member once; it has no NaN and no Infinity".to_owned(),
            }],
            Self::TooLarge { what, limit, given } => vec![Problem {
                pointer: what.pointer().to_owned(),
                value: given.map_or_else(|| format!("more than {limit}"), |given| given.to_string()),
                accepted: format!("at most {limit} {what}"),
            }],
            Self::UnsupportedMediaType { .. }
            | Self::NotFound { .. }
            | Self::Unauthenticated
            | Self::Forbidden { .. }
            | Self::Conflict(_)
            | Self::Stale { .. }
            | Self::Unavailable { .. }
            | Self::Busy { .. }
            | Self::TooOften { .. }
            | Self::Deadline
            | Self::Internal => Vec::new(),
        }
    }
}
