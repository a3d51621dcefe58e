//! Finished batches that started in a bay before another did.

use std::collections::{HashMap, HashSet};

use baycast_model::moment::Moment;
use jiff::ToSpan;
use jiff::civil::Date;

use crate::error::{Error, Result};
use crate::events::restored;
use crate::history::{HistoryVersion, part, version};
use crate::records::Records;
use crate::stands::{Course, Step, step};
use crate::value::values;
use crate::{batches, farms};

/// A finished batch, and the version of its history.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct EarlierBatch {
    /// Its id.
    pub batch: String,
    /// Names all that its history is made of.
    pub version: HistoryVersion,
}

impl Records {
    /// The last `most` batches that started in the bay in which `batch` started, began before it, and are finished: put
    /// away, or emptied by the end of `day`. Ordered by when they began; a batch begins with its first addition. One that
    /// was joined to another goes on as a part of that one, and is none of them.
    pub async fn earlier_batches(
        &self,
        farm: &str,
        batch: &str,
        day: Date,
        most: usize,
    ) -> Result<Vec<EarlierBatch>> {
        let mut session = self.snapshot().await?;
        let session = session.as_mut();
        let farm = farms::load(session, farm).await?;
        let bay = batches::load(session, &farm.id, batch).await?.start_bay;
        let of_the_bay = session
            .run(
                "SELECT id, version, event_version, archived_at FROM batches \
                 WHERE farm_id = $1 AND start_bay = $2 ORDER BY id",
                values![&farm.id, &bay],
            )
            .await?;
        // What is planned for later than the day has not happened. Of additions the first and the last tell all.
        let next_day = day.saturating_add(1.day()).to_string();
        let filled = session
            .run(
                "SELECT e.batch_id, MIN(e.at), MAX(e.at) FROM events e {placing} WHERE e.farm_id = $1 \
                 AND e.batch_id IN (SELECT id FROM batches WHERE farm_id = $1 AND start_bay = $2) \
                 AND e.at < $3 \
                 AND e.kind IN ('addition', 'move', 'merge', 'withdrawal') AND e.kind = 'addition' \
                 AND e.event IS NOT NULL AND NOT EXISTS (SELECT 1 FROM events s WHERE s.farm_id = e.farm_id \
                 AND s.batch_id = e.batch_id AND s.supersedes = e.id) GROUP BY e.batch_id",
                values![&farm.id, &bay, &next_day],
            )
            .await?;
        let mut courses: HashMap<String, Course> = HashMap::new();
        for mut row in filled {
            let course = courses.entry(row.text()?).or_default();
            for _ in 0..2 {
                let at = row.text()?.parse().map_err(Error::corrupt)?;
                course.steps.push((at, Step::Filled));
            }
        }
        let taken_out = session
            .run(
                "SELECT e.batch_id, e.event FROM events e {placing} WHERE e.farm_id = $1 \
                 AND e.batch_id IN (SELECT id FROM batches WHERE farm_id = $1 AND start_bay = $2) \
                 AND e.at < $3 \
                 AND e.kind IN ('addition', 'move', 'merge', 'withdrawal') AND e.kind = 'withdrawal' \
                 AND e.event IS NOT NULL AND NOT EXISTS (SELECT 1 FROM events s WHERE s.farm_id = e.farm_id \
                 AND s.batch_id = e.batch_id AND s.supersedes = e.id) ORDER BY e.batch_id, e.id",
                values![&farm.id, &bay, &next_day],
            )
            .await?;
        for mut row in taken_out {
            let own = row.text()?;
            let event = restored(&row.text()?, None)?;
            if let Some((own, step)) = step(own, &event) {
                courses.entry(own).or_default().steps.push((event.at, step));
            }
        }
        let merges = session
            .run(
                "SELECT e.batch_id, e.source_batch FROM events e \
                 WHERE e.farm_id = $1 AND e.source_batch IS NOT NULL AND NOT EXISTS (SELECT 1 FROM events s \
                 WHERE s.farm_id = e.farm_id AND s.batch_id = e.batch_id AND s.supersedes = e.id)",
                values![&farm.id],
            )
            .await?;
        let (mut joining, mut joined) = (HashSet::new(), HashSet::new());
        for mut row in merges {
            joining.insert(row.text()?);
            joined.insert(row.text()?);
        }

        let mut own_begin = None;
        let mut finished: Vec<(Moment, String, (i64, i64))> = Vec::new();
        for mut row in of_the_bay {
            let (id, version, event_version) = (row.text()?, row.int()?, row.int()?);
            let archived = row.text_or_none()?.is_some();
            let stands = courses.remove(&id).unwrap_or_default().stands(&id, bay.clone());
            let begin = stands.first().and_then(|stand| stand.from);
            if id == batch {
                own_begin = begin;
            } else if let Some(begin) = begin
                && (archived || stands.last().is_some_and(|stand| stand.until.is_some()))
                && !joined.contains(&id)
            {
                finished.push((begin, id, (version, event_version)));
            }
        }
        finished.retain(|(begin, ..)| own_begin.is_some_and(|own| begin.days() < own.days()));
        finished.sort_by(|(one, ..), (other, ..)| one.days().total_cmp(&other.days()));
        let mut earlier = Vec::new();
        for (_, id, (own_version, event_version)) in finished.split_off(finished.len().saturating_sub(most)) {
            let part = if joining.contains(&id) {
                version(session, &farm.id, &id, 0).await?
            } else {
                part(own_version, event_version, &[])
            };
            earlier.push(EarlierBatch { batch: id, version: HistoryVersion::new(&farm, &part) });
        }
        Ok(earlier)
    }
}
