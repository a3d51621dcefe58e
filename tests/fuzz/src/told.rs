//! What an error has to say.

use baycast_model::problem::{Problem, Problems};
use baycast_service::Error;

/// Longest problem, bytes: what is quoted is cut.
const LONGEST: usize = 8192;

/// Panics where an error is a fault of the service, or does not say which field has what that is not taken.
pub fn of_json(error: &Error) {
    match error {
        Error::Invalid(problems) => in_fields(problems),
        Error::Malformed { pointer, detail } => {
            assert!(is_pointer(pointer), "{pointer:?} is no JSON Pointer");
            assert!(!detail.is_empty(), "nothing is said of {pointer:?}");
        }
        Error::TooLarge { .. } => {}
        other => panic!("{other:?}"),
    }
}

/// Panics where a problem has no JSON Pointer, or does not say what is there and what is taken.
pub fn in_fields(Problems(problems): &Problems) {
    assert!(!problems.is_empty(), "an error without a problem");
    for problem in problems {
        assert!(is_pointer(&problem.pointer), "no JSON Pointer in {problem:?}");
        whole(problem);
    }
}

/// Panics where a problem does not say what is there and what is taken.
pub fn whole(problem: &Problem) {
    let Problem { pointer, value, accepted } = problem;
    assert!(!value.is_empty() && !accepted.is_empty(), "half a problem: {problem:?}");
    // A pointer holds names as they were given.
    assert!(value.len() + accepted.len() < LONGEST, "a problem of {pointer:?} is told at length");
}

/// RFC 6901 section 3.
fn is_pointer(text: &str) -> bool {
    let escapes = text.split('~').skip(1).all(|rest| rest.starts_with(['0', '1']));
    (text.is_empty() || text.starts_with('/')) && escapes
}
