//! Events as they are kept, and entries to record.

use baycast_service::Error;
use baycast_service::pointer::Pointer;
use baycast_service::records::{
    AppendEvents, AppendMode, AppendOutcome, Appended, EventEntry, EventsShown, OwnIdTaken, RecordedEvent,
};

use super::event::event;
use super::history::list;
use super::incoming::Incoming;
use super::problem::problem;
use super::word::word;
use crate::proto;

word!(EventsShown, proto::EventsShown { Current All });
word!(OwnIdTaken, proto::OwnIdTaken { Refuse Replace });
word!(AppendMode, proto::AppendMode { AllOrNothing KeepGood });
word!(AppendOutcome, proto::AppendOutcome { Added Replaced Unchanged Retracted Refused });

/// What a caller has to record, or everything in it that cannot be read.
pub fn append(entries: Vec<proto::EventEntry>, mode: i32) -> Result<AppendEvents, Error> {
    let mut incoming = Incoming::default();
    let append = AppendEvents {
        entries: list(entries, Pointer::Root.member("entries"), &mut incoming, entry),
        mode: incoming.optional_word(mode, Pointer::Root.member("mode")).unwrap_or_default(),
    };
    incoming.finish().map_err(Error::Invalid)?;
    Ok(append)
}

/// An entry, as far as it can be read.
fn entry(message: proto::EventEntry, at: Pointer<'_>, incoming: &mut Incoming) -> EventEntry {
    let proto::EventEntry { event: own, supersedes, own_id_taken } = message;
    EventEntry {
        event: own.map(|own| event(own, at.member("event"), incoming)),
        supersedes,
        own_id_taken: incoming.optional_word(own_id_taken, at.member("own_id_taken")).unwrap_or_default(),
    }
}

impl From<Result<Appended, Error>> for proto::AppendedEvent {
    fn from(answer: Result<Appended, Error>) -> Self {
        match answer {
            Ok(Appended { id, outcome, event_version }) => {
                Self { id, outcome: proto::AppendOutcome::from(outcome).into(), event_version, problem: None }
            }
            Err(error) => Self {
                id: String::new(),
                outcome: proto::AppendOutcome::Refused.into(),
                event_version: 0,
                problem: Some(problem(&error)),
            },
        }
    }
}

impl From<RecordedEvent> for proto::RecordedEvent {
    fn from(own: RecordedEvent) -> Self {
        let RecordedEvent { id, external_id, event, supersedes, recorded_at, recorded_by } = own;
        let (event, recorded_at) = (event.map(Into::into), recorded_at.to_string());
        Self { id, external_id, event, supersedes, recorded_at, recorded_by }
    }
}
