//! Delivers what waits for webhooks: signed CloudEvents over HTTP, each at least once and always under the same id.
//!
//! A delivery is claimed under a lease, sent, and settled; one that a stopped process held is claimed again once the lease is
//! over. A webhook has one delivery under way at a time, so that a slow receiver holds up nobody but itself. What happened to
//! a batch, and who is told, is the service's to say; `EVENTS.md` has it for whoever receives.
//!
//! Every attempt looks its host up, checks the addresses by the service's [`Destinations`] and connects to one that was
//! checked, so that no name leads where messages must not go. Redirects are not followed.
//!
//! [`Destinations`]: baycast_service::destination::Destinations

mod answer;
mod attempt;
mod deliverer;
mod retry;
mod signature;
mod tally;

use std::sync::Arc;
use std::time::Duration;

use baycast_service::{Now, Service};
use tokio::sync::watch;
use tokio::task::JoinHandle;

use crate::attempt::Sender;
use crate::deliverer::Deliverer;
pub use crate::retry::Retries;
pub use crate::tally::Tally;

/// How messages are sent.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Settings {
    /// When what failed is tried again.
    pub retries: Retries,
    /// How long one attempt may take.
    pub timeout: Duration,
}

impl Default for Settings {
    /// Fifteen seconds for an attempt, and the usual retries.
    fn default() -> Self {
        Self { retries: Retries::default(), timeout: Duration::from_secs(15) }
    }
}

/// Deliveries under way.
#[derive(Debug)]
pub struct Deliveries {
    stop: watch::Sender<bool>,
    task: JoinHandle<()>,
    tally: Arc<Tally>,
}

/// Begins to deliver what waits in the service's records. What is sent is signed at the time that `now` tells: that of the
/// world, since receivers take no other.
#[must_use]
pub fn start(service: Service, now: Now, settings: Settings) -> Deliveries {
    let (stop, stopped) = watch::channel(false);
    let sender = Sender::new(service.clone(), now, settings.timeout);
    let deliverer = Deliverer::new(service, sender, settings.retries);
    let tally = deliverer.tally();
    Deliveries { stop, task: tokio::spawn(deliverer.run(stopped)), tally }
}

impl Deliveries {
    /// What became of the attempts so far.
    #[must_use]
    pub fn tally(&self) -> Arc<Tally> {
        self.tally.clone()
    }

    /// Begins no more, and finishes those under way.
    pub async fn stop(self) {
        let _ = self.stop.send(true);
        if self.task.await.is_err() {
            tracing::error!("the deliveries to webhooks had failed");
        }
    }
}
