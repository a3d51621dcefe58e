//! The course of a batch's temperature, from its estimate and its events.

use baycast_model::estimate::Estimate;
use baycast_model::history::Event;
use baycast_service::records::RecordedEvent;
use jiff::Span;
use jiff::civil::Date;

use crate::drawing::course::{Course, Dot, Mark};
use crate::words;

/// Days ahead that are shown at least, and behind the last opening.
const AHEAD: i64 = 42;
const BEHIND: i64 = 14;
/// How near a doubted temperature must be to a recorded one to be the same, °C.
const SAME_C: f64 = 0.01;

/// The drawing.
pub fn drawing(estimate: &Estimate, events: &[RecordedEvent]) -> String {
    let events = || events.iter().filter_map(|recorded| recorded.event.as_ref());
    let dots: Vec<Dot> = events().filter_map(|event| dot(event, estimate)).collect();
    let marks = events().filter_map(|event| Some((event.at.days(), mark(event)?))).collect();
    let told = estimate.now.as_ref().map_or_else(String::new, |now| {
        words::course(dots.len(), now.core_c.p50, now.core_c.p10, now.core_c.p90)
    });
    let (today, until) = (estimate.as_of, until(estimate));
    Course { today, until, points: &estimate.forecast, dots, marks, told }.drawing()
}

/// Until when the course is shown: behind the last opening, as far as it is forecast.
fn until(estimate: &Estimate) -> Date {
    let later = |day: Date, days: i64| day.saturating_add(Span::new().days(days));
    let least = later(estimate.as_of, AHEAD);
    let opens = estimate.windows.iter().filter_map(|window| window.opens.p50).map(|day| later(day, BEHIND));
    let last = opens.fold(least, Date::max);
    estimate.forecast.last().map_or(least, |point| last.min(point.date)).max(estimate.as_of)
}

fn dot(event: &Event, estimate: &Estimate) -> Option<Dot> {
    let reading = event.reading.as_ref()?;
    let celsius = reading.celsius()?;
    let doubted = estimate
        .suspect_readings
        .iter()
        .any(|suspect| suspect.at == event.at && (suspect.temperature_c - celsius).abs() < SAME_C);
    Some(Dot { day: event.at.days(), celsius, zone: reading.zone(), doubted })
}

fn mark(event: &Event) -> Option<Mark> {
    if event.addition.is_some() {
        Some(Mark::PutIn)
    } else if event.turn.is_some() || event.moved.is_some() || event.merge.is_some() {
        Some(Mark::Turned)
    } else {
        None
    }
}
