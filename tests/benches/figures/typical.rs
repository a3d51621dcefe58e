//! A batch as growers note it: filled over five weeks, turned once, read every other day.

use baycast_grpc::convert;
use baycast_grpc::proto::event::Detail;
use baycast_grpc::proto::{EstimateMaturityRequest, Event, History, MoistureNote, Reading, Turn};
use baycast_model::history;
use jiff::ToSpan;
use jiff::civil::{Date, date};
use prost::Message;

use crate::messages::{self, addition, pallet};

/// The first day.
const FIRST: Date = date(2026, 4, 1);
/// The day of the estimate.
pub const TODAY: Date = date(2026, 7, 15);
/// Readings.
const READINGS: i64 = 40;

fn event(days: i64, detail: Detail) -> Event {
    messages::event(&(FIRST + days.days()).to_string(), detail)
}

/// The batch of a number: readings and amounts differ from one to the next.
pub fn message(number: usize) -> History {
    let more = (number % 97) as f64 / 10.0;
    let mut events = Vec::new();
    for week in 0..5 {
        events.push(event(7 * week, addition("grass_mowings", 60.0 + more)));
        events.push(event(7 * week, addition("shredded_prunings", 35.0)));
    }
    for place in 0..READINGS {
        let temperature_c =
            20.0 + 38.0 * (-(place as f64 - 8.0).abs() / 14.0).exp() + (number % 89) as f64 / 50.0;
        let reading =
            Reading { temperature_c: Some(temperature_c), depth_m: Some(0.5), ..Reading::default() };
        events.push(event(2 + 2 * place, Detail::Reading(reading)));
    }
    events.push(event(45, Detail::Turn(Turn::default())));
    events.push(event(60, Detail::Moisture(MoistureNote { percent: Some(58.0), ..MoistureNote::default() })));
    events.sort_by(|one, other| one.at.cmp(&other.at));
    pallet(&format!("batch {number}"), &TODAY.to_string(), events)
}

/// The same for the model.
pub fn history(number: usize) -> history::History {
    convert::history(Some(message(number))).expect("a sound history")
}

/// The same for REST.
pub fn json(number: usize) -> String {
    serde_json::to_string(&history(number)).expect("JSON")
}

/// The same for gRPC: one message with what comes before it on the wire.
pub fn frame(number: usize) -> Vec<u8> {
    framed(&EstimateMaturityRequest { history: Some(message(number)) })
}

/// A message with what comes before it on the wire: not compressed, so many bytes.
pub fn framed(message: &impl Message) -> Vec<u8> {
    let body = message.encode_to_vec();
    [&[0], &(body.len() as u32).to_be_bytes()[..], &body].concat()
}
