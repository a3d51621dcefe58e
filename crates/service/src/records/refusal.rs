//! Why the records decline, in the service's own closed set: the one place where it is translated.

use baycast_model::problem::{Problem, Problems};
use baycast_records::{Clash, Error as Declined, Thing};

use crate::error::{Conflict, Error, Outage};

/// When to come back to records that are busy or out of reach, s.
const RETRY_AFTER_S: u64 = 1;

/// When to come back to records that take nothing, which someone has to mend, s.
const RETRY_MENDED_AFTER_S: u64 = 30;

/// The service's error for one of the records. What only an operator can use goes to the log; outages are there already, once.
pub fn of(declined: Declined) -> Error {
    match declined {
        Declined::NotFound { what, name } => Error::NotFound { what: word(what), name },
        Declined::Conflict { what: Clash::Exists { what, name } } => {
            Error::Conflict(Conflict::Exists { what: word(what), name })
        }
        Declined::Conflict { what: Clash::Constraint { detail } } => {
            tracing::warn!(detail, "the database refused what no check foresaw");
            let detail = "changed by someone else at the same time: try again".to_owned();
            Error::Conflict(Conflict::State { detail })
        }
        Declined::Conflict { what } => Error::Conflict(Conflict::State { detail: what.to_string() }),
        Declined::Stale { given, current } => Error::Stale { given, current },
        Declined::Invalid { field, given, accepted } => {
            let mut problems = Problems::default();
            problems.add(pointer(&field), given, accepted);
            Error::Invalid(problems)
        }
        Declined::Refused(refusals) => {
            let mut problems = Problems::default();
            for refusal in refusals {
                note(&mut problems, refusal.index, &of(refusal.error));
            }
            Error::Invalid(problems)
        }
        Declined::Unavailable { detail } => {
            tracing::debug!(detail, "the records cannot be reached");
            Error::Unavailable { outage: Outage::Reach, retry_after_s: RETRY_AFTER_S }
        }
        Declined::ReadOnly { detail } => {
            tracing::debug!(detail, "the records can only be read");
            Error::Unavailable { outage: Outage::Writing, retry_after_s: RETRY_MENDED_AFTER_S }
        }
        Declined::Full { detail } => {
            tracing::debug!(detail, "there is no room left for records");
            Error::Unavailable { outage: Outage::Room, retry_after_s: RETRY_MENDED_AFTER_S }
        }
        damaged @ (Declined::Corrupt { .. } | Declined::NewerSchema { .. } | Declined::File { .. }) => {
            tracing::error!(%damaged, "the records cannot be read");
            Error::Internal
        }
    }
}

/// Notes why one entry of several is refused, at its place in the list.
pub fn note(problems: &mut Problems, index: usize, error: &Error) {
    for Problem { pointer, value, accepted } in fields(error) {
        problems.add(format!("/entries/{index}{pointer}"), value, accepted);
    }
}

/// Why an entry is refused, as its fields that cannot be used or, where none is to blame, as a whole.
pub fn fields(error: &Error) -> Vec<Problem> {
    match error {
        Error::Invalid(Problems(fields)) => fields.clone(),
        other => {
            let accepted = "an entry that can be recorded".to_owned();
            vec![Problem { pointer: String::new(), value: other.to_string(), accepted }]
        }
    }
}

/// A field as the records name it, as a JSON Pointer.
fn pointer(field: &str) -> String {
    format!("/{}", field.replace('.', "/"))
}

/// A kind of thing in a word.
fn word(thing: Thing) -> &'static str {
    match thing {
        Thing::Farm => "farm",
        Thing::Bay => "bay",
        Thing::Feedstock => "feedstock",
        Thing::Batch => "batch",
        Thing::Event => "event",
        Thing::Key => "key",
        Thing::Feed => "feed",
        Thing::Webhook => "webhook",
        Thing::Delivery => "delivery",
        Thing::Season => "season",
    }
}
