//! The service's errors as `google.rpc.Status`: the one place where they are turned into it.

use std::collections::HashMap;
use std::time::Duration;

use baycast_service::Error;
use baycast_service::error::Conflict;
use baycast_service::pointer::dotted;
use tonic::{Code, Status};
use tonic_types::{ErrorDetails, StatusExt};

/// The domain in which the reasons of `google.rpc.ErrorInfo` are unique.
const DOMAIN: &str = "baycast";

/// Most bytes of field violations in one status. Details travel as a header, and clients take as little as
/// 8 KiB of headers by default; base64 adds a third.
const MAX_VIOLATION_BYTES: usize = 4096;

/// The code of each kind.
#[must_use]
pub fn code(error: &Error) -> Code {
    match error {
        Error::Malformed { .. } | Error::Invalid(_) | Error::UnsupportedMediaType { .. } => {
            Code::InvalidArgument
        }
        // The code with which an oversized message is refused before it is read.
        Error::TooLarge { .. } => Code::OutOfRange,
        Error::NotFound { .. } => Code::NotFound,
        Error::Unauthenticated => Code::Unauthenticated,
        Error::Forbidden { .. } => Code::PermissionDenied,
        Error::Conflict(Conflict::Exists { .. }) => Code::AlreadyExists,
        Error::Conflict(Conflict::State { .. }) => Code::FailedPrecondition,
        Error::Stale { .. } => Code::Aborted,
        Error::Unavailable { .. } => Code::Unavailable,
        Error::Busy { .. } | Error::TooOften { .. } => Code::ResourceExhausted,
        Error::Deadline => Code::DeadlineExceeded,
        Error::Internal => Code::Internal,
    }
}

/// The code with this number.
#[must_use]
pub fn named(number: u8) -> Code {
    Code::from_i32(number.into())
}

/// The status of an error, with its details.
#[must_use]
pub fn of(error: &Error) -> Status {
    let mut details = ErrorDetails::new();
    details.set_error_info(error.kind().to_uppercase(), DOMAIN, HashMap::new());
    let mut room = MAX_VIOLATION_BYTES;
    for field in error.fields() {
        let description = format!("{} given, accepted: {}", field.value, field.accepted);
        let path = dotted(&field.pointer);
        let Some(left) = room.checked_sub(path.len() + description.len()) else { break };
        room = left;
        details.add_bad_request_violation(path, description);
    }
    if let Some(retry_after_s) = error.retry_after_s() {
        details.set_retry_info(Some(Duration::from_secs(retry_after_s)));
    }
    Status::with_error_details(code(error), short(error.detail()), details)
}

/// A message cut where it would crowd a header.
fn short(mut message: String) -> String {
    const MAX_BYTES: usize = 512;
    if message.len() > MAX_BYTES {
        message.truncate(message.floor_char_boundary(MAX_BYTES));
        message.push('…');
    }
    message
}

#[cfg(test)]
mod tests {
    use baycast_model::problem::Problems;

    use super::*;

    #[test]
    fn a_thousand_faults_still_fit_a_header() {
        let mut problems = Problems::default();
        for index in 0..1000 {
            problems.add(format!("/events/{index}/reading/temperature_c"), 180, "-20 to 95");
        }
        let status = of(&Error::Invalid(problems));
        assert!(status.details().len() < 6000, "{}", status.details().len());
        let violations = status.get_details_bad_request().unwrap().field_violations;
        assert_eq!(violations[3].field, "events[3].reading.temperature_c");
        assert_eq!(violations[3].description, "180 given, accepted: -20 to 95");
    }

    #[test]
    fn a_busy_service_says_when_to_come_back() {
        let status = of(&Error::Busy { retry_after_s: 2 });
        assert_eq!(status.code(), Code::ResourceExhausted);
        assert_eq!(status.get_details_retry_info().unwrap().retry_delay, Some(Duration::from_secs(2)));
    }
}
