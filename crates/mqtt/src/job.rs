//! A message on its way to the records, and word of what became of it.

use jiff::Timestamp;
use rumqttc::v5::mqttbytes::v5::{PubAckReason, Publish};

/// A message.
#[derive(Clone, Debug)]
pub struct Job {
    /// The number of the connection over which it came.
    pub connection: u64,
    /// Its packet identifier; 0 where the broker wants no acknowledgement.
    pub packet: u16,
    /// The topic.
    pub topic: String,
    /// The payload.
    pub payload: Vec<u8>,
    /// Whether the broker says that it sent it before.
    pub repeated: bool,
    /// When it arrived.
    pub received_at: Timestamp,
}

impl Job {
    /// A message that just arrived.
    pub fn new(connection: u64, publish: &Publish, received_at: Timestamp) -> Self {
        Self {
            connection,
            packet: publish.pkid,
            topic: String::from_utf8_lossy(&publish.topic).into_owned(),
            payload: publish.payload.to_vec(),
            repeated: publish.dup,
            received_at,
        }
    }
}

/// A message that is done with.
#[derive(Clone, Copy, Debug)]
pub struct Done {
    /// The number of the connection over which it came.
    pub connection: u64,
    /// Its packet identifier.
    pub packet: u16,
    /// What the broker is told.
    pub reason: PubAckReason,
}
