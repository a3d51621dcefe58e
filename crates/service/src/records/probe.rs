//! Readings that probes send by themselves, whatever carries them.

use baycast_model::history::{Event, Reading, Zone};
use baycast_model::moment::Moment;
use baycast_model::problem::Problems;
use baycast_records::{Entry, Outcome, Reach, Scope};
use jiff::{SignedDuration, Timestamp};

use crate::error::{Conflict, Error};
use crate::records::caller::Caller;
use crate::records::{refusal, values};
use crate::service::Service;

/// How far ahead of the service's clock a probe's own may be.
const MOST_AHEAD: SignedDuration = SignedDuration::from_hours(24);

/// How long a reading may have waited to be sent. An older one comes from a clock that was never set, or from seconds taken
/// for milliseconds.
const MOST_BEHIND: SignedDuration = SignedDuration::from_hours(24 * 366);

/// How many of a probe's last deliveries a repeated one is looked for among; no more may be on their way at once.
pub const DELIVERIES_REMEMBERED: u16 = 1000;

/// What a probe measured.
#[derive(Clone, Debug, PartialEq)]
pub struct ProbeReading {
    /// The farm.
    pub farm: String,
    /// Where the probe is.
    pub place: ProbePlace,
    /// The temperature, in the probe's unit.
    pub temperature: ProbeTemperature,
    /// `core` or `edge`, where known.
    pub zone: Option<String>,
    /// How deep the tip is, m.
    pub depth_m: Option<f64>,
    /// Air temperature, °C.
    pub ambient_c: Option<f64>,
    /// When it measured, where the probe says so.
    pub measured_at: Option<Timestamp>,
    /// When its message arrived.
    pub received_at: Timestamp,
    /// What makes it the same reading as another.
    pub identity: ProbeIdentity,
}

/// Where a probe is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ProbePlace {
    /// In this batch.
    Batch(String),
    /// In this bay, and so in the batch that lay there when it measured.
    Bay(String),
}

/// A temperature in the unit in which it was measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ProbeTemperature {
    /// °C.
    Celsius(f64),
    /// °F.
    Fahrenheit(f64),
}

/// What makes a reading the same as another.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ProbeIdentity {
    /// The reading's own id, made of what the probe says.
    OwnId(String),
    /// The probe says nothing that tells two readings apart: each first delivery is a reading, and a repeated one is the
    /// same as the one of the probe's last [`DELIVERIES_REMEMBERED`] that had the same delivery; if there is none, it never
    /// arrived before.
    Delivery {
        /// The probe, without spaces.
        probe: String,
        /// What a delivery has in common with its repetitions and with no other one.
        delivery: String,
        /// Whether it is said to be a repetition.
        attempt: Attempt,
    },
}

/// Whether a delivery was tried before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Attempt {
    /// For the first time.
    First,
    /// Perhaps again.
    Repeated,
}

/// What became of a probe's reading; either way it is on disk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ProbeOutcome {
    /// Recorded.
    Recorded,
    /// It was there already.
    Known,
}

impl Service {
    /// The caller under which probes of these farms record: it may write there and nothing else. The farms must be there.
    pub async fn probes(&self, name: &str, farms: &[String]) -> Result<Caller, Error> {
        let store = self.store()?;
        for farm in farms {
            store.records.farm(farm).await.map_err(refusal::of)?;
        }
        Ok(Caller::new(name, Scope::Write, Reach::Farms(farms.to_vec())))
    }

    /// Records what a probe measured; answered once it is on disk. The same reading given again changes nothing.
    pub async fn record_probe(&self, caller: &Caller, probe: &ProbeReading) -> Result<ProbeOutcome, Error> {
        let store = self.store()?;
        caller.may(&probe.farm, Scope::Write)?;
        let at = time(probe)?;
        let event = event(probe, at)?;
        let batch = match &probe.place {
            ProbePlace::Batch(batch) => batch.clone(),
            ProbePlace::Bay(bay) => self.batch_in(&probe.farm, bay, at).await?,
        };
        let own_id = match &probe.identity {
            ProbeIdentity::OwnId(own_id) => own_id.clone(),
            ProbeIdentity::Delivery { probe: name, delivery, attempt } => {
                let (prefix, suffix) = (format!("{name} "), format!(" {delivery}"));
                if *attempt == Attempt::Repeated {
                    let most = DELIVERIES_REMEMBERED.into();
                    let last = store.records.last_own_ids(&probe.farm, &batch, &prefix, most).await;
                    if last.map_err(refusal::of)?.iter().any(|own_id| own_id.ends_with(&suffix)) {
                        return Ok(ProbeOutcome::Known);
                    }
                }
                format!("{prefix}{:016}{suffix}", probe.received_at.as_microsecond())
            }
        };
        let entry = Entry::Add { event: Event { id: Some(own_id), ..event } };
        let kept = store.records.record(&probe.farm, &batch, entry, None, &store.stamp(caller)).await;
        match kept.map_err(refusal::of) {
            Ok(kept) if kept.outcome == Outcome::Unchanged => Ok(ProbeOutcome::Known),
            Ok(_) => Ok(ProbeOutcome::Recorded),
            // Its time is that of its arrival, which differs each time: the id alone says that it is the same.
            Err(Error::Conflict(Conflict::Exists { .. })) if probe.measured_at.is_none() => {
                Ok(ProbeOutcome::Known)
            }
            Err(error) => Err(error),
        }
    }

    /// The one batch that lay in a bay at a time.
    async fn batch_in(&self, farm: &str, bay: &str, at: Timestamp) -> Result<String, Error> {
        let found = self.store()?.records.batches_in_bay(farm, bay, at).await.map_err(refusal::of)?;
        match found.as_slice() {
            [only] => Ok(only.clone()),
            [] => Err(Error::NotFound { what: "batch in bay", name: bay.to_owned() }),
            several => {
                let detail = format!("bay `{bay}` holds several batches: {}", several.join(", "));
                Err(Error::Conflict(Conflict::State { detail }))
            }
        }
    }
}

/// When the reading counts: as the probe says, if that can be, else when it arrived.
fn time(probe: &ProbeReading) -> Result<Timestamp, Error> {
    let Some(at) = probe.measured_at else { return Ok(probe.received_at) };
    let age = probe.received_at.duration_since(at);
    if (-MOST_AHEAD..=MOST_BEHIND).contains(&age) {
        return Ok(at);
    }
    let mut problems = Problems::default();
    problems.add("/at", at, "from 366 days before its arrival to a day after it");
    Err(Error::Invalid(problems))
}

/// The reading as an event without an id, with its values in range.
fn event(probe: &ProbeReading, at: Timestamp) -> Result<Event, Error> {
    let zone = match probe.zone.as_deref() {
        None => None,
        Some("core") => Some(Zone::Core),
        Some("edge") => Some(Zone::Edge),
        Some(other) => {
            let mut problems = Problems::default();
            problems.add("/reading/zone", baycast_model::check::quoted(other), "core, edge");
            return Err(Error::Invalid(problems));
        }
    };
    let mut reading =
        Reading { zone, depth_m: probe.depth_m, ambient_c: probe.ambient_c, ..Reading::default() };
    match probe.temperature {
        ProbeTemperature::Celsius(temperature_c) => reading.temperature_c = Some(temperature_c),
        ProbeTemperature::Fahrenheit(temperature_f) => reading.temperature_f = Some(temperature_f),
    }
    let event = Event { reading: Some(reading), ..Event::at(Moment::Instant(at)) };
    values::out_of_range(|history| history.events = vec![event.clone()], "/events/0", "")?;
    Ok(event)
}
