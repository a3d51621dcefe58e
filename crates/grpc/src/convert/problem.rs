//! Errors that stand in an answer, in the place of what was asked for.

use baycast_service::Error;

use crate::proto::{FieldProblem, Problem};
use crate::status;

/// An error as a message.
pub fn problem(error: &Error) -> Problem {
    let fields = error.fields().into_iter();
    Problem {
        r#type: error.urn(),
        title: error.title().to_owned(),
        code: status::code(error).into(),
        detail: error.detail(),
        errors: fields
            .map(|baycast_model::problem::Problem { pointer, value, accepted }| FieldProblem {
                pointer,
                value,
                accepted,
            })
            .collect(),
    }
}
