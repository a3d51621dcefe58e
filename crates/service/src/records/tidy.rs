//! Throwing out what the records need no longer.

use std::time::Duration;

use jiff::Timestamp;

use crate::error::Error;
use crate::records::refusal;
use crate::service::Service;

/// How long a notice waits for someone to pass it on.
const NOTICES_KEPT: Duration = Duration::from_hours(30 * 24);

/// How long a message that a webhook took is kept.
const DELIVERED_KEPT: Duration = Duration::from_hours(30 * 24);

/// How long one that was given up, or waits for a webhook that is disabled, can be replayed.
const UNDELIVERED_KEPT: Duration = Duration::from_hours(90 * 24);

impl Service {
    /// Forgets idempotency keys whose time is over, notices that nobody came for, and old deliveries. Once an hour is enough.
    pub async fn tidy(&self) -> Result<(), Error> {
        let store = self.store()?;
        let now = store.now();
        let keys = store.records.forget_expired_keys(now).await.map_err(refusal::of)?;
        let oldest = now.saturating_sub(NOTICES_KEPT).unwrap_or(Timestamp::MIN);
        let notices = store.records.forget_notices(oldest).await.map_err(refusal::of)?;
        let [delivered, others] =
            [DELIVERED_KEPT, UNDELIVERED_KEPT].map(|kept| now.saturating_sub(kept).unwrap_or(Timestamp::MIN));
        let deliveries = store.records.forget_deliveries(delivered, others).await.map_err(refusal::of)?;
        tracing::debug!(keys, notices, deliveries, "tidied");
        Ok(())
    }
}
