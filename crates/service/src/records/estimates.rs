//! Estimates of stored batches, kept at hand until something they are made of changes.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use baycast_model::estimate::Estimate;
use baycast_model::history::History;
use baycast_model::moment::{Moment, last_moment};
use baycast_model::pooling::LOOKED_BACK_ON;
use baycast_model::problem::Problems;
use baycast_records::{EarlierBatch, HistoryVersion, Scope};
use jiff::civil::Date;

use crate::capacity::Place;
use crate::error::Error;
use crate::hash::sha256_hex;
use crate::limits::Limits;
use crate::records::caller::Caller;
use crate::records::checkpoints::Checkpoints;
use crate::records::flights::Turn;
use crate::records::lessons::{Lessons, Past};
use crate::records::refusal;
use crate::service::{Service, no_estimate, within};
use crate::weight;

/// Most estimates kept at hand.
const MOST_KEPT: usize = 512;

/// Hexadecimal digits of a tag: enough that two estimates never share one.
const TAG_DIGITS: usize = 32;

/// All that an estimate of a stored batch depends on.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub(crate) struct Origin {
    farm: String,
    batch: String,
    /// Version of the history.
    version: HistoryVersion,
    /// Finished batches of the bay that it may rest on, and the versions of theirs.
    earlier: Vec<(String, String)>,
    /// The day that it is for.
    day: Date,
    /// Whether the caller named the day, which the estimate says.
    named: bool,
    /// The days asked about.
    ready_by: Vec<Date>,
    /// Whether futures are compared.
    compare_futures: bool,
    /// Days between two points of the forecast, where the caller says so.
    forecast_step_days: Option<u32>,
}

impl Origin {
    /// Version of the history.
    pub(crate) fn version(&self) -> &HistoryVersion {
        &self.version
    }

    /// A tag that differs where any part of it or the model does.
    pub(crate) fn tag(&self) -> String {
        let Self { farm, batch, version, earlier, day, named, ready_by, compare_futures, forecast_step_days } =
            self;
        let model = baycast_model::VERSION;
        let version = version.as_str();
        let asked = format!("{day}{named}{ready_by:?}{compare_futures}{forecast_step_days:?}");
        let mut tag = sha256_hex(&format!("{farm:?}{batch:?}{version:?}{earlier:?}{asked}{model}"));
        tag.truncate(TAG_DIGITS);
        tag
    }
}

/// What a caller asks of a batch.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Asked {
    /// The day to estimate for; today where absent.
    pub as_of: Option<Date>,
    /// Days for which to say how probable it is that each window has opened by then.
    pub ready_by: Vec<Date>,
    /// Whether to say what could be done and what would come of it.
    pub compare_futures: bool,
    /// Days between two points of the forecast; as the batch has it where absent.
    pub forecast_step_days: Option<u32>,
    /// Whether to rest on what earlier batches of the bay taught; as the service is set where absent.
    pub pool: Option<bool>,
}

/// A stored batch whose estimate is sought.
#[derive(Clone, Debug)]
pub(crate) struct Sought {
    /// The farm.
    pub farm: String,
    /// The batch.
    pub batch: String,
    /// The present day.
    pub today: Date,
    /// What is asked of it.
    pub asked: Asked,
}

impl Sought {
    /// The day to estimate for.
    fn day(&self) -> Date {
        self.asked.as_of.unwrap_or(self.today)
    }

    /// All that the estimate depends on.
    fn origin(&self, version: HistoryVersion, earlier: Vec<(String, String)>) -> Origin {
        let Self { farm, batch, today: _, asked } = self;
        Origin {
            farm: farm.clone(),
            batch: batch.clone(),
            version,
            earlier,
            day: self.day(),
            named: asked.as_of.is_some(),
            ready_by: asked.ready_by.clone(),
            compare_futures: asked.compare_futures,
            forecast_step_days: asked.forecast_step_days,
        }
    }
}

/// What an estimate that is sought would be made from, as it was last looked up.
#[derive(Clone, Debug)]
pub(crate) struct Found {
    origin: Origin,
    earlier: Vec<EarlierBatch>,
}

impl Found {
    /// The tag of the estimate.
    pub(crate) fn tag(&self) -> String {
        self.origin.tag()
    }

    /// Version of the history.
    pub(crate) fn version(&self) -> &HistoryVersion {
        &self.origin.version
    }
}

/// The answer to one who may hold an estimate already.
#[derive(Clone, Debug)]
pub struct BatchEstimate {
    /// Its tag, which changes where the history, that of a batch that taught it, the model or what is asked does.
    pub etag: String,
    /// The estimate; nothing where the caller holds it.
    pub estimate: Option<Arc<Estimate>>,
}

/// The estimates at hand. The one unused for longest gives way.
#[derive(Debug, Default)]
pub struct Kept(Mutex<Shelf>);

#[derive(Debug, Default)]
struct Shelf {
    estimates: HashMap<Origin, (Arc<Estimate>, u64)>,
    /// Counts uses.
    uses: u64,
}

impl Kept {
    /// The estimate made from `origin`, if it is at hand.
    fn get(&self, origin: &Origin) -> Option<Arc<Estimate>> {
        let mut shelf = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        shelf.uses += 1;
        let use_now = shelf.uses;
        let (estimate, last_use) = shelf.estimates.get_mut(origin)?;
        *last_use = use_now;
        Some(estimate.clone())
    }

    /// Keeps an estimate; those of other versions of the same batch's history are of no more use.
    fn put(&self, origin: Origin, estimate: Arc<Estimate>) {
        let mut shelf = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let Shelf { estimates, uses } = &mut *shelf;
        *uses += 1;
        estimates.retain(|other, _| {
            other.farm != origin.farm || other.batch != origin.batch || other.version == origin.version
        });
        if estimates.len() >= MOST_KEPT
            && let Some(oldest) = estimates.iter().min_by_key(|(_, (_, last_use))| *last_use)
        {
            let oldest = oldest.0.clone();
            estimates.remove(&oldest);
        }
        estimates.insert(origin, (estimate, *uses));
    }
}

/// A finished batch by its id, and its version.
fn with_version(earlier: &EarlierBatch) -> (String, String) {
    (earlier.batch.clone(), earlier.version.to_string())
}

impl Service {
    /// Estimates a batch from what is recorded.
    ///
    /// `held` says of a tag whether the caller holds its estimate: then none is made.
    pub async fn estimate_batch(
        &self,
        caller: &Caller,
        farm: &str,
        batch: &str,
        asked: Asked,
        held: impl Fn(&str) -> bool,
    ) -> Result<BatchEstimate, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Read)?;
        let sought = Sought { farm: farm.to_owned(), batch: batch.to_owned(), today: self.today(), asked };
        let found = self.find(&sought).await?;
        let etag = found.tag();
        if held(&etag) {
            return Ok(BatchEstimate { etag, estimate: None });
        }
        if let Some(estimate) = store.kept.get(&found.origin) {
            return Ok(BatchEstimate { etag, estimate: Some(estimate) });
        }
        let place = self.enter()?;
        let made = self.make(&sought, found, Some(place));
        let (made_from, estimate) = within(self.limits().timeout, made).await?;
        Ok(BatchEstimate { etag: made_from.tag(), estimate: Some(estimate) })
    }

    /// What the estimate that is sought would be made from now.
    pub(crate) async fn find(&self, sought: &Sought) -> Result<Found, Error> {
        let store = self.store()?;
        let Sought { farm, batch, .. } = sought;
        let version = store.records.history_version(farm, batch).await.map_err(refusal::of)?;
        let earlier = if sought.asked.pool.unwrap_or(self.pools()) {
            let day = sought.day();
            store.records.earlier_batches(farm, batch, day, LOOKED_BACK_ON).await.map_err(refusal::of)?
        } else {
            Vec::new()
        };
        let origin = sought.origin(version, earlier.iter().map(with_version).collect());
        Ok(Found { origin, earlier })
    }

    /// Makes an estimate where none of the same origin is at hand or being made; waits for a worker.
    pub(crate) async fn make(
        &self,
        sought: &Sought,
        found: Found,
        place: Option<Place>,
    ) -> Result<(Origin, Arc<Estimate>), Error> {
        let store = self.store()?;
        let Found { origin: current, earlier } = found;
        let turn = store.flights.turn(&current).await;
        if let Some(estimate) = store.kept.get(&current) {
            return Ok((current, estimate));
        }
        let Sought { farm, batch, asked, today } = sought;
        let (mut history, version) = store.records.history(farm, batch).await.map_err(refusal::of)?;
        if let Some(day) = asked.as_of {
            not_before_what_was_seen(&history, day)?;
        }
        history.as_of = asked.as_of.map(Moment::Date);
        history.ready_by.clone_from(&asked.ready_by);
        history.compare_futures = asked.compare_futures;
        history.forecast_step_days = asked.forecast_step_days.or(history.forecast_step_days);
        // More may have been recorded since the first look, and estimated.
        let past = store.past(farm, earlier).await?;
        let read = sought.origin(version, past.iter().map(|(own, _)| with_version(own)).collect());
        if let Some(estimate) = store.kept.get(&read) {
            return Ok((read, estimate));
        }
        let making = Making {
            origin: read,
            history,
            past,
            today: *today,
            limits: *self.limits(),
            lessons: store.lessons.clone(),
            kept: store.kept.clone(),
            checkpoints: store.checkpoints.clone(),
            turn,
        };
        self.work(place, move || making.make()).await
    }
}

/// Refuses a day before the last finding: the day is what the caller named, the finding is recorded.
fn not_before_what_was_seen(history: &History, day: Date) -> Result<(), Error> {
    let mut problems = Problems::default();
    if let Some(last) = last_seen(history).filter(|last| last.days() > last_moment(day)) {
        let accepted = format!("{} or later: something was seen then", last.date());
        problems.add("/as_of", format!("\"{day}\""), accepted);
    }
    problems.into_result().map_err(Error::Invalid)
}

/// When the last reading was taken, or the level last seen, of a batch or one that was merged into it.
fn last_seen(history: &History) -> Option<Moment> {
    let findings = history.events.iter().filter(|event| event.reading.is_some() || event.level.is_some());
    let merged = history.sources.iter().filter_map(last_seen);
    findings.map(|event| event.at).chain(merged).max_by(|a, b| a.days().total_cmp(&b.days()))
}

/// An estimate about to be made, and kept even if whoever asked has gone.
struct Making {
    origin: Origin,
    history: History,
    past: Vec<(EarlierBatch, Past)>,
    today: Date,
    limits: Limits,
    lessons: Arc<Lessons>,
    kept: Arc<Kept>,
    checkpoints: Arc<Checkpoints>,
    /// Held until it is made.
    turn: Turn,
}

impl Making {
    fn make(self) -> Result<(Origin, Arc<Estimate>), Error> {
        let Self { origin, mut history, past, today, limits, lessons, kept, checkpoints, turn } = self;
        weight::check(&history, &limits)?;
        history.lesson = lessons.lesson(&origin.farm, past, origin.day, &limits);
        let before = checkpoints.get(&origin.farm, &origin.batch);
        let (estimate, checkpoint) =
            baycast_model::estimate_from(&history, today, before.as_deref()).map_err(no_estimate)?;
        let estimate = Arc::new(estimate);
        kept.put(origin.clone(), estimate.clone());
        checkpoints.put(&origin.farm, &origin.batch, checkpoint);
        drop(turn);
        Ok((origin, estimate))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn origin(batch: &str, version: &str) -> Origin {
        let day = jiff::civil::date(2026, 7, 1);
        Origin {
            farm: "f".to_owned(),
            batch: batch.to_owned(),
            version: HistoryVersion::kept(version.to_owned()),
            earlier: Vec::new(),
            day,
            named: false,
            ready_by: Vec::new(),
            compare_futures: false,
            forecast_step_days: None,
        }
    }

    #[test]
    fn a_tag_differs_where_anything_does() {
        let one = origin("b", "1/1.4");
        let (day, other_day) = (jiff::civil::date(2026, 8, 1), jiff::civil::date(2026, 9, 1));
        let earlier = |version: &str| vec![("a".to_owned(), version.to_owned())];
        let others = [
            origin("b", "1/1.5"),
            origin("c", "1/1.4"),
            Origin { farm: "g".to_owned(), ..one.clone() },
            Origin { day: jiff::civil::date(2026, 7, 2), ..one.clone() },
            Origin { named: true, ..one.clone() },
            Origin { compare_futures: true, ..one.clone() },
            Origin { forecast_step_days: Some(1), ..one.clone() },
            Origin { earlier: earlier("1/1.4"), ..one.clone() },
            Origin { earlier: earlier("1/1.5"), ..one.clone() },
            Origin { ready_by: vec![day], ..one.clone() },
            Origin { ready_by: vec![day, other_day], ..one.clone() },
            Origin { ready_by: vec![other_day, day], ..one.clone() },
        ];
        assert_eq!(one.tag(), one.clone().tag());
        assert_eq!(one.tag().len(), TAG_DIGITS);
        for other in others {
            assert_ne!(one.tag(), other.tag(), "{other:?}");
        }
    }

    #[test]
    fn the_shelf_is_bounded_and_keeps_what_is_used() {
        let text = br#"{"batch":"b","site":{"latitude_deg":52},"bay":{"id":"1","length_m":1,"width_m":1,"height_m":1,
            "wall":{"construction":"block"}},"events":[{"at":"2026-06-01","addition":{"feedstock":"grass_mowings","mass_kg":200}}]}"#;
        let history = crate::parse::history(text).expect("a history");
        let day = jiff::civil::date(2026, 7, 1);
        let estimate = Arc::new(baycast_model::estimate(&history, day).expect("an estimate"));
        let kept = Kept::default();
        for number in 0..=MOST_KEPT {
            kept.put(origin(&format!("b{number}"), "1/1.0"), estimate.clone());
            assert!(kept.get(&origin("b0", "1/1.0")).is_some(), "used after each other one");
        }
        assert_eq!(kept.0.lock().expect("no thread panicked").estimates.len(), MOST_KEPT);
        assert!(kept.get(&origin("b1", "1/1.0")).is_none(), "the one unused for longest gave way");
        kept.put(origin("b2", "1/1.1"), estimate);
        assert!(kept.get(&origin("b2", "1/1.0")).is_none(), "its history has changed");
    }
}
