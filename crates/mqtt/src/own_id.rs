//! What makes a message's reading the same as another's.
//!
//! A reading's own id is made of the topic and the id that the payload gives; where it gives none, of the topic and the time
//! of measurement. Where the payload has neither, nothing in it tells a repetition from a new reading that is just as warm.
//! Then the delivery does: a broker that repeats one says so (DUP) and gives it the packet identifier that it had before
//! (MQTT 5, 4.4, from memory), so the same packet identifier and payload from the same topic to the same client are the same
//! delivery.

use std::fmt::Write;

use baycast_service::records::{Attempt, ProbeIdentity};
use sha2::{Digest, Sha256};

use crate::job::Job;
use crate::payload::Measured;

/// Bytes of a digest that are kept of an own id.
const OF_OWN_ID: usize = 16;

/// Bytes of a digest that are kept of a part of one.
const OF_PART: usize = 8;

/// The identity of a message's reading.
pub fn identity(client_id: &str, job: &Job, measured: &Measured) -> ProbeIdentity {
    let own_id = |kind: &str, value: &str| {
        ProbeIdentity::OwnId(format!("mqtt-{}", digest(&[&job.topic, kind, value], OF_OWN_ID)))
    };
    match (&measured.id, measured.at) {
        (Some(id), _) => own_id("id", id),
        (None, Some(at)) => own_id("at", &at.as_microsecond().to_string()),
        (None, None) => ProbeIdentity::Delivery {
            probe: format!("mqtt-{}", digest(&[client_id, &job.topic], OF_PART)),
            delivery: format!("{}-{}", job.packet, hex(&Sha256::digest(&job.payload)[..OF_PART])),
            attempt: if job.repeated { Attempt::Repeated } else { Attempt::First },
        },
    }
}

/// A digest of texts, none of which holds the character between them.
fn digest(parts: &[&str], bytes: usize) -> String {
    hex(&Sha256::digest(parts.join("\0"))[..bytes])
}

/// Bytes in hexadecimal digits.
fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::new(), |mut text, byte| {
        // Writing into a text can't fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}
