//! Appending: what a caller asks to be recorded, and the answer.

use baycast_model::history::Event;
use serde::{Deserialize, Serialize};

use crate::error::{Error, Result};
use crate::event_id::EventId;
use crate::group;
use crate::idempotency;
use crate::names::check;
use crate::records::Records;
use crate::stamp::Stamp;
use crate::writer::Request;

/// Most entries of one append.
const MOST_ENTRIES: usize = 100_000;

/// One thing to record. The caller's own id is the event's `id`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Entry {
    /// A new event. One whose own id is there with the same content is left as it is; with another it is refused.
    Add {
        /// The event.
        event: Event,
    },
    /// A new event, or a correction of the one with the same own id, which it must have.
    Upsert {
        /// The event.
        event: Event,
    },
    /// A correction.
    Correct {
        /// The event that it takes the place of.
        supersedes: EventId,
        /// What is right.
        event: Event,
    },
    /// An event that did not happen.
    Retract {
        /// The event.
        supersedes: EventId,
    },
}

/// An entry and the batch it is for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Placed {
    /// The batch.
    pub batch: String,
    /// The entry.
    pub entry: Entry,
}

/// What becomes of an append where an entry is refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Mode {
    /// Nothing is kept.
    AllOrNothing,
    /// The others are kept.
    KeepGood,
}

/// Entries for one farm, kept in one transaction in the order given.
#[derive(Clone, Debug, PartialEq)]
pub struct Append {
    /// The farm.
    pub farm: String,
    /// The entries, at most 100 000.
    pub entries: Vec<Placed>,
    /// What becomes of it where an entry is refused.
    pub mode: Mode,
    /// For 24 hours the same key by the same caller with the same entries gets the same answer and records nothing again.
    pub idempotency_key: Option<String>,
}

/// What became of an entry.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    /// Recorded as new.
    Added,
    /// Recorded in place of another.
    Replaced,
    /// It was there already.
    Unchanged,
    /// Its event no longer counts.
    Retracted,
}

/// An entry that was taken.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Appended {
    /// The batch.
    pub batch: String,
    /// The event's id.
    pub id: EventId,
    /// What became of it.
    pub outcome: Outcome,
    /// The batch's `event_version` after it.
    pub event_version: i64,
}

/// The answer to an append; all that it says is on disk.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Answer {
    /// What became of each entry, in order. Refusals stand here only with [`Mode::KeepGood`].
    pub entries: Vec<Result<Appended>>,
    /// Whether this is the kept answer to an earlier request with the same key.
    pub replayed: bool,
}

impl Records {
    /// Records entries in one transaction, together with whatever else waits; returns when they are on disk.
    ///
    /// Where one entry is refused with [`Mode::AllOrNothing`], the error is its own for a single entry and
    /// [`Error::Refused`] for several. After [`Error::Unavailable`] a caller who gave an idempotency key, or own ids,
    /// repeats the call without fear of recording twice. A caller who stops waiting does not undo the append.
    pub async fn append(&self, append: Append, stamp: &Stamp) -> Result<Answer> {
        let request = request(append, stamp)?;
        if request.append.entries.is_empty() {
            return Ok(Answer { entries: vec![], replayed: false });
        }
        self.writers.append(request).await
    }

    /// What [`Records::append`] would answer at this moment, by the same rules; nothing is recorded. The ids in it are
    /// not given to anything.
    pub async fn rehearse(&self, append: Append, stamp: &Stamp) -> Result<Answer> {
        group::rehearse(self.store.as_ref(), &request(append, stamp)?).await
    }

    /// Records a single entry.
    pub async fn record(
        &self,
        farm: &str,
        batch: &str,
        entry: Entry,
        idempotency_key: Option<&str>,
        stamp: &Stamp,
    ) -> Result<Appended> {
        let append = Append {
            farm: farm.into(),
            entries: vec![Placed { batch: batch.into(), entry }],
            mode: Mode::AllOrNothing,
            idempotency_key: idempotency_key.map(str::to_owned),
        };
        let answer = self.append(append, stamp).await?;
        let only = answer.entries.into_iter().next();
        only.ok_or_else(|| Error::corrupt("an answer without its entry"))?
    }
}

/// An append that is not refused as a whole for its length or its names.
fn request(append: Append, stamp: &Stamp) -> Result<Request> {
    if append.entries.len() > MOST_ENTRIES {
        let given = append.entries.len().to_string();
        return Err(Error::invalid("entries", &given, format!("at most {MOST_ENTRIES}")));
    }
    if let Some(key) = &append.idempotency_key {
        check("idempotency_key", key)?;
    }
    check("recorded_by", &stamp.by)?;
    let hash = idempotency::request_hash(&append)?;
    Ok(Request { append, hash, stamp: stamp.clone() })
}
