//! Subscriptions that were checked, and which of them a message is for.

use baycast_service::records::{ProbePlace, ProbeReading};

use crate::job::Job;
use crate::own_id;
use crate::payload;
use crate::subscription::{Figure, Form, Subscription};
use crate::topic::{Name, Pattern};

/// Deepest tip, m; the model's own limit.
const DEEPEST_M: f64 = 4.0;

/// A value of the configuration that is not taken.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// Its place, such as `subscription[0].topic`.
    pub place: String,
    /// The value given.
    pub given: String,
    /// What would be taken.
    pub accepted: String,
}

/// One subscription, checked.
#[derive(Clone, Debug)]
struct Mapping {
    pattern: Pattern,
    subscription: Subscription,
}

/// All subscriptions, checked.
#[derive(Clone, Debug)]
pub struct Mappings(Vec<Mapping>);

impl Mappings {
    /// Checks subscriptions; every fault is told.
    pub fn new(subscriptions: Vec<Subscription>) -> Result<Self, Vec<Fault>> {
        let mut faults = Vec::new();
        let mut checked: Vec<Mapping> = Vec::new();
        if subscriptions.is_empty() {
            let accepted = "at least one [[mqtt.subscription]]".to_owned();
            faults.push(Fault { place: "subscription".to_owned(), given: "none".to_owned(), accepted });
        }
        for (index, subscription) in subscriptions.into_iter().enumerate() {
            let mut note = |field: &str, given: &str, accepted: &str| {
                let place = format!("subscription[{index}].{field}");
                faults.push(Fault { place, given: given.to_owned(), accepted: accepted.to_owned() });
            };
            let pattern = match Pattern::read(&subscription.topic) {
                Ok(pattern) => pattern,
                Err(accepted) => {
                    note("topic", &subscription.topic, &accepted);
                    continue;
                }
            };
            check_place(&subscription, &pattern, &mut note);
            check_payload(&subscription, &mut note);
            if let Some(other) = checked.iter().position(|other| other.pattern.overlaps(&pattern)) {
                let accepted = format!("topics that are not those of subscription[{other}] too");
                note("topic", &subscription.topic, &accepted);
            }
            checked.push(Mapping { pattern, subscription });
        }
        if faults.is_empty() { Ok(Self(checked)) } else { Err(faults) }
    }

    /// The farms that readings may be for.
    #[must_use]
    pub fn farms(&self) -> Vec<String> {
        let mut farms: Vec<String> = self
            .0
            .iter()
            .flat_map(|own| own.subscription.farm.iter().chain(&own.subscription.farms).cloned())
            .collect();
        farms.sort();
        farms.dedup();
        farms
    }

    /// The topic filters as a broker reads them.
    pub(crate) fn filters(&self) -> impl Iterator<Item = String> + '_ {
        self.0.iter().map(|own| own.pattern.to_string())
    }

    /// The reading that a message brings, or why it brings none.
    pub fn read(&self, job: &Job, client_id: &str) -> Result<ProbeReading, Unusable> {
        let found = self.0.iter().find_map(|own| Some((own, own.pattern.matched(&job.topic)?)));
        let Some((Mapping { subscription, .. }, told)) = found else {
            return Err(Unusable::Topic("no subscription is for this topic".to_owned()));
        };
        let tells =
            |name: Name| told.iter().find(|(told, _)| *told == name).map(|(_, text)| (*text).to_owned());
        let farm = tells(Name::Farm).or_else(|| subscription.farm.clone()).unwrap_or_default();
        if !subscription.farms.is_empty() && !subscription.farms.contains(&farm) {
            return Err(Unusable::Topic(format!("farm `{farm}` is not among those configured")));
        }
        let batch = tells(Name::Batch).or_else(|| subscription.batch.clone()).map(ProbePlace::Batch);
        let bay = || tells(Name::Bay).or_else(|| subscription.bay.clone()).map(ProbePlace::Bay);
        let Some(place) = batch.or_else(bay) else {
            return Err(Unusable::Topic("neither batch nor bay is told".to_owned()));
        };
        let measured = payload::read(&job.payload, subscription).map_err(Unusable::Payload)?;
        Ok(ProbeReading {
            identity: own_id::identity(client_id, job, &measured),
            farm,
            place,
            temperature: measured.temperature,
            zone: tells(Name::Zone).or_else(|| subscription.zone.clone()),
            depth_m: measured.depth_m,
            ambient_c: measured.ambient_c,
            measured_at: measured.at,
            received_at: job.received_at,
        })
    }
}

/// Why a message brings no reading.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Unusable {
    /// For its topic.
    Topic(String),
    /// For its payload.
    Payload(String),
}

/// Checks that farm and batch are told, each once.
fn check_place(own: &Subscription, pattern: &Pattern, note: &mut impl FnMut(&str, &str, &str)) {
    match (&own.farm, pattern.names(Name::Farm)) {
        (None, false) => note("farm", "none", "a farm's id here, or {farm} in the topic with `farms`"),
        (Some(farm), true) => note("farm", farm, "no farm here, since the topic tells it"),
        (None, true) if own.farms.is_empty() => {
            note("farms", "none", "the ids of the farms that {farm} in the topic may be");
        }
        (Some(_), false) if !own.farms.is_empty() => {
            note("farms", &own.farms.join(", "), "no list, since `farm` says which");
        }
        _ => {}
    }
    let told = [own.batch.is_some(), own.bay.is_some(), pattern.names(Name::Batch), pattern.names(Name::Bay)];
    if told.iter().filter(|told| **told).count() != 1 {
        let given = ["batch", "bay", "{batch} in the topic", "{bay} in the topic"];
        let given: Vec<&str> =
            given.into_iter().zip(told).filter(|(_, told)| *told).map(|(it, _)| it).collect();
        let given = if given.is_empty() { "none".to_owned() } else { given.join(", ") };
        note("batch", &given, "one of: batch, bay, {batch} or {bay} in the topic");
    }
    if let Some(zone) = &own.zone {
        if pattern.names(Name::Zone) {
            note("zone", zone, "no zone here, since the topic tells it");
        } else if zone != "core" && zone != "edge" {
            note("zone", zone, "core, edge");
        }
    }
}

/// Checks what is picked from payloads.
fn check_payload(own: &Subscription, note: &mut impl FnMut(&str, &str, &str)) {
    let depth = match &own.depth_m {
        Some(Figure::Found(pointer)) => Some(pointer),
        Some(Figure::Fixed(depth_m)) => {
            if !(0.0..=DEEPEST_M).contains(depth_m) {
                note("depth_m", &depth_m.to_string(), "0 to 4, or a JSON Pointer");
            }
            None
        }
        None => None,
    };
    let pointers = [
        ("temperature", own.temperature.as_ref()),
        ("at", own.at.as_ref()),
        ("id", own.id.as_ref()),
        ("depth_m", depth),
        ("ambient_c", own.ambient_c.as_ref()),
    ];
    for (field, pointer) in pointers {
        match (own.payload, pointer) {
            (Form::Number, Some(pointer)) => {
                note(field, pointer, "none, since the payload is a number alone");
            }
            (Form::Json, Some(pointer)) if !pointer.is_empty() && !pointer.starts_with('/') => {
                note(field, pointer, "a JSON Pointer such as /temperature");
            }
            (Form::Json, None) if field == "temperature" => {
                note(field, "none", "a JSON Pointer such as /temperature, or payload = \"number\"");
            }
            _ => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use super::*;

    fn checked(subscriptions: &Value) -> Result<Mappings, Vec<String>> {
        let subscriptions = serde_json::from_value(subscriptions.clone()).unwrap();
        Mappings::new(subscriptions).map_err(|faults| faults.into_iter().map(|fault| fault.place).collect())
    }

    #[test]
    fn each_fault_is_told_at_its_place() {
        for (own, places) in [
            (json!([]), vec!["subscription"]),
            (json!([{ "topic": "a/#/b" }]), vec!["subscription[0].topic"]),
            (
                json!([{ "topic": "a" }]),
                vec!["subscription[0].farm", "subscription[0].batch", "subscription[0].temperature"],
            ),
            (
                json!([{ "topic": "{farm}/{bay}", "batch": "b", "payload": "number", "at": "/t" }]),
                vec!["subscription[0].farms", "subscription[0].batch", "subscription[0].at"],
            ),
            (
                json!([{ "topic": "{farm}", "farm": "f", "bay": "b", "temperature": "t", "zone": "middle",
                    "depth_m": 5 }]),
                vec![
                    "subscription[0].farm",
                    "subscription[0].zone",
                    "subscription[0].depth_m",
                    "subscription[0].temperature",
                ],
            ),
            (
                json!([{ "topic": "a/{batch}", "farm": "f", "temperature": "/t" },
                    { "topic": "+/b", "farm": "f", "batch": "x", "payload": "number" }]),
                vec!["subscription[1].topic"],
            ),
        ] {
            assert_eq!(checked(&own).unwrap_err(), places, "{own}");
        }
    }

    #[test]
    fn a_message_is_read_by_the_subscription_for_its_topic() {
        let own = json!([{ "topic": "p/{farm}/{bay}/{zone}", "farms": ["home", "hill"], "temperature": "/t" },
            { "topic": "q", "farm": "home", "batch": "heap", "zone": "edge", "payload": "number" }]);
        let mappings = checked(&own).unwrap();
        assert_eq!(mappings.farms(), ["hill", "home"]);
        let job = |topic: &str, payload: &str| Job {
            connection: 1,
            packet: 1,
            topic: topic.to_owned(),
            payload: payload.as_bytes().to_vec(),
            repeated: false,
            received_at: jiff::Timestamp::UNIX_EPOCH,
        };
        let read = |topic: &str, payload: &str| mappings.read(&job(topic, payload), "c");
        let first = read("p/hill/east/core", r#"{"t": 50}"#).unwrap();
        let place = ProbePlace::Bay("east".to_owned());
        assert_eq!((first.farm.as_str(), first.place, first.zone.as_deref()), ("hill", place, Some("core")));
        let second = read("q", "51").unwrap();
        let place = ProbePlace::Batch("heap".to_owned());
        assert_eq!(
            (second.farm.as_str(), second.place, second.zone.as_deref()),
            ("home", place, Some("edge"))
        );
        assert!(matches!(read("p/other/east/core", r#"{"t": 50}"#), Err(Unusable::Topic(_))));
        assert!(matches!(read("other", "50"), Err(Unusable::Topic(_))));
        assert!(matches!(read("q", "{}"), Err(Unusable::Payload(_))));
    }
}
