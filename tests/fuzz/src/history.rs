//! A history as JSON.

use baycast_model::check::check;
use baycast_model::problem::Problems;
use baycast_service::parse;

use super::told;

/// It is told what is wrong with it; or it is read, and written reads as the same.
pub fn ask(text: &[u8]) {
    let history = match parse::history(text) {
        Ok(history) => history,
        Err(error) => return told::of_json(&error),
    };
    let written = serde_json::to_vec(&history).expect("a history can be written");
    assert_eq!(parse::history(&written).as_ref(), Ok(&history));
    let mut problems = Problems::default();
    check(&history, "", 0, &mut problems);
    if let Err(problems) = problems.into_result() {
        told::in_fields(&problems);
    }
}
