//! What a group of appends needs to know, read at once and locked, and what it adds.

use std::collections::{HashMap, HashSet};

use baycast_model::feedstock::TABLE;
use baycast_model::history::Event;

use crate::append::Entry;
use crate::error::Result;
use crate::event_id::EventId;
use crate::events::EventRecord;
use crate::idempotency::{self, KeptAnswer, KeyPlace};
use crate::merges::Merges;
use crate::names::taken;
use crate::store::{Session, Table};
use crate::value::{Kind, Row, Value, values};
use crate::writer::Request;

/// Farm and what belongs to it by name.
pub(crate) type Place = (String, String);

/// A batch that entries are for.
#[derive(Clone, Debug)]
pub(crate) struct BatchLine {
    pub event_version: i64,
    pub last: Option<EventId>,
    pub archived: bool,
    pub farm_archived: bool,
}

/// An event that entries speak of.
#[derive(Clone, Debug)]
pub(crate) struct KnownEvent {
    pub external_id: Option<String>,
    pub body: Option<String>,
    pub superseded: bool,
}

/// The state that a group is decided on.
#[derive(Default)]
pub(crate) struct Ledger {
    pub batches: HashMap<Place, BatchLine>,
    pub events: HashMap<(Place, EventId), KnownEvent>,
    /// The event that holds under each own id, retractions included.
    pub own_ids: HashMap<(Place, String), EventId>,
    pub bays: HashSet<Place>,
    pub feedstocks: HashSet<Place>,
    pub merges: HashMap<String, Merges>,
    /// Batches that are named as sources.
    pub sources: HashSet<Place>,
    pub answers: HashMap<KeyPlace, KeptAnswer>,
    /// Events to be written.
    pub added: Vec<EventRecord>,
    /// Answers to be written.
    pub kept: Vec<(KeyPlace, KeptAnswer)>,
    /// Kept answers whose time is over and whose key is used again.
    pub expired: Vec<KeyPlace>,
}

/// What the entries of a group name.
#[derive(Default)]
struct Named {
    batches: HashSet<Place>,
    own_ids: HashSet<(Place, String)>,
    events: HashSet<(Place, EventId)>,
    bays: HashSet<Place>,
    feedstocks: HashSet<Place>,
    sources: HashSet<Place>,
    keys: HashSet<KeyPlace>,
}

impl Named {
    fn of(requests: &[Request]) -> Self {
        let mut named = Self::default();
        for request in requests {
            let farm = &request.append.farm;
            if let Some(key) = &request.append.idempotency_key {
                named.keys.insert((farm.clone(), request.stamp.by.clone(), key.clone()));
            }
            for placed in &request.append.entries {
                let place = (farm.clone(), placed.batch.clone());
                if let Entry::Correct { supersedes, .. } | Entry::Retract { supersedes } = &placed.entry {
                    named.events.insert((place.clone(), *supersedes));
                }
                if let Entry::Add { event } | Entry::Upsert { event } | Entry::Correct { event, .. } =
                    &placed.entry
                {
                    named.event(farm, &place, event);
                }
                named.batches.insert(place);
            }
        }
        named.drop_what_is_no_name();
        named
    }

    fn event(&mut self, farm: &str, place: &Place, event: &Event) {
        if let Some(id) = &event.id {
            self.own_ids.insert((place.clone(), id.clone()));
        }
        if let Some(moved) = &event.moved {
            self.bays.insert((farm.into(), moved.to_bay.clone()));
        }
        if let Some(merge) = &event.merge {
            self.sources.insert((farm.into(), merge.source.clone()));
        }
        if let Some(addition) = &event.addition
            && !TABLE.iter().any(|row| row.id == addition.feedstock)
        {
            self.feedstocks.insert((farm.into(), addition.feedstock.clone()));
        }
    }
}

impl Named {
    /// What cannot be a name is not looked up: it is not there, and the text of one request must not fail its whole group.
    fn drop_what_is_no_name(&mut self) {
        let pair = |(farm, id): &Place| taken(farm) && taken(id);
        for places in [&mut self.batches, &mut self.bays, &mut self.feedstocks, &mut self.sources] {
            places.retain(pair);
        }
        self.own_ids.retain(|(place, id)| pair(place) && taken(id));
        self.events.retain(|(place, _)| pair(place));
        self.keys.retain(|(farm, _, _)| taken(farm));
    }
}

const PAIR: &[(&str, Kind)] = &[("farm_id", Kind::Text), ("id", Kind::Text)];
const TRIPLE: &[(&str, Kind)] = &[("farm_id", Kind::Text), ("batch_id", Kind::Text), ("id", Kind::Text)];

impl Ledger {
    /// Reads what `requests` need, the farms of merges and then the batches locked in order.
    pub async fn load(session: &mut dyn Session, requests: &[Request]) -> Result<Self> {
        let named = Named::of(requests);
        let mut ledger = Self::default();
        let mut farms: Vec<&String> = named.sources.iter().map(|(farm, _)| farm).collect();
        farms.sort_unstable();
        farms.dedup();
        for farm in farms {
            ledger.merges.insert(farm.clone(), Merges::load(session, farm).await?);
        }
        ledger.load_batches(session, &named).await?;
        ledger.answers = idempotency::load(session, named.keys.iter().cloned().collect()).await?;
        ledger.load_events(session, &named).await?;
        let bays = "SELECT b.farm_id, b.id FROM {rows} JOIN bays b ON b.farm_id = k.farm_id AND b.id = k.id";
        ledger.bays = present(session, bays, &named.bays).await?;
        let feedstocks =
            "SELECT b.farm_id, b.id FROM {rows} JOIN feedstocks b ON b.farm_id = k.farm_id AND b.id = k.id";
        ledger.feedstocks = present(session, feedstocks, &named.feedstocks).await?;
        let sources =
            "SELECT b.farm_id, b.id FROM {rows} JOIN batches b ON b.farm_id = k.farm_id AND b.id = k.id";
        ledger.sources = present(session, sources, &named.sources).await?;
        Ok(ledger)
    }

    async fn load_batches(&mut self, session: &mut dyn Session, named: &Named) -> Result<()> {
        let rows = session
            .run_rows(
                "SELECT b.farm_id, b.id, b.event_version, b.last_event_id, b.archived_at, f.archived_at \
                 FROM {rows} JOIN batches b ON b.farm_id = k.farm_id AND b.id = k.id \
                 JOIN farms f ON f.id = b.farm_id ORDER BY b.farm_id, b.id {lock}",
                Table::new(PAIR, pairs(&named.batches)),
            )
            .await?;
        for mut row in rows {
            let place = (row.text()?, row.text()?);
            let line = BatchLine {
                event_version: row.int()?,
                last: row.text_or_none()?.map(|id| id.parse()).transpose()?,
                archived: row.text_or_none()?.is_some(),
                farm_archived: row.text_or_none()?.is_some(),
            };
            self.batches.insert(place, line);
        }
        Ok(())
    }

    async fn load_events(&mut self, session: &mut dyn Session, named: &Named) -> Result<()> {
        if !named.own_ids.is_empty() {
            let rows = named.own_ids.iter().map(|((farm, batch), id)| values![farm, batch, id]).collect();
            let found = session
                .run_rows(
                    "SELECT e.farm_id, e.batch_id, e.id, e.external_id, e.event, NULL FROM {rows} \
                     JOIN events e {own_ids} ON e.farm_id = k.farm_id AND e.batch_id = k.batch_id \
                     AND e.external_id = k.id WHERE NOT EXISTS (SELECT 1 FROM events s WHERE s.farm_id = e.farm_id \
                     AND s.batch_id = e.batch_id AND s.supersedes = e.id)",
                    Table::new(TRIPLE, rows),
                )
                .await?;
            for row in found {
                let (place, id, known) = known(row)?;
                if let Some(own) = &known.external_id {
                    self.own_ids.insert((place.clone(), own.clone()), id);
                }
                self.events.insert((place, id), known);
            }
        }
        if !named.events.is_empty() {
            let rows =
                named.events.iter().map(|((farm, batch), id)| values![farm, batch, id.to_string()]).collect();
            let found = session
                .run_rows(
                    "SELECT e.farm_id, e.batch_id, e.id, e.external_id, e.event, s.id FROM {rows} \
                     JOIN events e ON e.farm_id = k.farm_id AND e.batch_id = k.batch_id AND e.id = k.id \
                     LEFT JOIN events s ON s.farm_id = e.farm_id AND s.batch_id = e.batch_id \
                     AND s.supersedes = e.id",
                    Table::new(TRIPLE, rows),
                )
                .await?;
            for row in found {
                let (place, id, known) = known(row)?;
                if let (Some(own), false) = (&known.external_id, known.superseded) {
                    self.own_ids.insert((place.clone(), own.clone()), id);
                }
                self.events.insert((place, id), known);
            }
        }
        Ok(())
    }
}

/// Reads farm, batch, id, own id, body and the id of the superseding event.
fn known(mut row: Row) -> Result<(Place, EventId, KnownEvent)> {
    let place = (row.text()?, row.text()?);
    let id = row.text()?.parse()?;
    let known = KnownEvent {
        external_id: row.text_or_none()?,
        body: row.text_or_none()?,
        superseded: row.text_or_none()?.is_some(),
    };
    Ok((place, id, known))
}

fn pairs(places: &HashSet<Place>) -> Vec<Vec<Value>> {
    places.iter().map(|(farm, id)| values![farm, id]).collect()
}

/// Which of `places` there are.
async fn present(
    session: &mut dyn Session,
    sql: &'static str,
    places: &HashSet<Place>,
) -> Result<HashSet<Place>> {
    if places.is_empty() {
        return Ok(HashSet::new());
    }
    let rows = session.run_rows(sql, Table::new(PAIR, pairs(places))).await?;
    rows.into_iter().map(|mut row| Ok((row.text()?, row.text()?))).collect()
}
