//! From a message to a reading on disk, however long that takes.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::Duration;

use baycast_service::records::ProbeOutcome;
use baycast_service::{Caller, Error, Service};
use rumqttc::v5::mqttbytes::v5::PubAckReason;
use tokio::sync::watch;

use crate::backoff::Backoff;
use crate::job::Job;
use crate::mapping::{Mappings, Unusable};
use crate::tally::Tally;

/// The first wait for records that are away, and the longest.
const WAITS: (Duration, Duration) = (Duration::from_millis(200), Duration::from_secs(5));

/// What records messages.
pub struct Recorder {
    service: Service,
    caller: Caller,
    client_id: String,
    mappings: Mappings,
    /// Set once no message is to be waited with any more.
    stopping: watch::Receiver<bool>,
    /// Messages of connections before this one are sent again by the broker.
    sent_again_before: AtomicU64,
    tally: Arc<Tally>,
    /// Whether readings wait for the records, which is told when it begins and ends.
    waiting: AtomicBool,
}

impl Recorder {
    /// Records what `mappings` read, as `caller`.
    pub fn new(
        service: Service,
        caller: Caller,
        client_id: &str,
        mappings: Mappings,
        stopping: watch::Receiver<bool>,
    ) -> Self {
        let (sent_again_before, tally) = (AtomicU64::default(), Arc::default());
        Self {
            service,
            caller,
            client_id: client_id.to_owned(),
            mappings,
            stopping,
            sent_again_before,
            tally,
            waiting: AtomicBool::default(),
        }
    }

    /// What became of the messages so far.
    pub fn tally(&self) -> &Arc<Tally> {
        &self.tally
    }

    /// Whether no message is to be waited with any more.
    pub fn is_stopping(&self) -> bool {
        *self.stopping.borrow()
    }

    /// The broker kept the session and sends again, over this connection, what was not acknowledged.
    pub fn sent_again(&self, connection: u64) {
        self.sent_again_before.store(connection, Ordering::Relaxed);
    }

    /// Records one message and says what to tell the broker; nothing where the broker is to keep it.
    ///
    /// A message that can't be used is told in the log and is done with. Records that are away are waited for.
    pub async fn record(&self, job: &Job) -> Option<PubAckReason> {
        let reading = match self.mappings.read(job, &self.client_id) {
            Ok(reading) => reading,
            Err(Unusable::Topic(reason)) => {
                return Some(self.refuse(job, &reason, PubAckReason::TopicNameInvalid));
            }
            Err(Unusable::Payload(reason)) => {
                return Some(self.refuse(job, &reason, PubAckReason::PayloadFormatInvalid));
            }
        };
        let mut backoff = Backoff::new(WAITS.0, WAITS.1);
        let mut stopping = self.stopping.clone();
        loop {
            if job.packet != 0 && job.connection < self.sent_again_before.load(Ordering::Relaxed) {
                return None;
            }
            match self.service.record_probe(&self.caller, &reading).await {
                Ok(ProbeOutcome::Recorded) => self.tally.recorded(),
                Ok(ProbeOutcome::Known) => self.tally.known(),
                Err(error) if passes(&error) => {
                    self.tally.postponed();
                    if !self.waiting.swap(true, Ordering::Relaxed) {
                        tracing::warn!(topic = job.topic, %error, "probes' readings wait");
                    }
                    tokio::select! {
                        () = tokio::time::sleep(backoff.step()) => continue,
                        _ = stopping.wait_for(|stopping| *stopping) => return None,
                    }
                }
                Err(error) => {
                    let reason = match &error {
                        Error::Invalid(_) => PubAckReason::PayloadFormatInvalid,
                        Error::NotFound { .. } => PubAckReason::TopicNameInvalid,
                        _ => PubAckReason::ImplementationSpecificError,
                    };
                    return Some(self.refuse(job, &error.detail(), reason));
                }
            }
            if self.waiting.swap(false, Ordering::Relaxed) {
                tracing::info!("probes' readings are recorded again");
            }
            return Some(PubAckReason::Success);
        }
    }

    /// Tells of a message that can't be used.
    fn refuse(&self, job: &Job, reason: &str, told: PubAckReason) -> PubAckReason {
        let unusable = self.tally.unusable();
        tracing::warn!(topic = job.topic, reason, unusable, "a probe's message can't be used");
        told
    }
}

/// Whether the same reading may be taken later: the fault is not its own.
fn passes(error: &Error) -> bool {
    match error {
        Error::Unavailable { .. }
        | Error::Busy { .. }
        | Error::TooOften { .. }
        | Error::Deadline
        | Error::Internal => true,
        Error::Malformed { .. }
        | Error::Invalid(_)
        | Error::TooLarge { .. }
        | Error::UnsupportedMediaType { .. }
        | Error::NotFound { .. }
        | Error::Unauthenticated
        | Error::Forbidden { .. }
        | Error::Conflict(_)
        | Error::Stale { .. } => false,
    }
}
