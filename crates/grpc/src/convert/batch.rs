//! Batches of a farm, in both directions.

use baycast_service::Error;
use baycast_service::records::{Batch, BatchesShown};

use super::history::list;
use super::incoming::Incoming;
use super::window::criteria;
use super::word::word;
use crate::proto;

word!(BatchesShown, proto::BatchesShown { Active All });

/// A caller's batch, or everything in it that cannot be read. What is recorded of it, and when it was put away, are
/// not a caller's to say.
pub fn batch(message: Option<proto::Batch>) -> Result<Batch, Error> {
    Incoming::required(message, "batch", |message, at, incoming| {
        let proto::Batch {
            id,
            name,
            start_bay,
            horizon_days,
            forecast_step_days,
            criteria: own_criteria,
            event_version: _,
            last_event: _,
            etag,
            archived: _,
        } = message;
        Batch {
            id,
            name,
            start_bay,
            horizon_days,
            forecast_step_days,
            criteria: list(own_criteria, at.member("criteria"), incoming, criteria),
            event_version: 0,
            last_event: None,
            etag,
            archived: None,
        }
    })
}

impl From<Batch> for proto::Batch {
    fn from(batch: Batch) -> Self {
        let Batch {
            id,
            name,
            start_bay,
            horizon_days,
            forecast_step_days,
            criteria,
            event_version,
            last_event,
            etag,
            archived,
        } = batch;
        Self {
            id,
            name,
            start_bay,
            horizon_days,
            forecast_step_days,
            criteria: criteria.into_iter().map(Into::into).collect(),
            event_version,
            last_event,
            etag,
            archived: archived.map(|at| at.to_string()),
        }
    }
}
