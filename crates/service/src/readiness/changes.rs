//! Changes of what is told, in the farm's order.

use std::sync::Arc;

use baycast_records::{LoggedChange, Scope};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::error::Error;
use crate::readiness::{BatchReadiness, Readiness};
use crate::records::{Caller, paging, refusal};
use crate::service::Service;

/// A change of what is told of a batch.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ReadinessChange {
    /// The farm's id.
    pub farm: String,
    /// Its place in the farm's changes: one more than that of the change before it.
    pub sequence: u64,
    /// The batch's id.
    pub batch: String,
    /// When it changed.
    #[cfg_attr(feature = "schema", schema(value_type = String, format = DateTime))]
    pub changed_at: Timestamp,
    /// What is told of the batch from now on; absent where it left the feed: it was put away, emptied or joined to another.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub readiness: Option<BatchReadiness>,
}

/// Changes after a place in the farm's order.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ReadinessChanges {
    /// The whole, where the changes since the place asked for are no longer kept; they are then part of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub readiness: Option<Readiness>,
    /// The changes, oldest first.
    pub changes: Vec<ReadinessChange>,
    /// The place to ask from next.
    pub sequence: u64,
}

/// What a watcher is told.
#[derive(Clone, Debug, PartialEq)]
pub enum ReadinessNews {
    /// All that is told of the farm: in place of what was told before.
    Whole(Arc<Readiness>),
    /// One change.
    Change(Arc<ReadinessChange>),
}

impl ReadinessNews {
    /// Up to which change of the farm it is true.
    #[must_use]
    pub fn sequence(&self) -> u64 {
        match self {
            Self::Whole(readiness) => readiness.sequence,
            Self::Change(change) => change.sequence,
        }
    }
}

impl ReadinessChange {
    /// A change as it was logged.
    pub(super) fn logged(farm: &str, logged: LoggedChange) -> Result<Self, Error> {
        let LoggedChange { sequence, batch, content, changed_at } = logged;
        let readiness = content.map(|text| serde_json::from_str(&text)).transpose().map_err(|error| {
            tracing::error!(%error, farm, sequence, "a logged change cannot be read");
            Error::Internal
        })?;
        let sequence = sequence.unsigned_abs();
        Ok(Self { farm: farm.to_owned(), sequence, batch, changed_at, readiness })
    }
}

/// What there is after a place in the farm's order.
pub(super) enum After {
    /// Changes, oldest first, none where there are no more; and the last that there is.
    Changes(Vec<ReadinessChange>, u64),
    /// It is not known what was changed since: the place is older than is kept, or was never reached.
    NotKept,
}

impl Service {
    /// Changes of a farm after the place `after`, oldest first, for those who poll; the whole first where there is no such
    /// place or it is older than is kept.
    pub async fn readiness_changes(
        &self,
        caller: &Caller,
        farm: &str,
        after: Option<u64>,
        page_size: Option<i64>,
    ) -> Result<ReadinessChanges, Error> {
        caller.may(farm, Scope::Read)?;
        let most = match paging::request(page_size, "")?.size {
            0 => paging::USUAL_PAGE_SIZE,
            size => size,
        };
        if let Some(after) = after
            && let After::Changes(changes, _) = self.changes_after(farm, after, most).await?
        {
            let sequence = changes.last().map_or(after, |change| change.sequence);
            return Ok(ReadinessChanges { readiness: None, changes, sequence });
        }
        let readiness = Readiness::clone(&*self.readiness(caller, farm).await?);
        let sequence = readiness.sequence;
        Ok(ReadinessChanges { readiness: Some(readiness), changes: Vec::new(), sequence })
    }

    /// At most `most` changes of the farm after the place `after`, out of the store.
    pub(super) async fn changes_after(&self, farm: &str, after: u64, most: u32) -> Result<After, Error> {
        let store = self.store()?;
        let from = i64::try_from(after).unwrap_or(i64::MAX);
        let found = store.records.readiness_changes(farm, from, most).await.map_err(refusal::of)?;
        if from > found.last || from.saturating_add(1) < found.kept_from {
            return Ok(After::NotKept);
        }
        let changes = found.changes.into_iter().map(|logged| ReadinessChange::logged(farm, logged));
        Ok(After::Changes(changes.collect::<Result<_, _>>()?, found.last.unsigned_abs()))
    }
}
