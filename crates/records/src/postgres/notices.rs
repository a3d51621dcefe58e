//! Hears what this and other replicas committed, by LISTEN.

use std::time::Duration;

use sqlx::postgres::{PgListener, PgPool};
use tokio::sync::broadcast;
use tokio::task::JoinHandle;

use crate::changes::Change;
use crate::error::Result;

/// The channel of all notices.
pub(super) const CHANNEL: &str = "baycast_changes";
/// Pause before connecting again.
const PAUSE: Duration = Duration::from_millis(500);

/// Passes on every notice until aborted. A broken connection is made anew, and that word may have been missed is told.
pub(super) async fn listen(pool: &PgPool, changes: broadcast::Sender<Change>) -> Result<JoinHandle<()>> {
    let mut listener = PgListener::connect_with(pool).await?;
    listener.listen(CHANNEL).await?;
    Ok(tokio::spawn(async move {
        loop {
            let change = match listener.try_recv().await {
                Ok(Some(notice)) => serde_json::from_str(notice.payload()).unwrap_or(Change::Unknown),
                Ok(None) => Change::Unknown,
                Err(_) => {
                    tokio::time::sleep(PAUSE).await;
                    Change::Unknown
                }
            };
            // Nobody listening is no fault.
            let _ = changes.send(change);
        }
    }))
}
