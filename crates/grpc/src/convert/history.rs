//! Histories.

use baycast_model::history::History;
use baycast_model::problem::Problems;
use baycast_service::pointer::Pointer;
use jiff::civil::Date;

use super::bay::{bay, nothing};
use super::event::{TIME, event};
use super::feedstock::feedstock;
use super::incoming::Incoming;
use super::lesson::lesson;
use super::site::{nowhere, site};
use super::window::criteria;
use crate::proto;

/// A caller's history, or everything in it that cannot be read.
pub fn history(message: Option<proto::History>) -> Result<History, Problems> {
    let mut incoming = Incoming::default();
    let message = incoming.message(message, Pointer::Root.member("history"));
    let history = message.map(|message| read(message, Pointer::Root, &mut incoming));
    incoming.finish()?;
    history.ok_or_else(Problems::default)
}

/// A history, as far as it can be read.
pub fn read(message: proto::History, at: Pointer<'_>, incoming: &mut Incoming) -> History {
    let proto::History {
        batch,
        as_of,
        site: place,
        bay: first_bay,
        other_bays,
        feedstocks,
        barrow_m3,
        events,
        sources,
        criteria: own_criteria,
        horizon_days,
        forecast_step_days,
        ready_by,
        compare_futures,
        lesson: taught,
    } = message;
    let place = incoming.message(place, at.member("site"));
    let first_bay = incoming.message(first_bay, at.member("bay"));
    History {
        batch,
        as_of: as_of.and_then(|text| incoming.parsed(&text, at.member("as_of"), TIME)),
        site: place.map_or_else(nowhere, |place| site(place, at.member("site"), incoming)),
        bay: first_bay.map_or_else(nothing, |first| bay(first, at.member("bay"), incoming)),
        other_bays: list(other_bays, at.member("other_bays"), incoming, bay),
        feedstocks: list(feedstocks, at.member("feedstocks"), incoming, feedstock),
        barrow_m3,
        events: list(events, at.member("events"), incoming, event),
        sources: list(sources, at.member("sources"), incoming, read),
        criteria: list(own_criteria, at.member("criteria"), incoming, criteria),
        horizon_days,
        forecast_step_days,
        ready_by: dates(&ready_by, at.member("ready_by"), incoming),
        compare_futures,
        lesson: taught.map(|taught| lesson(taught, at.member("lesson"), incoming)),
    }
}

/// Days; what stands for one that cannot be read is never looked at.
pub fn dates(texts: &[String], at: Pointer<'_>, incoming: &mut Incoming) -> Vec<Date> {
    let texts = texts.iter().enumerate();
    let read = |(index, text): (usize, &String)| {
        incoming.parsed(text, at.element(index), "a date like 2026-04-30").unwrap_or(Date::ZERO)
    };
    texts.map(read).collect()
}

/// Reads each element of a list.
pub fn list<M, T>(
    messages: Vec<M>,
    at: Pointer<'_>,
    incoming: &mut Incoming,
    read: impl Fn(M, Pointer<'_>, &mut Incoming) -> T,
) -> Vec<T> {
    let messages = messages.into_iter().enumerate();
    messages.map(|(index, message)| read(message, at.element(index), incoming)).collect()
}
