//! Events: what was done and seen, only ever added.

use baycast_model::history::Event;
use baycast_model::problem::Problems;
use baycast_records::{Append, Entry, EventId, EventRecord, Mode, Outcome, Placed, Scope, Which};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::error::Error;
use crate::page::Page;
use crate::records::caller::Caller;
use crate::records::{paging, refusal, values};
use crate::service::Service;

/// Most entries of one append.
const MOST_ENTRIES: usize = 10_000;

/// An event as it is kept. Events are only ever added: a correction is a new one that supersedes another.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RecordedEvent {
    /// Its id, given when it was recorded; grows within a batch.
    pub id: String,
    /// The caller's own id, kept through corrections.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub external_id: Option<String>,
    /// What happened; absent where this retracts the event that it supersedes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub event: Option<Event>,
    /// Id of the event that this takes the place of.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub supersedes: Option<String>,
    /// When it was recorded.
    #[cfg_attr(feature = "schema", schema(value_type = String, format = DateTime))]
    pub recorded_at: Timestamp,
    /// Id of the key that recorded it.
    pub recorded_by: String,
}

/// Something to record: an event, a correction, or a retraction.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct EventEntry {
    /// What happened; absent for a retraction.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub event: Option<Event>,
    /// Id of the recorded event that this corrects or retracts; absent for a new event.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub supersedes: Option<String>,
    /// What becomes of a new event whose own id was recorded before with other content; refused where absent.
    #[serde(default)]
    pub own_id_taken: OwnIdTaken,
}

/// What becomes of a new event whose own id was recorded before with other content.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum OwnIdTaken {
    /// It is refused.
    #[default]
    Refuse,
    /// It corrects the one before.
    Replace,
}

/// What becomes of the other entries where one is refused.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum AppendMode {
    /// Nothing is kept.
    #[default]
    AllOrNothing,
    /// The others are kept.
    KeepGood,
}

/// What to record.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = AppendEventsRequest))]
#[serde(deny_unknown_fields)]
pub struct AppendEvents {
    /// The entries, 1 to 10 000.
    pub entries: Vec<EventEntry>,
    /// What becomes of the others where one is refused; nothing is kept where absent.
    #[serde(default)]
    pub mode: AppendMode,
}

/// What became of an entry.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum AppendOutcome {
    /// Recorded as new.
    Added,
    /// Recorded in place of another.
    Replaced,
    /// It was there already.
    Unchanged,
    /// Its event no longer counts.
    Retracted,
    /// Not recorded.
    Refused,
}

/// An entry that was taken.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Appended {
    /// Id of the recorded event.
    pub id: String,
    /// What became of it.
    pub outcome: AppendOutcome,
    /// How many events the batch has had after it.
    pub event_version: u64,
}

/// Which events to list.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum EventsShown {
    /// Those that hold: not superseded, and no retractions.
    #[default]
    Current,
    /// All that were ever recorded.
    All,
}

impl From<EventsShown> for Which {
    fn from(shown: EventsShown) -> Self {
        match shown {
            EventsShown::Current => Self::Current,
            EventsShown::All => Self::All,
        }
    }
}

impl From<EventRecord> for RecordedEvent {
    fn from(own: EventRecord) -> Self {
        let EventRecord { farm: _, batch: _, id, external_id, event, supersedes, recorded_at, recorded_by } =
            own;
        let supersedes = supersedes.map(|id| id.to_string());
        Self { id: id.to_string(), external_id, event, supersedes, recorded_at, recorded_by }
    }
}

impl From<baycast_records::Appended> for Appended {
    fn from(own: baycast_records::Appended) -> Self {
        let baycast_records::Appended { batch: _, id, outcome, event_version } = own;
        let outcome = match outcome {
            Outcome::Added => AppendOutcome::Added,
            Outcome::Replaced => AppendOutcome::Replaced,
            Outcome::Unchanged => AppendOutcome::Unchanged,
            Outcome::Retracted => AppendOutcome::Retracted,
        };
        Self { id: id.to_string(), outcome, event_version: event_version.cast_unsigned() }
    }
}

/// The records' entry, where the values are in range.
fn entry(own: &EventEntry) -> Result<Entry, Error> {
    if let Some(event) = &own.event {
        values::out_of_range(|history| history.events = vec![event.clone()], "/events/0", "/event")?;
    }
    let supersedes = own.supersedes.as_deref().map(|id| event_id(id, "/supersedes")).transpose()?;
    match (own.event.clone(), supersedes) {
        (Some(event), Some(supersedes)) => Ok(Entry::Correct { supersedes, event }),
        (Some(event), None) => match own.own_id_taken {
            OwnIdTaken::Refuse => Ok(Entry::Add { event }),
            OwnIdTaken::Replace => Ok(Entry::Upsert { event }),
        },
        (None, Some(supersedes)) => Ok(Entry::Retract { supersedes }),
        (None, None) => {
            let mut problems = Problems::default();
            problems.add("", "neither", "an event, the id of one to retract, or both for a correction");
            Err(Error::Invalid(problems))
        }
    }
}

/// An id that a caller names in a body or a query.
fn event_id(text: &str, pointer: &str) -> Result<EventId, Error> {
    text.parse().map_err(|_| {
        let mut problems = Problems::default();
        problems.add(pointer, baycast_model::check::quoted(text), "the id of a recorded event");
        Error::Invalid(problems)
    })
}

/// Refuses a whole append for its length or, where nothing is to be kept then, for entries that cannot be used.
fn check(append: &AppendEvents, entries: &[Result<Entry, Error>]) -> Result<(), Error> {
    let mut problems = Problems::default();
    let given = entries.len();
    if !(1..=MOST_ENTRIES).contains(&given) {
        problems.add("/entries", format!("an array of {given}"), format!("1 to {MOST_ENTRIES} entries"));
    } else if append.mode == AppendMode::AllOrNothing {
        for (index, entry) in entries.iter().enumerate() {
            if let Err(error) = entry {
                refusal::note(&mut problems, index, error);
            }
        }
    }
    problems.into_result().map_err(Error::Invalid)
}

impl Service {
    /// Records entries in one transaction; answered once they are on disk.
    ///
    /// What became of each stands in its place; refusals stand there only where the good ones are kept. For 24 hours
    /// the same request under the same idempotency key gets the same answer and records nothing again.
    pub async fn append_events(
        &self,
        caller: &Caller,
        farm: &str,
        batch: &str,
        append: &AppendEvents,
        idempotency_key: Option<&str>,
    ) -> Result<Vec<Result<Appended, Error>>, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Write)?;
        let mut entries: Vec<_> = append.entries.iter().map(entry).collect();
        check(append, &entries)?;
        let good = entries.iter().filter_map(|entry| entry.as_ref().ok().cloned());
        let request = Append {
            farm: farm.to_owned(),
            entries: good.map(|entry| Placed { batch: batch.to_owned(), entry }).collect(),
            mode: match append.mode {
                AppendMode::AllOrNothing => Mode::AllOrNothing,
                AppendMode::KeepGood => Mode::KeepGood,
            },
            idempotency_key: idempotency_key.map(str::to_owned),
        };
        if request.entries.is_empty() {
            // Not even a good entry: the batch may still not be there.
            store.records.batch(farm, batch).await.map_err(refusal::of)?;
        }
        let answer = store.records.append(request, &store.stamp(caller)).await.map_err(refusal::of)?;
        let mut taken = answer.entries.into_iter();
        let answered = entries.drain(..).map(|entry| match entry {
            Ok(_) => taken
                .next()
                .map_or(Err(Error::Internal), |taken| taken.map(Appended::from).map_err(refusal::of)),
            Err(error) => Err(error),
        });
        Ok(answered.collect())
    }

    /// One recorded event, superseded or not.
    pub async fn get_event(
        &self,
        caller: &Caller,
        farm: &str,
        batch: &str,
        event: &str,
    ) -> Result<RecordedEvent, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Read)?;
        let missing = |_| Error::NotFound { what: "event", name: event.to_owned() };
        let id: EventId = event.parse().map_err(missing)?;
        store.records.event(farm, batch, id).await.map(RecordedEvent::from).map_err(refusal::of)
    }

    /// A batch's events in the order in which they were recorded.
    pub async fn list_events(
        &self,
        caller: &Caller,
        farm: &str,
        batch: &str,
        shown: EventsShown,
        page_size: Option<i64>,
        page_token: &str,
    ) -> Result<Page<RecordedEvent>, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Read)?;
        let request = paging::request(page_size, page_token)?;
        let found = store.records.events(farm, batch, shown.into(), &request).await;
        found.map(paging::page).map_err(refusal::of)
    }

    /// A batch's events recorded after the one with the id `since`, for those that poll: at most a page of them, the
    /// last of which is where to go on.
    pub async fn list_events_since(
        &self,
        caller: &Caller,
        farm: &str,
        batch: &str,
        shown: EventsShown,
        since: &str,
        page_size: Option<i64>,
    ) -> Result<Page<RecordedEvent>, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Read)?;
        let since = event_id(since, "/since")?;
        let most = match paging::request(page_size, "")?.size {
            0 => paging::USUAL_PAGE_SIZE,
            size => size,
        };
        let found = store.records.events_since(farm, batch, shown.into(), Some(since), most).await;
        let items = found.map_err(refusal::of)?.into_iter().map(RecordedEvent::from).collect();
        Ok(Page { items, next_page_token: None })
    }
}
