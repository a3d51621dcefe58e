//! Throwing out what the records need no longer.

use std::time::Duration;

use jiff::Timestamp;

use crate::error::Error;
use crate::records::refusal;
use crate::service::Service;

/// How long changes of readiness are kept for those who follow them.
const CHANGES_KEPT: Duration = Duration::from_hours(30 * 24);

/// How long a message that a webhook took is kept.
const DELIVERED_KEPT: Duration = Duration::from_hours(30 * 24);

/// How long one that was given up, or waits for a webhook that is disabled, can be replayed.
const UNDELIVERED_KEPT: Duration = Duration::from_hours(90 * 24);

impl Service {
    /// Forgets idempotency keys whose time is over, changes of readiness that are 30 days old, and old deliveries. Once an hour
    /// is enough.
    pub async fn tidy(&self) -> Result<(), Error> {
        let store = self.store()?;
        let now = store.now();
        let keys = store.records.forget_expired_keys(now).await.map_err(refusal::of)?;
        let ago = |kept| now.saturating_sub(kept).unwrap_or(Timestamp::MIN);
        let changes = store.records.forget_readiness_changes(ago(CHANGES_KEPT)).await.map_err(refusal::of)?;
        let (delivered, others) = (ago(DELIVERED_KEPT), ago(UNDELIVERED_KEPT));
        let deliveries = store.records.forget_deliveries(delivered, others).await.map_err(refusal::of)?;
        tracing::debug!(keys, changes, deliveries, "tidied");
        Ok(())
    }
}
