//! What makes a message's reading the same as another's.
//!
//! A reading's own id is made of the topic and the id that the payload gives; where it gives none, of the topic and the time
//! of measurement. Where the payload has neither, nothing in it tells a repetition from a new reading that is just as warm.
//! Then the delivery does: a broker that repeats one says so (DUP) and gives it the packet identifier that it had before
//! (MQTT 5, 4.4, from memory), so the same packet identifier and payload from the same topic to the same client are the same
//! delivery.

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
            delivery: format!("{}-{}", job.packet, hex::encode(&Sha256::digest(&job.payload)[..OF_PART])),
            attempt: if job.repeated { Attempt::Repeated } else { Attempt::First },
        },
    }
}

/// A digest of texts, none of which holds the character between them.
fn digest(parts: &[&str], bytes: usize) -> String {
    hex::encode(&Sha256::digest(parts.join("\0"))[..bytes])
}

#[cfg(test)]
mod tests {
    use baycast_service::records::ProbeTemperature;
    use jiff::Timestamp;

    use super::*;

    fn job(topic: &str, payload: &str, packet: u16, repeated: bool) -> Job {
        let (topic, payload) = (topic.to_owned(), payload.as_bytes().to_vec());
        Job { connection: 1, packet, topic, payload, repeated, received_at: Timestamp::UNIX_EPOCH }
    }

    fn told(id: Option<&str>, at: Option<i64>) -> Measured {
        Measured {
            temperature: ProbeTemperature::Celsius(50.0),
            at: at.map(|second| Timestamp::from_second(second).unwrap()),
            id: id.map(str::to_owned),
            depth_m: None,
            ambient_c: None,
        }
    }

    #[test]
    fn topic_and_id_are_enough_and_without_an_id_topic_and_time() {
        let of = |topic: &str, id, at| identity("c", &job(topic, "50", 1, false), &told(id, at));
        assert_eq!(of("a", Some("7"), Some(1)), of("a", Some("7"), Some(2)));
        assert_ne!(of("a", Some("7"), None), of("a", Some("8"), None));
        assert_ne!(of("a", Some("7"), None), of("b", Some("7"), None));
        assert_eq!(of("a", None, Some(1)), of("a", None, Some(1)));
        assert_ne!(of("a", None, Some(1)), of("a", None, Some(2)));
        assert_ne!(of("a", Some("1000000"), None), of("a", None, Some(1)), "an id is no time");
    }

    #[test]
    fn with_neither_the_delivery_is_told_by_client_topic_packet_and_payload() {
        let of = |client: &str, topic: &str, payload: &str, packet, repeated| match identity(
            client,
            &job(topic, payload, packet, repeated),
            &told(None, None),
        ) {
            ProbeIdentity::Delivery { probe, delivery, attempt } => ((probe, delivery), attempt),
            ProbeIdentity::OwnId(own_id) => panic!("{own_id}"),
        };
        let (first, again) = (of("c", "a", "50", 1, false), of("c", "a", "50", 1, true));
        assert_eq!(first.0, again.0);
        assert_eq!((first.1, again.1), (Attempt::First, Attempt::Repeated));
        for other in [
            of("d", "a", "50", 1, true),
            of("c", "b", "50", 1, true),
            of("c", "a", "51", 1, true),
            of("c", "a", "50", 2, true),
        ] {
            assert_ne!(first.0, other.0);
        }
    }
}
