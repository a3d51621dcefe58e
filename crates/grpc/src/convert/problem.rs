//! Errors that stand in an answer, in the place of what was asked for.

use baycast_service::Error;

use crate::proto::{FieldProblem, Problem};
use crate::status;

/// An error as a message.
pub fn problem(error: &Error) -> Problem {
    Problem {
        r#type: error.urn(),
        title: error.title().to_owned(),
        code: status::code(error).into(),
        detail: error.detail(),
        errors: error.fields().into_iter().map(FieldProblem::from).collect(),
    }
}

impl From<baycast_model::problem::Problem> for FieldProblem {
    fn from(problem: baycast_model::problem::Problem) -> Self {
        let baycast_model::problem::Problem { pointer, value, accepted } = problem;
        Self { pointer, value, accepted }
    }
}
