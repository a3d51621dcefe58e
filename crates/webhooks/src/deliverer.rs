//! The task that claims deliveries, has them sent and notes what became of them.

use std::sync::Arc;
use std::time::Duration;

use baycast_service::records::{Attempted, ClaimedDelivery};
use baycast_service::{Error, Service};
use tokio::sync::watch;
use tokio::task::JoinSet;

use crate::answer::Answer;
use crate::attempt::Sender;
use crate::retry::Retries;
use crate::tally::Tally;

/// Deliveries under way at once.
const MOST_UNDER_WAY: usize = 64;

/// How often what waits is looked for: other replicas put messages in as well.
const LOOK: Duration = Duration::from_secs(1);

/// How long records that are away are left alone.
const AWAY: Duration = Duration::from_secs(5);

/// How often settling is tried while the records are away. After that the lease runs out, and the message is sent again.
const SETTLING: u32 = 5;

/// What delivers.
#[derive(Clone)]
pub struct Deliverer {
    service: Service,
    sender: Arc<Sender>,
    retries: Retries,
    tally: Arc<Tally>,
}

impl Deliverer {
    /// One that sends with `sender`.
    pub fn new(service: Service, sender: Sender, retries: Retries) -> Self {
        Self { service, sender: Arc::new(sender), retries, tally: Arc::default() }
    }

    /// What became of the attempts so far.
    pub fn tally(&self) -> Arc<Tally> {
        self.tally.clone()
    }

    /// Delivers until told to stop, and then finishes what is under way.
    pub async fn run(self, mut stopped: watch::Receiver<bool>) {
        let mut under_way = JoinSet::new();
        while !*stopped.borrow_and_update() {
            let pause = match self.begin(&mut under_way).await {
                Ok(pause) => pause,
                Err(error) => {
                    if !error.is_outage() {
                        tracing::warn!(%error, "deliveries to webhooks wait for the records");
                    }
                    AWAY
                }
            };
            tokio::select! {
                _ = stopped.changed() => {}
                Some(_) = under_way.join_next() => {}
                () = tokio::time::sleep(pause) => {}
            }
        }
        while under_way.join_next().await.is_some() {}
    }

    /// Begins as many of those that are due as there is room for; how long there is nothing to do.
    async fn begin(&self, under_way: &mut JoinSet<()>) -> Result<Duration, Error> {
        let room = MOST_UNDER_WAY.saturating_sub(under_way.len());
        if room == 0 {
            return Ok(LOOK);
        }
        // A look costs less than a claim, which writes.
        let Some(wait) = self.service.next_delivery_in(self.retries.longest()).await? else {
            return Ok(LOOK);
        };
        if wait > Duration::ZERO {
            return Ok(wait.clamp(Duration::from_millis(10), LOOK));
        }
        for claim in self.service.claim_deliveries(room as u32, self.retries.longest()).await? {
            let own = self.clone();
            under_way.spawn(async move { own.deliver(claim).await });
        }
        Ok(LOOK)
    }

    /// Sends a message once and notes what became of it.
    async fn deliver(self, claim: ClaimedDelivery) {
        let (attempted, outcome) = self.judged(claim.attempt, self.sender.send(&claim).await);
        self.tally.attempted(attempted);
        let (farm, webhook, id, attempt) = (&claim.farm, &claim.webhook, claim.id, claim.attempt);
        match attempted {
            Attempted::Taken => tracing::debug!(farm, webhook, %id, attempt, outcome, "delivered"),
            Attempted::AgainIn(_) => {
                tracing::info!(farm, webhook, %id, attempt, outcome, "not delivered yet");
            }
            Attempted::GivenUp | Attempted::Gone => {
                tracing::warn!(farm, webhook, %id, attempt, outcome, "given up");
            }
        }
        for _ in 0..SETTLING {
            match self.service.settle_delivery(&claim, attempted, &outcome).await {
                Ok(true) => return,
                Ok(false) => {
                    tracing::warn!(farm, webhook, %id, attempt, "settled too late: another attempt was begun");
                    return;
                }
                Err(error) => {
                    tracing::warn!(farm, webhook, %id, %error, "what became of a delivery could not be noted");
                    tokio::time::sleep(LOOK).await;
                }
            }
        }
    }

    /// What an answer to the attempt with this number means.
    fn judged(&self, attempt: u32, answer: Answer) -> (Attempted, String) {
        match answer {
            Answer::Taken(outcome) => (Attempted::Taken, outcome),
            Answer::Gone(outcome) => (Attempted::Gone, outcome),
            Answer::Refused(outcome, asked) => {
                let again = self.retries.wait(attempt, asked).map_or(Attempted::GivenUp, Attempted::AgainIn);
                (again, outcome)
            }
        }
    }
}
