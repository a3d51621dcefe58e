//! Which batches went into which: no batch into itself, and no deeper than a history may be nested.

use baycast_model::check::SOURCE_DEPTH;

use crate::error::{Clash, Error, Result};
use crate::event_id::EventId;
use crate::store::Session;
use crate::value::values;

/// One merge that was recorded.
#[derive(Clone, Debug)]
struct Merged {
    event: EventId,
    into: String,
    source: String,
    superseded: bool,
}

/// The merges of a farm.
#[derive(Clone, Debug, Default)]
pub(crate) struct Merges(Vec<Merged>);

impl Merges {
    /// The farm's merges, with the farm kept from other merges until the transaction ends: two of them, each harmless,
    /// could close a circle.
    pub async fn load(session: &mut dyn Session, farm: &str) -> Result<Self> {
        session.run("SELECT b.id FROM farms b WHERE b.id = $1 {lock}", values![farm]).await?;
        let rows = session
            .run(
                "SELECT e.id, e.batch_id, e.source_batch FROM events e \
                 WHERE e.farm_id = $1 AND e.source_batch IS NOT NULL \
                 AND NOT EXISTS (SELECT 1 FROM events s WHERE s.farm_id = e.farm_id \
                 AND s.batch_id = e.batch_id AND s.supersedes = e.id)",
                values![farm],
            )
            .await?;
        let merged = rows.into_iter().map(|mut row| {
            let event = row.text()?.parse()?;
            Ok(Merged { event, into: row.text()?, source: row.text()?, superseded: false })
        });
        Ok(Self(merged.collect::<Result<_>>()?))
    }

    /// Whether `source` may go into `batch`.
    pub fn check(&self, batch: &str, source: &str) -> Result<()> {
        let refused = |what| Err(Error::clash(what));
        if batch == source || self.reaches(source, batch) {
            return refused(Clash::Cycle { source_batch: source.into() });
        }
        if self.above(batch) + 1 + self.below(source) > SOURCE_DEPTH {
            return refused(Clash::TooDeep { source_batch: source.into(), most: SOURCE_DEPTH });
        }
        Ok(())
    }

    /// Notes a merge.
    pub fn add(&mut self, event: EventId, into: &str, source: &str) {
        self.0.push(Merged { event, into: into.into(), source: source.into(), superseded: false });
    }

    /// Notes that a merge counts no longer, or again.
    pub fn set_superseded(&mut self, event: EventId, superseded: bool) {
        self.0.iter_mut().filter(|own| own.event == event).for_each(|own| own.superseded = superseded);
    }

    /// Takes out a merge that was noted.
    pub fn remove(&mut self, event: EventId) {
        self.0.retain(|own| own.event != event);
    }

    fn sources<'a>(&'a self, batch: &'a str) -> impl Iterator<Item = &'a str> {
        self.0.iter().filter(move |own| !own.superseded && own.into == batch).map(|own| own.source.as_str())
    }

    fn reaches(&self, from: &str, to: &str) -> bool {
        self.sources(from).any(|source| source == to || self.reaches(source, to))
    }

    fn below(&self, batch: &str) -> usize {
        self.sources(batch).map(|source| 1 + self.below(source)).max().unwrap_or(0)
    }

    fn above(&self, batch: &str) -> usize {
        let into = self.0.iter().filter(|own| !own.superseded && own.source == batch);
        into.map(|own| 1 + self.above(&own.into)).max().unwrap_or(0)
    }
}
