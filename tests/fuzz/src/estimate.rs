//! The estimate of a history that can be read.

use baycast_model::EstimateError;
use baycast_model::estimate::Estimate;
use baycast_model::history::History;
use baycast_service::parse;
use jiff::civil::date;

use super::told;

/// Most events that are looked at, those of sources included: more take long and lead nowhere else.
const EVENTS: usize = 40;

/// Values out of range are told; else there is an estimate, and every number in it is one.
pub fn ask(text: &[u8]) {
    let Ok(history) = parse::history(text) else { return };
    if events(&history) > EVENTS {
        return;
    }
    match baycast_model::estimate(&history, date(2026, 9, 15)) {
        Err(EstimateError::Invalid(problems)) => told::in_fields(&problems),
        Err(EstimateError::Integration(failure)) => panic!("{failure}"),
        Ok(estimate) => {
            // JSON has no word for what is no number: it would be read as absent.
            let written = serde_json::to_vec(&estimate).expect("an estimate can be written");
            let read: Estimate = serde_json::from_slice(&written).expect("every number is one");
            assert_eq!(read, estimate);
        }
    }
}

/// Events of a history and its sources.
fn events(history: &History) -> usize {
    history.events.len() + history.sources.iter().map(events).sum::<usize>()
}
