//! The MQTT 5 front: what probes publish, recorded as readings, at least once and never twice.
//!
//! A message is acknowledged when its reading is on disk and not before, so what a killed server had in hand is sent again;
//! `own_id` says what makes it the same reading. A message that can't be used is told in the log and acknowledged with a
//! reason. While the records are away nothing is acknowledged, and the broker sends at most `receive_maximum` messages.
//!
//! Only conversion lives here: what may be recorded, and where, is the service's to say.

mod acks;
mod backoff;
mod connection;
mod job;
mod lanes;
mod mapping;
mod options;
mod own_id;
mod payload;
mod recorder;
mod settings;
pub mod subscription;
mod tally;
mod topic;

use std::sync::Arc;

use baycast_service::{Error, Now, Service};
use rumqttc::v5::AsyncClient;
use tokio::sync::watch;
use tokio::task::JoinHandle;

pub use job::Job;
pub use mapping::{Fault, Mappings, Unusable};
pub use settings::{Broker, Credentials, Security, Settings};
pub use subscription::Subscription;
pub use tally::Tally;

use crate::connection::Connection;
use crate::recorder::Recorder;

/// Under which name readings are recorded.
const RECORDED_BY: &str = "mqtt";

/// A subscription under way.
#[derive(Debug)]
pub struct Probes {
    stop: watch::Sender<bool>,
    task: JoinHandle<()>,
    tally: Arc<Tally>,
}

/// Why a subscription is not begun.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Refused {
    /// A farm is not there, or there are no records.
    Service(Error),
    /// The certificates can't be used.
    Tls(String),
}

impl std::fmt::Display for Refused {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Service(error) => write!(f, "{error}"),
            Self::Tls(detail) => f.write_str(detail),
        }
    }
}

impl std::error::Error for Refused {}

/// Begins to take what probes publish. The broker need not be there yet; the farms must.
pub async fn start(service: Service, now: Now, settings: Settings) -> Result<Probes, Refused> {
    let caller = service.probes(RECORDED_BY, &settings.mappings.farms()).await.map_err(Refused::Service)?;
    let options = options::options(&settings).map_err(Refused::Tls)?;
    let subscribe = options::subscribe(&settings);
    let (stop, stopped) = watch::channel(false);
    let Settings { client_id, receive_maximum, mappings, .. } = settings;
    let recorder = Arc::new(Recorder::new(service, caller, &client_id, mappings, stopped.clone()));
    let (room, tally) = (receive_maximum.into(), recorder.tally().clone());
    let client = AsyncClient::new(options, room);
    let connection = Connection::new(client, subscribe, recorder, room, now, stopped);
    Ok(Probes { stop, task: tokio::spawn(connection.run()), tally })
}

impl Probes {
    /// What became of the messages so far.
    #[must_use]
    pub fn tally(&self) -> Arc<Tally> {
        self.tally.clone()
    }

    /// Takes no more, finishes what is in hand and disconnects.
    pub async fn stop(self) {
        let _ = self.stop.send(true);
        if self.task.await.is_err() {
            tracing::error!("the MQTT subscription had failed");
        }
    }
}
