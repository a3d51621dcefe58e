//! A batch's history as the model takes it: the events that hold, and everything they speak of.

use std::collections::BTreeSet;
use std::fmt;

use baycast_model::bay::Bay;
use baycast_model::check::SOURCE_DEPTH;
use baycast_model::feedstock::Feedstock;
use baycast_model::history::{Event, History};

use crate::error::{Error, Result};
use crate::events::restored;
use crate::farms::Farm;
use crate::records::Records;
use crate::store::{Later, Session, Table};
use crate::value::{Kind, values};
use crate::{batches, farms};

/// Names the state of everything that a history is made of: the same version is the same history. It holds the counts of
/// changes of the farm's surroundings, of the batch and of its events, and those of every batch merged into it.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct HistoryVersion(String);

impl HistoryVersion {
    /// Of a batch of the farm, by the batch's part of it.
    pub(crate) fn new(farm: &Farm, part: &str) -> Self {
        Self(format!("{}/{part}", farm.surroundings))
    }

    /// One that was kept as text.
    #[must_use]
    pub fn kept(text: String) -> Self {
        Self(text)
    }

    /// Whether both are of the same batch and events, whatever became of the surroundings.
    pub(crate) fn same_events(&self, other: &Self) -> bool {
        let events = |version: &Self| version.0.split_once('/').map(|(_, events)| events.to_owned());
        events(self) == events(other)
    }

    /// As text, for a tag or a cache.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for HistoryVersion {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl Records {
    /// The batch's history and its version, both of one moment. It names no `as_of`: the day is the caller's to say.
    pub async fn history(&self, farm: &str, batch: &str) -> Result<(History, HistoryVersion)> {
        let mut session = self.snapshot().await?;
        let farm = farms::load(session.as_mut(), farm).await?;
        let (history, version) = read(session.as_mut(), &farm, batch, 0).await?;
        Ok((history, HistoryVersion::new(&farm, &version)))
    }

    /// A farm's own feedstocks of these ids; those it has none of are left out.
    pub async fn feedstocks_named(&self, farm: &str, ids: &BTreeSet<&str>) -> Result<Vec<Feedstock>> {
        read_feedstocks(self.snapshot().await?.as_mut(), farm, ids).await
    }

    /// The version alone, without reading the events.
    pub async fn history_version(&self, farm: &str, batch: &str) -> Result<HistoryVersion> {
        let mut session = self.snapshot().await?;
        let farm = farms::load(session.as_mut(), farm).await?;
        let version = version(session.as_mut(), &farm.id, batch, 0).await?;
        Ok(HistoryVersion::new(&farm, &version))
    }
}

/// One batch's part of the version, with the parts of those merged into it, by name, in brackets.
pub(crate) fn part(version: i64, event_version: i64, sources: &[(String, String)]) -> String {
    let sources: Vec<String> = sources.iter().map(|(id, part)| format!("{id:?}={part}")).collect();
    let sources = if sources.is_empty() { String::new() } else { format!("({})", sources.join(",")) };
    format!("{version}.{event_version}{sources}")
}

fn check_depth(depth: usize, batch: &str) -> Result<()> {
    // Appends see to it that no merge goes deeper, or round in a circle.
    if depth > SOURCE_DEPTH {
        return Err(Error::corrupt(format!("merges of batch `{batch}` are nested too deep")));
    }
    Ok(())
}

pub(crate) fn read<'a>(
    session: &'a mut dyn Session,
    farm: &'a Farm,
    batch: &'a str,
    depth: usize,
) -> Later<'a, (History, String)> {
    Box::pin(async move {
        check_depth(depth, batch)?;
        let own = batches::load(session, &farm.id, batch).await?;
        let events = current(session, &farm.id, batch).await?;
        let mut bays: Vec<&str> = vec![&own.start_bay];
        let mut feedstocks = BTreeSet::new();
        let mut merged = BTreeSet::new();
        for event in &events {
            if let Some(moved) = &event.moved
                && !bays.contains(&moved.to_bay.as_str())
            {
                bays.push(&moved.to_bay);
            }
            feedstocks.extend(event.addition.as_ref().map(|addition| addition.feedstock.as_str()));
            merged.extend(event.merge.as_ref().map(|merge| merge.source.clone()));
        }
        let mut found = read_bays(session, &farm.id, &bays).await?.into_iter();
        let bay = found.next().ok_or_else(|| Error::corrupt("a batch without its bay"))?;
        let other_bays = found.collect();
        let feedstocks = read_feedstocks(session, &farm.id, &feedstocks).await?;
        let mut sources = Vec::new();
        let mut parts = Vec::new();
        for source in merged {
            let (history, part) = read(session, farm, &source, depth + 1).await?;
            sources.push(history);
            parts.push((source, part));
        }
        let part = part(own.version, own.event_version, &parts);
        let history = History {
            batch: own.id,
            as_of: None,
            site: farm.site.clone(),
            bay,
            other_bays,
            feedstocks,
            barrow_m3: farm.barrow_m3,
            events,
            sources,
            criteria: own.criteria,
            horizon_days: own.horizon_days,
            forecast_step_days: own.forecast_step_days,
            ready_by: Vec::new(),
            compare_futures: false,
            lesson: None,
        };
        Ok((history, part))
    })
}

pub(crate) fn version<'a>(
    session: &'a mut dyn Session,
    farm: &'a str,
    batch: &'a str,
    depth: usize,
) -> Later<'a, String> {
    Box::pin(async move {
        check_depth(depth, batch)?;
        let own = batches::load(session, farm, batch).await?;
        let rows = session
            .run(
                "SELECT DISTINCT e.source_batch FROM events e \
                 WHERE e.farm_id = $1 AND e.batch_id = $2 AND e.source_batch IS NOT NULL \
                 AND NOT EXISTS (SELECT 1 FROM events s WHERE s.farm_id = e.farm_id \
                 AND s.batch_id = e.batch_id AND s.supersedes = e.id) ORDER BY e.source_batch",
                values![farm, batch],
            )
            .await?;
        let mut parts = Vec::new();
        for mut row in rows {
            let source = row.text()?;
            let part = version(session, farm, &source, depth + 1).await?;
            parts.push((source, part));
        }
        Ok(part(own.version, own.event_version, &parts))
    })
}

/// The events that hold, in the order in which they were recorded.
async fn current(session: &mut dyn Session, farm: &str, batch: &str) -> Result<Vec<Event>> {
    let rows = session
        .run(
            "SELECT e.event, e.external_id FROM events e \
             WHERE e.farm_id = $1 AND e.batch_id = $2 AND e.event IS NOT NULL \
             AND NOT EXISTS (SELECT 1 FROM events s WHERE s.farm_id = e.farm_id \
             AND s.batch_id = e.batch_id AND s.supersedes = e.id) ORDER BY e.id",
            values![farm, batch],
        )
        .await?;
    rows.into_iter().map(|mut row| restored(&row.text()?, row.text_or_none()?)).collect()
}

/// The bays in the order of `ids`; all of them are there, since events that name others are refused.
async fn read_bays(session: &mut dyn Session, farm: &str, ids: &[&str]) -> Result<Vec<Bay>> {
    let rows = (0..).zip(ids).map(|(place, id): (i64, &&str)| values![farm, *id, place]).collect();
    let rows = session
        .run_rows(
            "SELECT b.bay FROM {rows} JOIN bays b ON b.farm_id = k.farm_id AND b.id = k.id ORDER BY k.place",
            Table::new(&[("farm_id", Kind::Text), ("id", Kind::Text), ("place", Kind::Int)], rows),
        )
        .await?;
    if rows.len() != ids.len() {
        return Err(Error::corrupt("a bay that an event names is gone"));
    }
    rows.into_iter().map(|mut row| row.json()).collect()
}

/// The farm's own feedstocks among `ids`; the others are in the default table.
pub(crate) async fn read_feedstocks(
    session: &mut dyn Session,
    farm: &str,
    ids: &BTreeSet<&str>,
) -> Result<Vec<Feedstock>> {
    if ids.is_empty() {
        return Ok(Vec::new());
    }
    let rows = ids.iter().map(|id| values![farm, *id]).collect();
    let rows = session
        .run_rows(
            "SELECT b.feedstock FROM {rows} JOIN feedstocks b ON b.farm_id = k.farm_id AND b.id = k.id \
             ORDER BY b.id",
            Table::new(&[("farm_id", Kind::Text), ("id", Kind::Text)], rows),
        )
        .await?;
    rows.into_iter().map(|mut row| row.json()).collect()
}
