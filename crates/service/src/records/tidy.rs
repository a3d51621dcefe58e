//! Throwing out what the records need no longer.

use std::time::Duration;

use jiff::Timestamp;

use crate::error::Error;
use crate::records::refusal;
use crate::service::Service;

/// How long a notice waits for someone to pass it on.
const NOTICES_KEPT: Duration = Duration::from_hours(30 * 24);

impl Service {
    /// Forgets idempotency keys whose time is over and notices that nobody came for. Once an hour is enough.
    pub async fn tidy(&self) -> Result<(), Error> {
        let store = self.store()?;
        let now = store.now();
        let keys = store.records.forget_expired_keys(now).await.map_err(refusal::of)?;
        let oldest = now.saturating_sub(NOTICES_KEPT).unwrap_or(Timestamp::MIN);
        let notices = store.records.forget_notices(oldest).await.map_err(refusal::of)?;
        tracing::debug!(keys, notices, "tidied");
        Ok(())
    }
}
