//! What a probe publishes, and how the configuration says that it reads.

use baycast_mqtt::{Job, Mappings, Subscription, Unusable};
use baycast_service::records::{ProbeIdentity, ProbeTemperature};
use jiff::Timestamp;

/// A line with the subscriptions as JSON, one with the topic, and then the payload. Faults of subscriptions are told with
/// their places; a message brings a reading whose every number is one, or it is told why not.
pub fn ask(text: &[u8]) {
    let mut lines = text.splitn(3, |byte| *byte == b'\n');
    let (Some(subscriptions), Some(topic), Some(payload)) = (lines.next(), lines.next(), lines.next()) else {
        return;
    };
    let Ok(subscriptions) = serde_json::from_slice::<Vec<Subscription>>(subscriptions) else { return };
    let mappings = match Mappings::new(subscriptions) {
        Ok(mappings) => mappings,
        Err(faults) => {
            assert!(!faults.is_empty(), "subscriptions are refused for nothing");
            let told = faults
                .iter()
                .all(|fault| fault.place.starts_with("subscription") && !fault.accepted.is_empty());
            return assert!(told, "{faults:?}");
        }
    };
    let job = Job {
        connection: 1,
        packet: 7,
        topic: String::from_utf8_lossy(topic).into_owned(),
        payload: payload.to_vec(),
        repeated: false,
        received_at: Timestamp::UNIX_EPOCH,
    };
    let reading = match mappings.read(&job, "client") {
        Ok(reading) => reading,
        Err(Unusable::Topic(why) | Unusable::Payload(why)) => return assert!(!why.is_empty()),
    };
    assert!(mappings.farms().contains(&reading.farm), "{reading:?} is for a farm that nobody named");
    let (ProbeTemperature::Celsius(degrees) | ProbeTemperature::Fahrenheit(degrees)) = reading.temperature;
    let numbers = [Some(degrees), reading.depth_m, reading.ambient_c];
    assert!(numbers.into_iter().flatten().all(f64::is_finite), "{reading:?}");
    if let ProbeIdentity::OwnId(id) = &reading.identity {
        assert!((1..=128).contains(&id.len()), "{id:?}");
    }
    assert_eq!(mappings.read(&job, "client").as_ref(), Ok(&reading), "the same message, read again");
}
