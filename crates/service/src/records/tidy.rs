//! Throwing out what the records need no longer.

use std::time::Duration;

use jiff::Timestamp;

use crate::error::Error;
use crate::records::refusal;
use crate::service::Service;

/// How long changes of readiness are kept for those who follow them.
const CHANGES_KEPT: Duration = Duration::from_hours(30 * 24);

impl Service {
    /// Forgets idempotency keys whose time is over and changes of readiness that are 30 days old. Once an hour is enough.
    pub async fn tidy(&self) -> Result<(), Error> {
        let store = self.store()?;
        let now = store.now();
        let keys = store.records.forget_expired_keys(now).await.map_err(refusal::of)?;
        let oldest = now.saturating_sub(CHANGES_KEPT).unwrap_or(Timestamp::MIN);
        let changes = store.records.forget_readiness_changes(oldest).await.map_err(refusal::of)?;
        tracing::debug!(keys, changes, "tidied");
        Ok(())
    }
}
