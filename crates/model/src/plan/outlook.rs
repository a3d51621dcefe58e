//! What comes of a plan's batches, worked out with all heaps that are plausible.

use crate::course::Course;
use crate::estimate::Spread;
use crate::estimator::{EstimateError, Heaps, heaps, last_filled};
use crate::history::{Event, History, Merge, Move, Placement};
use crate::moment::Moment;
use crate::plan::schedule::Schedule;
use crate::plan::search::Found;
use crate::plan::terrain::Terrain;
use crate::weighted::spread;
use crate::window::{Opening, Use, Window};

/// Days looked past the plan's end.
const BEYOND_DAYS: f64 = 180.0;

/// What comes of the batches that are forked together, or of one alone.
pub struct Outlook {
    heaps: Heaps,
    openings: [Vec<(Opening, f64)>; 3],
}

impl Outlook {
    /// Of a batch by its place, with what is forked to it.
    fn new(
        terrain: &Terrain,
        found: &Found,
        schedule: &Schedule,
        place: usize,
    ) -> Result<Self, EstimateError> {
        let mut history = history(terrain, found, schedule, place);
        for (late, own) in found.placed.iter().enumerate().filter(|(_, own)| own.joins == Some(place)) {
            let Some((week, _)) = own.life().turn else { continue };
            let mut source = self::history(terrain, found, schedule, late);
            source.events.retain(|event| event.moved.is_none() || event.at.days() < terrain.day(week));
            let merge = Merge { source: source.batch.clone(), placement: Placement::Mixed };
            let at = Moment::Date(terrain.date(week));
            history.events.push(Event { merge: Some(merge), ..Event::at(at) });
            history.sources.push(source);
        }
        let heaps = heaps(&history, terrain.from)?;
        let from = last_filled(&heaps.timeline, heaps.timeline.until);
        let openings = Use::ALL.map(|for_use| {
            let criteria = &terrain.criteria[for_use as usize];
            let members = heaps.members.iter();
            let opening = |course: &Course, member: &crate::ensemble::Member| {
                criteria.opening(&member.views(course, from, heaps.timeline.until))
            };
            members.map(|member| (opening(&member.course, member), member.weight)).collect()
        });
        Ok(Self { heaps, openings })
    }

    /// When a use's window opens.
    pub fn window(&self, terrain: &Terrain, for_use: Use) -> Window {
        let openings = &self.openings[for_use as usize];
        Window::of(terrain.criteria[for_use as usize], openings, self.heaps.timeline.as_of, &[])
    }

    /// The middle day on which a use's window opens; infinite beyond the horizon.
    pub fn middle_day(&self, for_use: Use) -> f64 {
        let days: Vec<_> =
            self.openings[for_use as usize].iter().map(|(opening, weight)| (opening.day, *weight)).collect();
        crate::weighted::quantile(&days, 0.5)
    }

    /// Probability that it is ready for a use by a day.
    pub fn ready(&self, for_use: Use, day: f64) -> f64 {
        let opened = self.openings[for_use as usize].iter().filter(|(opening, _)| opening.day <= day);
        opened.fold(0.0, |sum, (_, weight)| sum + weight).min(1.0)
    }

    /// Volume on a day if it is ready for a use by `ready_by`, m³; nothing where it is not.
    pub fn volume_m3(&self, for_use: Use, ready_by: f64, day: f64) -> Spread {
        let values: Vec<(f64, f64)> = self
            .heaps
            .members
            .iter()
            .zip(&self.openings[for_use as usize])
            .map(|(member, (opening, weight))| {
                let there = member.course.at(day).filter(|_| opening.day <= ready_by);
                let volume = there.map_or(0.0, |seen| seen.heap.volume_m3());
                (volume * member.judged.volume.at(day).0.exp(), *weight)
            })
            .collect();
        spread(&values)
    }
}

/// The outlooks of a plan: for each batch the place in the list of its own, or of the one it is forked together with.
pub fn outlooks(
    terrain: &Terrain,
    found: &Found,
    schedule: &Schedule,
) -> Result<(Vec<Outlook>, Vec<usize>), EstimateError> {
    let mut outlooks = Vec::new();
    let mut own = vec![0; found.placed.len()];
    for (place, placed) in found.placed.iter().enumerate() {
        if let Some(host) = placed.joins {
            own[place] = own[host];
        } else {
            own[place] = outlooks.len();
            outlooks.push(Outlook::new(terrain, found, schedule, place)?);
        }
    }
    Ok((outlooks, own))
}

/// The history that a batch will have by the plan.
fn history(terrain: &Terrain, found: &Found, schedule: &Schedule, place: usize) -> History {
    let own = &found.placed[place];
    let batch = own.batch;
    let season = terrain.season;
    let (first, second) = schedule.bays[place];
    let mut history = match batch.standing {
        Some(index) => standing(terrain, index),
        None => terrain.begun(schedule.names[place].clone(), &season.bays[first], batch.start),
    };
    for week in batch.start..batch.close {
        let factor = if week + 1 == batch.close { batch.last_share.max(1e-6) } else { 1.0 };
        history.events.extend(terrain.additions(week, factor));
    }
    if batch.standing.is_none() {
        history.as_of = history.events.first().map(|event| event.at).or(history.as_of);
    }
    if let (Some((week, _)), Some(bay)) = (own.life().turn, second) {
        let moved = Move { to_bay: season.bays[bay].id.clone() };
        history.events.push(Event { moved: Some(moved), ..Event::at(Moment::Date(terrain.date(week))) });
    }
    let from = history.as_of.map_or(terrain.day(0), Moment::days);
    let days = terrain.day(terrain.weeks) + BEYOND_DAYS - from;
    history.horizon_days = Some(days.clamp(1.0, 730.0) as u32);
    history
}

/// The history of a batch that stands, as of the plan's first day, with all bays that it could be moved to.
pub fn standing(terrain: &Terrain, index: usize) -> History {
    let mut history = terrain.season.batches[index].history.clone();
    history.as_of = Some(Moment::Date(terrain.from));
    for bay in &terrain.season.bays {
        if history.bay.id != bay.id && history.other_bays.iter().all(|own| own.id != bay.id) {
            history.other_bays.push(bay.clone());
        }
    }
    if history.criteria.is_empty() {
        history.criteria.clone_from(&terrain.season.criteria);
    }
    history.ready_by.clear();
    history.compare_futures = false;
    let days = terrain.day(terrain.weeks) + BEYOND_DAYS - terrain.day(0);
    history.horizon_days = Some(days.clamp(1.0, 730.0) as u32);
    history
}
