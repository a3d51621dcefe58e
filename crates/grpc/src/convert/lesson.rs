//! What earlier batches taught, on the way in.

use baycast_model::lesson::{Belief, Lesson};
use baycast_model::variant::Unknown;
use baycast_service::pointer::Pointer;

use super::history::list;
use super::incoming::Incoming;
use super::word::word;
use crate::proto;

word!(Unknown, proto::Unknown { Kinetics HeatLoss Water Amount SlowPart Season Rain MoistureNotes });

/// A lesson, as far as it can be read.
pub fn lesson(message: proto::Lesson, at: Pointer<'_>, incoming: &mut Incoming) -> Lesson {
    let proto::Lesson { batches, beliefs } = message;
    Lesson { batches, beliefs: list(beliefs, at.member("beliefs"), incoming, belief) }
}

/// A belief.
fn belief(message: proto::Belief, at: Pointer<'_>, incoming: &mut Incoming) -> Belief {
    let proto::Belief { unknown, factor, log_deviation } = message;
    Belief {
        unknown: incoming.word(unknown, at.member("unknown")).unwrap_or(Unknown::Kinetics),
        factor: incoming.number(factor, at.member("factor")),
        log_deviation: incoming.number(log_deviation, at.member("log_deviation")),
    }
}
