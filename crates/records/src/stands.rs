//! Which batch stood in which bay, and when: told by where batches start, what moved them and what ended them.

use std::collections::HashMap;

use baycast_model::history::Event;
use baycast_model::moment::Moment;
use jiff::Timestamp;
use jiff::civil::Date;

use crate::error::Result;
use crate::events::restored;
use crate::farms;
use crate::records::Records;
use crate::store::Session;
use crate::value::values;

/// A batch in a bay, from one moment to another.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stand {
    /// The batch.
    pub batch: String,
    /// The bay.
    pub bay: String,
    /// When it came there; none where nothing is known of the batch's beginning.
    pub from: Option<Moment>,
    /// When it left; none while it stands there.
    pub until: Option<Moment>,
}

impl Stand {
    /// Whether it stood there on this day. On the day of a move a batch stood in both bays.
    #[must_use]
    pub fn on(&self, day: Date) -> bool {
        self.from.is_none_or(|from| from.date() <= day) && self.until.is_none_or(|until| day <= until.date())
    }

    /// Whether it may have stood there at this time: all day where a day's hour is not known.
    fn at(&self, time: Timestamp) -> bool {
        let day = Moment::Instant(time).date();
        let come = self.from.is_none_or(|from| match from {
            Moment::Date(from) => from <= day,
            Moment::Instant(from) => from <= time,
        });
        let gone = self.until.is_some_and(|until| match until {
            Moment::Date(until) => until < day,
            Moment::Instant(until) => until <= time,
        });
        come && !gone
    }
}

/// What places a batch or ends it, in the order of time.
#[derive(Default)]
pub(crate) struct Course {
    pub(crate) steps: Vec<(Moment, Step)>,
}

/// One step of a batch's course.
pub(crate) enum Step {
    /// Something went in: a batch that was emptied stands again.
    Filled,
    /// Forked into another bay.
    Moved(String),
    /// All of it taken out, or joined to another batch.
    Ended,
}

impl Course {
    /// The stands of a batch that starts in a bay.
    pub(crate) fn stands(mut self, batch: &str, start_bay: String) -> Vec<Stand> {
        self.steps.sort_by(|(one, _), (other, _)| one.days().total_cmp(&other.days()));
        let first = self.steps.iter().find(|(_, step)| matches!(step, Step::Filled)).map(|(at, _)| *at);
        let stand = |bay, from| Stand { batch: batch.into(), bay, from, until: None };
        let mut stands = vec![stand(start_bay, first)];
        for (at, step) in self.steps {
            let Some(last) = stands.last_mut() else { continue };
            match step {
                Step::Filled if last.until.is_some() => {
                    let bay = last.bay.clone();
                    stands.push(stand(bay, Some(at)));
                }
                Step::Filled => {}
                Step::Moved(bay) => {
                    last.until.get_or_insert(at);
                    stands.push(stand(bay, Some(at)));
                }
                Step::Ended => {
                    last.until.get_or_insert(at);
                }
            }
        }
        stands
    }
}

impl Records {
    /// Where the farm's batches in use stood, as the events that hold tell it. A batch of which nothing was put in
    /// yet stands in its first bay without a beginning.
    pub async fn stands(&self, farm: &str) -> Result<Vec<Stand>> {
        let mut session = self.snapshot().await?;
        farms::load(session.as_mut(), farm).await?;
        stands(session.as_mut(), farm).await
    }

    /// The batch that whatever was in `bay` at a time was in: of those that stood there, the last to come; several where
    /// they came together.
    pub async fn batches_in_bay(&self, farm: &str, bay: &str, time: Timestamp) -> Result<Vec<String>> {
        let mut there = self.stands(farm).await?;
        there.retain(|stand| stand.bay == bay && stand.at(time));
        let came = |stand: &Stand| stand.from.map_or(f64::NEG_INFINITY, Moment::days);
        let last = there.iter().map(came).fold(f64::NEG_INFINITY, f64::max);
        Ok(there.into_iter().filter(|stand| came(stand) >= last).map(|stand| stand.batch).collect())
    }
}

/// Where the batches in use stood, of a farm that is there.
pub(crate) async fn stands(session: &mut dyn Session, farm: &str) -> Result<Vec<Stand>> {
    let batches = session
        .run(
            "SELECT id, start_bay FROM batches WHERE farm_id = $1 AND archived_at IS NULL ORDER BY id",
            values![farm],
        )
        .await?;
    let steps = session
        .run(
            "SELECT e.batch_id, e.event FROM events e {placing} WHERE e.farm_id = $1 \
             AND e.kind IN ('addition', 'move', 'merge', 'withdrawal') AND e.event IS NOT NULL \
             AND NOT EXISTS (SELECT 1 FROM events s WHERE s.farm_id = e.farm_id \
             AND s.batch_id = e.batch_id AND s.supersedes = e.id) ORDER BY e.batch_id, e.id",
            values![farm],
        )
        .await?;
    let mut courses: HashMap<String, Course> = HashMap::new();
    for mut row in steps {
        let batch = row.text()?;
        let event = restored(&row.text()?, None)?;
        let Some((batch, step)) = step(batch, &event) else { continue };
        courses.entry(batch).or_default().steps.push((event.at, step));
    }
    let mut stands = Vec::new();
    for mut row in batches {
        let (batch, start_bay) = (row.text()?, row.text()?);
        let course = courses.remove(&batch).unwrap_or_default();
        stands.extend(course.stands(&batch, start_bay));
    }
    Ok(stands)
}

/// What an event of a batch does to the place of which batch.
pub(crate) fn step(batch: String, event: &Event) -> Option<(String, Step)> {
    if event.addition.is_some() {
        Some((batch, Step::Filled))
    } else if let Some(moved) = &event.moved {
        Some((batch, Step::Moved(moved.to_bay.clone())))
    } else if let Some(merge) = &event.merge {
        Some((merge.source.clone(), Step::Ended))
    } else if event.withdrawal.is_some_and(|withdrawal| withdrawal.volume_m3.is_none()) {
        Some((batch, Step::Ended))
    } else {
        None
    }
}
