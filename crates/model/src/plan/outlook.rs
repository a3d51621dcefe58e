//! What comes of a plan's batches, worked out with all heaps that are plausible.

use std::borrow::Cow;
use std::collections::HashMap;
use std::rc::Rc;

use crate::agenda::{Change, Dated};
use crate::course::Course;
use crate::ensemble::{Member, before_anything_is_seen};
use crate::estimate::Spread;
use crate::estimator::{EstimateError, Heaps, heaps, last_filled};
use crate::history::{Event, History, Merge, Move, Placement};
use crate::moment::Moment;
use crate::observation::Volume;
use crate::plan::found::Found;
use crate::plan::schedule::Schedule;
use crate::plan::terrain::{Terrain, WEEK_DAYS};
use crate::plan::yard::Placed;
use crate::rosenbrock::Failure;
use crate::timeline::Timeline;
use crate::weighted::spread;
use crate::window::{Opening, Use, Window};

/// Days looked past the plan's end, at most.
const BEYOND_DAYS: f64 = 180.0;
/// Heaps that stand for all that are plausible of a batch of which nothing is there yet.
pub const UNSEEN: usize = 32;
/// Weeks for which a batch is followed after it was closed, at least.
const FOLLOWED_WEEKS: usize = 40;

/// How far a batch is followed that is closed in a week: to the plan's end at least, days since 1970.
pub fn followed_until(terrain: &Terrain, close: usize) -> f64 {
    let end = terrain.day(terrain.weeks);
    terrain.day(close + FOLLOWED_WEEKS).clamp(end + WEEK_DAYS, end + BEYOND_DAYS)
}

/// Days from one to another, as a horizon.
fn horizon_days(from: f64, until: f64) -> u32 {
    (until - from).clamp(1.0, 730.0) as u32
}

/// What comes of the batches that are forked together, or of one alone.
pub struct Outlook<'a> {
    as_of: f64,
    heaps: Vec<Heap<'a>>,
    openings: [Vec<(Opening, f64)>; 3],
}

/// A plausible heap.
struct Heap<'a> {
    course: Cow<'a, Course>,
    volume: Volume,
}

impl<'a> Outlook<'a> {
    /// Of heaps that go on as they were worked out.
    fn whole(terrain: &Terrain, Heaps { timeline, members, .. }: Heaps) -> Self {
        let courses = members.iter().map(|member| &member.course);
        let openings = openings(terrain, &timeline, &members, courses);
        let heap = |member: Member| Heap { course: Cow::Owned(member.course), volume: member.judged.volume };
        Self { as_of: timeline.as_of, openings, heaps: members.into_iter().map(heap).collect() }
    }

    /// Of heaps that stand and get nothing more, but may be turned into a bay.
    fn standing(
        terrain: &Terrain,
        Heaps { timeline, members, .. }: &'a Heaps,
        turned: Option<(usize, &str)>,
    ) -> Result<Self, Failure> {
        let course = |member: &'a Member| {
            let Some((week, bay)) = turned else { return Ok(Cow::Borrowed(&member.course)) };
            let bay = member.variant.agenda.bays.iter().position(|own| own.id == bay).unwrap_or(0);
            let day = Moment::Date(terrain.date(week)).days();
            let moved = vec![Dated { day, change: Change::MoveTo(bay) }];
            member.variant.course_with(&member.course, moved, timeline.until).map(Cow::Owned)
        };
        let courses = members.iter().map(course).collect::<Result<Vec<_>, _>>()?;
        let openings = openings(terrain, timeline, members, courses.iter().map(Cow::as_ref));
        let heap =
            |(member, course): (&'a Member, Cow<'a, Course>)| Heap { course, volume: member.judged.volume };
        let heaps = members.iter().zip(courses).map(heap).collect();
        Ok(Self { as_of: timeline.as_of, openings, heaps })
    }

    /// When a use's window opens.
    pub fn window(&self, terrain: &Terrain, for_use: Use) -> Window {
        let openings = &self.openings[for_use as usize];
        Window::of(terrain.criteria[for_use as usize], openings, self.as_of, &[])
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
        let openings = self.openings[for_use as usize].iter();
        let volume_m3 = |(heap, (opening, weight)): (&Heap, &(Opening, f64))| {
            let there = heap.course.at(day).filter(|_| opening.day <= ready_by);
            let volume_m3 = there.map_or(0.0, |seen| seen.heap.volume_m3());
            (volume_m3 * heap.volume.at(day).0.exp(), *weight)
        };
        spread(&self.heaps.iter().zip(openings).map(volume_m3).collect::<Vec<_>>())
    }
}

/// When windows open for each use, on the courses of members.
fn openings<'c>(
    terrain: &Terrain,
    timeline: &Timeline,
    members: &[Member],
    courses: impl Iterator<Item = &'c Course>,
) -> [Vec<(Opening, f64)>; 3] {
    let from = last_filled(timeline, timeline.until);
    let views: Vec<_> = members
        .iter()
        .zip(courses)
        .map(|(member, course)| (member.views(course, from, timeline.until), member.weight))
        .collect();
    let opening = |for_use: Use| {
        let criteria = &terrain.criteria[for_use as usize];
        views.iter().map(|(views, weight)| (criteria.opening(views), *weight)).collect()
    };
    Use::ALL.map(opening)
}

/// What makes out what comes of a batch: which one stands, or the kind of its bay, its first week and that it is closed in; and
/// the week in which it is turned and the kind of bay it is turned into.
type Fate = (Option<usize>, [usize; 3], Option<(usize, usize)>);

fn fate(own: &Placed) -> Fate {
    let batch = own.batch;
    (batch.standing, [batch.kind, batch.start, batch.close], own.life().turn)
}

/// The outlooks of plans of a season, each worked out once.
pub struct Outlooks<'a> {
    terrain: &'a Terrain<'a>,
    standing: &'a [Heaps],
    known: HashMap<Vec<Fate>, Rc<Outlook<'a>>>,
}

impl<'a> Outlooks<'a> {
    /// None yet; `standing` are the heaps of the batches that stand.
    pub fn new(terrain: &'a Terrain<'a>, standing: &'a [Heaps]) -> Self {
        Self { terrain, standing, known: HashMap::new() }
    }

    /// Those of a plan: for each batch its own, or that of the one it is forked together with.
    pub fn of(&mut self, found: &Found, schedule: &Schedule) -> Result<Vec<Rc<Outlook<'a>>>, EstimateError> {
        (0..found.placed.len()).map(|place| self.own(found, schedule, found.host(place))).collect()
    }

    /// That of a batch with what is forked to it.
    fn own(
        &mut self,
        found: &Found,
        schedule: &Schedule,
        place: usize,
    ) -> Result<Rc<Outlook<'a>>, EstimateError> {
        let forked: Vec<usize> =
            (0..found.placed.len()).filter(|late| found.placed[*late].joins == Some(place)).collect();
        let fates: Vec<Fate> = [place].iter().chain(&forked).map(|own| fate(&found.placed[*own])).collect();
        if let Some(known) = self.known.get(&fates) {
            return Ok(known.clone());
        }
        let own = &found.placed[place];
        let outlook = match own.batch.standing {
            Some(index) if forked.is_empty() && !own.batch.is_filled() => {
                let (_, bay) = schedule.bays[place];
                let bays = &self.terrain.season.bays;
                let turned = own.life().turn.zip(bay).map(|((week, _), bay)| (week, bays[bay].id.as_str()));
                Outlook::standing(self.terrain, &self.standing[index], turned)?
            }
            _ => {
                let history = history_with(self.terrain, found, schedule, place, &forked);
                let from = self.terrain.from;
                let stands = |place: &usize| found.placed[*place].batch.standing.is_some();
                let heaps = if [place].iter().chain(&forked).any(stands) {
                    heaps(&history, from)?
                } else {
                    // Nothing was seen of it that would have to be weighed.
                    let timeline = Timeline::new(&history, from)?;
                    let members = before_anything_is_seen(&timeline, UNSEEN)?;
                    Heaps { timeline, members, middle: 0 }
                };
                Outlook::whole(self.terrain, heaps)
            }
        };
        Ok(self.known.entry(fates).or_insert_with(|| Rc::new(outlook)).clone())
    }
}

/// The history that a batch will have by the plan, with what is forked to it.
fn history_with(
    terrain: &Terrain,
    found: &Found,
    schedule: &Schedule,
    place: usize,
    forked: &[usize],
) -> History {
    let mut history = history(terrain, found, schedule, place);
    for late in forked {
        let Some((week, _)) = found.placed[*late].life().turn else { continue };
        let mut source = self::history(terrain, found, schedule, *late);
        source.events.retain(|event| event.moved.is_none() || event.at.days() < terrain.day(week));
        let merge = Merge { source: source.batch.clone(), placement: Placement::Mixed };
        let at = Moment::Date(terrain.date(week));
        history.events.push(Event { merge: Some(merge), ..Event::at(at) });
        history.sources.push(source);
    }
    history
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
    history.horizon_days = Some(horizon_days(from, followed_until(terrain, batch.close)));
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
    history.horizon_days = Some(horizon_days(terrain.day(0), followed_until(terrain, 0)));
    history
}
