//! Decides each append of a group on the [`Ledger`], one after the other, without touching the database.

use baycast_model::feedstock::TABLE;
use baycast_model::history::Event;

use crate::append::{Answer, Appended, Entry, Mode, Outcome, Placed};
use crate::error::{Clash, Error, Refusal, Result, Thing};
use crate::event_id::EventId;
use crate::events::{EventRecord, restored};
use crate::idempotency::{KeptAnswer, expiry};
use crate::ledger::{KnownEvent, Ledger, Place};
use crate::names::check;
use crate::stamp::Stamp;
use crate::writer::Request;

impl Ledger {
    /// Decides one append; what it adds is noted in the ledger for those after it to see.
    pub fn decide(&mut self, request: &Request) -> Result<Answer> {
        let Request { append, stamp, hash, .. } = request;
        let key =
            append.idempotency_key.as_ref().map(|key| (append.farm.clone(), stamp.by.clone(), key.clone()));
        if let Some(place) = &key
            && let Some(kept) = self.answers.get(place)
        {
            if kept.expires_at > stamp.at {
                if kept.request_hash == *hash {
                    return Ok(Answer { entries: kept.entries.clone(), replayed: true });
                }
                return Err(Error::clash(Clash::IdempotencyKey { key: place.2.clone() }));
            }
            self.expired.push(place.clone());
        }
        let before = self.added.len();
        let mut entries: Vec<Result<Appended>> =
            append.entries.iter().map(|placed| self.enter(&append.farm, placed, stamp)).collect();
        if append.mode == Mode::AllOrNothing && entries.iter().any(Result::is_err) {
            self.undo(before);
            if entries.len() == 1 {
                entries.remove(0)?;
            }
            let refused = entries.into_iter().enumerate();
            return Err(Error::Refused(
                refused.filter_map(|(index, entry)| Some(Refusal { index, error: entry.err()? })).collect(),
            ));
        }
        if let Some(place) = key {
            let kept = KeptAnswer {
                request_hash: hash.clone(),
                entries: entries.clone(),
                expires_at: expiry(stamp.at),
            };
            self.answers.insert(place.clone(), kept.clone());
            self.kept.push((place, kept));
        }
        Ok(Answer { entries, replayed: false })
    }

    fn enter(&mut self, farm: &str, placed: &Placed, stamp: &Stamp) -> Result<Appended> {
        let place = (farm.to_owned(), placed.batch.clone());
        let line = self.batches.get(&place).ok_or_else(|| Error::missing(Thing::Batch, &placed.batch))?;
        let archived = |what, name: &str| Err(Error::clash(Clash::Archived { what, name: name.into() }));
        if line.farm_archived {
            return archived(Thing::Farm, farm);
        }
        if line.archived {
            return archived(Thing::Batch, &placed.batch);
        }
        match &placed.entry {
            Entry::Add { event } => self.add(place, event, false, stamp),
            Entry::Upsert { event } => {
                if event.id.is_none() {
                    return Err(Error::invalid("event.id", "none", "the caller's own id"));
                }
                self.add(place, event, true, stamp)
            }
            Entry::Correct { supersedes, event } => {
                let (own_id, _) = self.target(&place, *supersedes)?;
                if event.id.is_some() && event.id != own_id {
                    return Err(Error::clash(Clash::OwnId));
                }
                self.check_event(&place, event)?;
                self.note(place, own_id, Some(event), Some(*supersedes), Outcome::Replaced, stamp)
            }
            Entry::Retract { supersedes } => {
                let (own_id, retracted) = self.target(&place, *supersedes)?;
                if retracted {
                    return Err(superseded(*supersedes));
                }
                self.note(place, own_id, None, Some(*supersedes), Outcome::Retracted, stamp)
            }
        }
    }

    /// A new event; one with an own id that is there takes its place where `replace` says so.
    fn add(&mut self, place: Place, event: &Event, replace: bool, stamp: &Stamp) -> Result<Appended> {
        self.check_event(&place, event)?;
        let own_id = event.id.clone();
        let there = own_id.as_ref().and_then(|own| self.own_ids.get(&(place.clone(), own.clone()))).copied();
        let Some(id) = there else {
            return self.note(place, own_id, Some(event), None, Outcome::Added, stamp);
        };
        let body = self.events.get(&(place.clone(), id)).and_then(|known| known.body.as_ref());
        let outcome = match body {
            // Retracted and told again.
            None => Outcome::Added,
            Some(body) if *body == EventRecord::body(event)? => {
                let event_version = self.batches.get(&place).map_or(0, |line| line.event_version);
                return Ok(Appended { batch: place.1, id, outcome: Outcome::Unchanged, event_version });
            }
            Some(_) if replace => Outcome::Replaced,
            Some(_) => {
                let name = own_id.unwrap_or_default();
                return Err(Error::clash(Clash::Exists { what: Thing::Event, name }));
            }
        };
        self.note(place, own_id, Some(event), Some(id), outcome, stamp)
    }

    /// The own id of an event that is to be superseded, and whether it is a retraction.
    fn target(&self, place: &Place, id: EventId) -> Result<(Option<String>, bool)> {
        let known = self.events.get(&(place.clone(), id));
        let known = known.ok_or_else(|| Error::missing(Thing::Event, id.to_string()))?;
        if known.superseded {
            return Err(superseded(id));
        }
        Ok((known.external_id.clone(), known.body.is_none()))
    }

    fn check_event(&self, (farm, batch): &Place, event: &Event) -> Result<()> {
        let details = event.details();
        if details.len() != 1 {
            return Err(Error::invalid("event", &details.join(", "), "exactly one detail"));
        }
        if let Some(id) = &event.id {
            check("event.id", id)?;
        }
        if restored(&EventRecord::body(event)?, event.id.clone()).ok().as_ref() != Some(event) {
            return Err(Error::invalid("event", "not a number", "finite numbers"));
        }
        if let Some(moved) = &event.moved
            && !self.bays.contains(&(farm.clone(), moved.to_bay.clone()))
        {
            return Err(Error::missing(Thing::Bay, &moved.to_bay));
        }
        if let Some(addition) = &event.addition
            && !TABLE.iter().any(|row| row.id == addition.feedstock)
            && !self.feedstocks.contains(&(farm.clone(), addition.feedstock.clone()))
        {
            return Err(Error::missing(Thing::Feedstock, &addition.feedstock));
        }
        if let Some(merge) = &event.merge {
            if !self.sources.contains(&(farm.clone(), merge.source.clone())) {
                return Err(Error::missing(Thing::Batch, &merge.source));
            }
            if let Some(merges) = self.merges.get(farm) {
                merges.check(batch, &merge.source)?;
            }
        }
        Ok(())
    }

    /// Notes an event in the ledger.
    fn note(
        &mut self,
        place: Place,
        external_id: Option<String>,
        event: Option<&Event>,
        supersedes: Option<EventId>,
        outcome: Outcome,
        stamp: &Stamp,
    ) -> Result<Appended> {
        let missing = || Error::missing(Thing::Batch, &place.1);
        let line = self.batches.get_mut(&place).ok_or_else(missing)?;
        let id = EventId::after(line.last, stamp.at)?;
        line.last = Some(id);
        line.event_version += 1;
        let event_version = line.event_version;
        let record = EventRecord {
            farm: place.0.clone(),
            batch: place.1.clone(),
            id,
            event: event.map(|event| Event { id: external_id.clone(), ..event.clone() }),
            external_id,
            supersedes,
            recorded_at: stamp.at,
            recorded_by: stamp.by.clone(),
        };
        let merges = self.merges.entry(place.0.clone()).or_default();
        if let Some(old) = supersedes {
            merges.set_superseded(old, true);
            if let Some(known) = self.events.get_mut(&(place.clone(), old)) {
                known.superseded = true;
            }
        }
        if let Some(source) = record.source() {
            merges.add(id, &place.1, source);
        }
        if let Some(own) = &record.external_id {
            self.own_ids.insert((place.clone(), own.clone()), id);
        }
        let body = record.event.as_ref().map(EventRecord::body).transpose()?;
        let known = KnownEvent { external_id: record.external_id.clone(), body, superseded: false };
        self.events.insert((place.clone(), id), known);
        self.added.push(record);
        Ok(Appended { batch: place.1, id, outcome, event_version })
    }

    /// Takes back what was noted since there were `before` events. Ids that were given out are not given again.
    fn undo(&mut self, before: usize) {
        for record in self.added.drain(before..).rev() {
            let place = (record.farm, record.batch);
            self.events.remove(&(place.clone(), record.id));
            let merges = self.merges.entry(place.0.clone()).or_default();
            merges.remove(record.id);
            if let Some(old) = record.supersedes {
                merges.set_superseded(old, false);
                if let Some(known) = self.events.get_mut(&(place.clone(), old)) {
                    known.superseded = false;
                }
            }
            if let Some(own) = record.external_id {
                match record.supersedes {
                    Some(old) => self.own_ids.insert((place.clone(), own), old),
                    None => self.own_ids.remove(&(place.clone(), own)),
                };
            }
            if let Some(line) = self.batches.get_mut(&place) {
                line.event_version -= 1;
            }
        }
    }
}

fn superseded(event: EventId) -> Error {
    Error::clash(Clash::Superseded { event: event.to_string() })
}
