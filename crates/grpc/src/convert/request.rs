//! Single fields of a request beside the resource that it is about.

use baycast_model::plan::season::Season;
use baycast_model::problem::Problems;
use baycast_model::recipe::OnHand;
use baycast_model::requirement::Need;
use baycast_service::Error;
use baycast_service::pointer::Pointer;
use baycast_service::records::{ArchiveState, FarmNeed, FarmSeason};
use jiff::civil::Date;

use super::history::dates;
use super::incoming::Incoming;
use super::word::{Word, word};
use super::{recipe, requirement, season as seasons};
use crate::proto;

word!(ArchiveState, proto::ArchiveState { Archived Active });

/// The word, or its default where it is not said.
pub fn said<T: Word + Default>(wire: i32, field: &str) -> Result<T, Error> {
    let mut incoming = Incoming::default();
    let word = incoming.optional_word(wire, Pointer::Root.member(field));
    incoming.finish().map_err(Error::Invalid)?;
    Ok(word.unwrap_or_default())
}

/// The word, or the problem that it is not said.
pub fn needed<T: Word>(wire: i32, field: &str) -> Result<T, Error> {
    let mut incoming = Incoming::default();
    let word = incoming.word(wire, Pointer::Root.member(field));
    incoming.finish().map_err(Error::Invalid)?;
    word.ok_or(Error::Internal)
}

/// The day, where one is named.
pub fn day(text: Option<&str>, field: &str) -> Result<Option<Date>, Error> {
    let mut incoming = Incoming::default();
    let at = Pointer::Root.member(field);
    let day = text.and_then(|text| incoming.parsed(text, at, "a date like 2026-04-30"));
    incoming.finish().map_err(Error::Invalid)?;
    Ok(day)
}

/// The days that a request names, or everything that is wrong with them.
pub fn days(texts: &[String], field: &str) -> Result<Vec<Date>, Error> {
    let mut incoming = Incoming::default();
    let days = dates(texts, Pointer::Root.member(field), &mut incoming);
    incoming.finish().map_err(Error::Invalid)?;
    Ok(days)
}

/// What is on hand, or everything in it that cannot be read.
pub fn on_hand(message: Option<proto::OnHand>) -> Result<OnHand, Error> {
    Incoming::required(message, "on_hand", recipe::on_hand)
}

/// What is needed, or everything in it that cannot be read.
pub fn need(message: Option<proto::Need>) -> Result<Need, Error> {
    Incoming::required(message, "need", requirement::need)
}

/// What is needed on a farm, or everything in it that cannot be read.
pub fn farm_need(message: Option<proto::FarmNeed>) -> Result<FarmNeed, Error> {
    Incoming::required(message, "need", requirement::farm_need)
}

/// What a season brings and asks for, or everything in it that cannot be read.
pub fn season(message: Option<proto::Season>) -> Result<Season, Error> {
    Incoming::required(message, "season", seasons::season)
}

/// What a season on a farm brings and asks for, or everything in it that cannot be read.
pub fn farm_season(message: Option<proto::FarmSeason>) -> Result<FarmSeason, Error> {
    Incoming::required(message, "season", seasons::farm_season)
}

/// Refuses to change what the caller doesn't say to have read.
pub fn etag(text: &str) -> Result<(), Error> {
    if !text.is_empty() {
        return Ok(());
    }
    let mut problems = Problems::default();
    problems.add("/etag", "nothing", "the etag of what was read");
    Err(Error::Invalid(problems))
}
