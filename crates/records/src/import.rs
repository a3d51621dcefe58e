//! Takes in what [`Records::export`] wrote: all of it or nothing, with ids, times and authors as they were.

use tokio::io::{AsyncBufRead, AsyncBufReadExt};

use crate::batches::{self, Batch};
use crate::bays::{self, BayRecord};
use crate::changes::Change;
use crate::error::{Error, Result};
use crate::events::{self, EventRecord};
use crate::export::{FORMAT, Line};
use crate::farms::{self, Farm};
use crate::feedstocks::{self, FeedstockRecord};
use crate::instant::to_microsecond;
use crate::names::check;
use crate::records::Records;
use crate::seasons;
use crate::store::Session;
use crate::value::values;

/// Lines put in at once.
const CHUNK: usize = 500;

/// Lines of one kind, until there are enough of them to be put in together.
#[derive(Default)]
struct Waiting {
    bays: Vec<BayRecord>,
    feedstocks: Vec<FeedstockRecord>,
    batches: Vec<Batch>,
    events: Vec<EventRecord>,
}

impl Waiting {
    fn len(&self) -> usize {
        self.bays.len() + self.feedstocks.len() + self.batches.len() + self.events.len()
    }

    /// Puts all of it in, in the order in which things point to one another.
    async fn put(&mut self, session: &mut dyn Session, line: u64) -> Result<()> {
        let twice = |added: usize, given: usize| {
            if added == given { Ok(()) } else { Err(refused(line, "a name given twice", "each name once")) }
        };
        if !self.bays.is_empty() {
            twice(bays::insert(session, &self.bays).await?, self.bays.len())?;
        }
        if !self.feedstocks.is_empty() {
            twice(feedstocks::insert(session, &self.feedstocks).await?, self.feedstocks.len())?;
        }
        if !self.batches.is_empty() {
            twice(batches::insert(session, &self.batches).await?, self.batches.len())?;
        }
        if !self.events.is_empty() {
            events::insert(session, &self.events).await?;
        }
        *self = Self::default();
        Ok(())
    }
}

fn refused(line: u64, given: &str, accepted: &str) -> Error {
    Error::invalid(format!("line {line}"), given, accepted)
}

impl Records {
    /// Adds the farm that the lines tell of; there must be none of its name.
    pub async fn import<R: AsyncBufRead + Unpin + Send>(&self, from: &mut R) -> Result<Farm> {
        let mut session = self.write().await?;
        let mut waiting = Waiting::default();
        let mut farm: Option<Farm> = None;
        let mut season = None;
        let mut ended = false;
        let mut count = 0;
        let mut lines = from.lines();
        let input = |error: std::io::Error| Error::Unavailable { detail: format!("the input: {error}") };
        while let Some(text) = lines.next_line().await.map_err(input)? {
            count += 1;
            let line: Line = serde_json::from_str(&text)
                .map_err(|error| refused(count, &error.to_string(), "a line of an export"))?;
            let foreign = |own: &str| farm.as_ref().is_none_or(|farm| farm.id != own);
            match line {
                _ if ended => return Err(refused(count, "a line after the end", "nothing")),
                Line::Export { format } if count == 1 && (1..=FORMAT).contains(&format) => {}
                Line::Farm(own) if count == 2 => {
                    check("id", &own.id)?;
                    farms::insert(session.as_mut(), &own).await?;
                    farm = Some(own);
                }
                Line::Bay(own) if !foreign(&own.farm) => waiting.bays.push(own),
                Line::Feedstock(own) if !foreign(&own.farm) => waiting.feedstocks.push(own),
                Line::Batch(own) if !foreign(&own.farm) => waiting.batches.push(own),
                Line::Event(own) if !foreign(&own.farm) => {
                    check_event(count, &own)?;
                    waiting.events.push(*own);
                }
                Line::Season(own) if !foreign(&own.farm) && season.is_none() => season = Some(own),
                Line::End { lines } if lines == count - 1 && farm.is_some() => ended = true,
                _ => return Err(refused(count, &text, "the lines of one farm in the order of an export")),
            }
            if waiting.len() >= CHUNK || ended {
                waiting.put(session.as_mut(), count).await?;
            }
        }
        let (Some(farm), true) = (farm, ended) else {
            return Err(refused(count, "the end of the file", "an export up to its last line"));
        };
        check_counts(session.as_mut(), &farm.id, count).await?;
        if let Some(season) = season {
            seasons::insert(session.as_mut(), &season).await?;
        }
        session.announce(vec![Change::Surroundings { farm: farm.id.clone() }]).await?;
        session.commit().await?;
        Ok(farm)
    }
}

/// Whether each batch has as many events as it says, up to its last one.
async fn check_counts(session: &mut dyn Session, farm: &str, line: u64) -> Result<()> {
    let wrong = session
        .run(
            "SELECT b.id FROM batches b LEFT JOIN (SELECT e.batch_id, count(*) AS events, max(e.id) AS last \
             FROM events e WHERE e.farm_id = $1 GROUP BY e.batch_id) c ON c.batch_id = b.id \
             WHERE b.farm_id = $1 AND (b.event_version <> COALESCE(c.events, 0) \
             OR COALESCE(b.last_event_id, '') <> COALESCE(c.last, '')) ORDER BY b.id",
            values![farm],
        )
        .await?;
    match wrong.into_iter().next() {
        None => Ok(()),
        Some(mut row) => Err(refused(line, &row.text()?, "batches with all their events")),
    }
}

/// What the database's own checks do not see.
fn check_event(line: u64, own: &EventRecord) -> Result<()> {
    if own.event.as_ref().is_some_and(|event| event.id != own.external_id || event.details().len() != 1) {
        return Err(refused(line, "an event", "one detail, and the own id that stands beside it"));
    }
    if own.event.is_none() && own.supersedes.is_none() {
        return Err(refused(line, "nothing", "an event, or what it retracts"));
    }
    if to_microsecond(own.recorded_at) != own.recorded_at {
        return Err(refused(line, &own.recorded_at.to_string(), "a time to the microsecond"));
    }
    Ok(())
}
