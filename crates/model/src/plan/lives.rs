//! What may become of batches, worked out with the model: of those that stand and of those that could be filled.
//!
//! Courses are those of the middle heap. A heap to come is worked out for fills some weeks apart; the others go on as the one
//! that is closed next to them does, in proportion to their volume.

use std::sync::Arc;

use crate::agenda::{Agenda, Change, Dated};
use crate::course::Course;
use crate::draw::UNKNOWNS;
use crate::ensemble::{Member, before_anything_is_seen};
use crate::estimator::{EstimateError, Heaps, last_filled, turns};
use crate::futures::alive;
use crate::history::History;
use crate::plan::earlier::Earlier;
use crate::plan::ground::{Batch, Ground, Life, Want};
use crate::plan::outlook::{UNSEEN, followed_until};
use crate::plan::prospect::{Prospect, Shape};
use crate::plan::terrain::{Terrain, WEEK_DAYS};
use crate::rosenbrock::Failure;
use crate::seeds::Tolerance;
use crate::timeline::Timeline;
use crate::variant::Variant;
use crate::weighted::quantile;
use crate::window::{Use, daily_views};

/// Weeks that a batch may wait for its turn beyond its rest.
const WAITS: [usize; 8] = [0, 1, 2, 3, 4, 6, 8, 12];
/// Those of them that are worked out; the others go by the one next to them.
const SEEN_WAITS: [usize; 3] = [0, 4, 10];
/// Weeks that a batch is left alone after its turn, at least: a turned heap warms again and settles. Common practice, no source.
pub const CURING_WEEKS: usize = 4;
/// Longest time for which a bay is filled, weeks.
const FILLING_WEEKS: usize = 20;
/// Loose material that mostly fills a bay, over what the bay holds: it sinks while more comes.
const SINKS: f64 = 2.0;
/// Share of a full batch below which nobody closes one.
const LEAST_FILLED: f64 = 0.5;
/// Share of its bay's capacity below which nothing is a batch.
const LEAST_BATCH: f64 = 0.1;
/// How far a bay may be heaped when it is closed: it sinks within days.
const HEAPED: f64 = 1.1;
/// Weeks in which a batch may be closed, at most.
const CLOSINGS: usize = 5;
/// Share of seeds alive at which they count as killed.
const KILLED: f64 = 0.05;
/// Share of its volume that an unfinished batch comes to: what is being filled when the plan ends counts for that.
const COMES_TO: f64 = 0.5;
/// Weeks of closing for which it is told once how the middle of all heaps differs from the middle heap.
const SHIFTS_WEEKS: usize = 13;
/// Kinds of bays whose heaps are worked out after a turn; the others go by the one next to them in size.
const SEEN_KINDS: usize = 3;

/// Lays out a season. `standing` are the heaps of its batches, in their order.
pub fn ground(terrain: &Terrain, standing: &[Heaps]) -> Result<Ground, EstimateError> {
    let season = terrain.season;
    let mut wants: Vec<Want> = season
        .demands
        .iter()
        .enumerate()
        .map(|(demand, own)| Want {
            demand,
            week: terrain.week(own.by),
            volume_m3: own.needed_m3(),
            for_use: own.for_use as usize,
            seeds_killed: own.kill_seeds,
            weight: own.priority.unwrap_or(1.0),
        })
        .collect();
    wants.sort_by_key(|want| want.week);
    let seeds = wants.iter().any(|want| want.seeds_killed) || season.batches.iter().any(|own| own.kill_seeds);
    let look = Look {
        terrain,
        until: terrain.day(terrain.weeks) + WEEK_DAYS,
        seeds,
        rest_weeks: season.rest_weeks.unwrap_or(4) as usize,
        seen: seen_kinds(terrain),
        earlier: Earlier::new(terrain),
    };
    let mut ground = Ground {
        weeks: terrain.weeks,
        kinds: terrain.kinds.clone(),
        turns_per_week: season.turns_per_week.unwrap_or(2) as usize,
        keep_free: season.keep_bay_free.unwrap_or(true),
        wants,
        standing: Vec::new(),
        fills: vec![Vec::new(); terrain.weeks],
        inflow_m3: terrain.inflow_m3.clone(),
    };
    let samples = look.samples()?;
    for (index, heaps) in standing.iter().enumerate() {
        if season.batches[index].filling {
            ground.fills[0] = look.filling(index, heaps, &samples)?;
        } else if let Some(batch) = look.standing(index, heaps) {
            ground.standing.push(batch);
        }
    }
    // What leaves first makes room for the others.
    ground.standing.sort_by_key(|batch| (!batch.lives[0].done, batch.lives[0].prospect.ready));
    let first = usize::from(!ground.fills[0].is_empty());
    for week in first..terrain.weeks {
        for kind in 0..terrain.kinds.len() {
            ground.fills[week].extend(look.fills(kind, week, &samples)?);
        }
    }
    ground.look_ahead();
    Ok(ground)
}

/// Kinds that are worked out, by each kind: the smallest, the middle and the largest, or all where there are no more.
fn seen_kinds(terrain: &Terrain) -> Vec<usize> {
    let mut by_size: Vec<usize> = (0..terrain.kinds.len()).collect();
    let size = |kind: usize| terrain.kinds[kind].capacity_m3.ln();
    by_size.sort_by(|a, b| size(*a).total_cmp(&size(*b)));
    let seen: Vec<usize> = if by_size.len() <= SEEN_KINDS {
        by_size
    } else {
        vec![by_size[0], by_size[by_size.len() / 2], by_size[by_size.len() - 1]]
    };
    let nearest = |kind: usize| {
        let off = |other: &&usize| (size(**other) - size(kind)).abs();
        seen.iter().copied().min_by(|a, b| off(&a).total_cmp(&off(&b))).unwrap_or(kind)
    };
    (0..terrain.kinds.len()).map(nearest).collect()
}

/// A batch that was worked out.
struct Sample {
    kind: usize,
    close: usize,
    unturned: Arc<Shape>,
    /// By wait and kind.
    turned: Vec<(usize, usize, Arc<Shape>)>,
}

/// Weeks after closing at which the middle heap is ready for each use, and those at which half of all heaps are.
#[derive(Clone, Copy)]
struct Shift {
    middle: [f64; 3],
    half: [f64; 3],
}

impl Shift {
    /// Weeks at which half of all heaps are ready, where the middle one is after `weeks`.
    fn half(&self, for_use: usize, weeks: f64) -> f64 {
        let (middle, half) = (self.middle[for_use], self.half[for_use]);
        match (weeks.is_finite(), middle.is_finite()) {
            (true, true) => weeks + half - middle,
            (false, true) => weeks,
            _ => half,
        }
    }

    fn apply(&self, shape: &Shape) -> Shape {
        let ready_weeks = std::array::from_fn(|for_use| self.half(for_use, shape.ready_weeks[for_use]));
        Shape { ready_weeks, ..shape.clone() }
    }
}

/// A bay being filled.
struct Filling {
    variant: Variant,
    /// Week, volume at its start if nothing is added from then on, material that found no room so far, and the share of the
    /// last week's material that found some.
    closings: Vec<Closing>,
}

#[derive(Clone, Copy)]
struct Closing {
    week: usize,
    volume_m3: f64,
    refused_m3: f64,
    share: f64,
}

struct Look<'a> {
    terrain: &'a Terrain<'a>,
    /// How far courses are followed, days since 1970.
    until: f64,
    /// Whether anybody asks about seeds.
    seeds: bool,
    rest_weeks: usize,
    /// The kind that is worked out for each.
    seen: Vec<usize>,
    earlier: Earlier<'a>,
}

impl Look<'_> {
    /// How a heap goes on from the start of week `close` on, or from `from` where it stands already.
    fn shape(&self, course: &Course, filled: f64, close: usize) -> Shape {
        let from = self.terrain.day(close);
        let views = daily_views(
            course,
            filled.max(course.stretches.first().map_or(filled, |first| first.from)),
            self.until,
        );
        let weeks = |day: f64| (day - from) / WEEK_DAYS;
        let ready_weeks =
            Use::ALL.map(|for_use| weeks(self.terrain.criteria[for_use as usize].opening(&views).day));
        let at =
            |week: usize| course.at(from + WEEK_DAYS * week as f64 + 1e-6).map(|seen| seen.heap.volume_m3());
        let first = at(0).unwrap_or(0.0);
        let mut shares = vec![1.0];
        for week in 1..=self.terrain.weeks.saturating_sub(close) {
            let last = shares[week - 1];
            shares.push(at(week).filter(|_| first > 0.0).map_or(last, |volume| volume / first));
        }
        Shape { ready_weeks, killed_weeks: self.killed(course, close), shares }
    }

    /// Weeks after closing at which seeds of middling tolerance are killed.
    fn killed(&self, course: &Course, close: usize) -> f64 {
        if !self.seeds {
            return f64::INFINITY;
        }
        let alive_at = |week: usize| {
            let heap = course.with_seeds(self.terrain.day(week) + 1e-6)?.heap;
            let mut lot = heap.core.seeds;
            lot.mix(&heap.edge.seeds);
            Some(alive(&lot, Tolerance::Medium, 0.0))
        };
        let killed =
            (close..=self.terrain.weeks).find(|week| alive_at(*week).is_some_and(|alive| alive <= KILLED));
        killed.map_or(f64::INFINITY, |week| (week - close) as f64)
    }

    /// Material that is added from a week on, in a bay of a kind.
    fn filled_from(&self, kind: usize, week: usize) -> Result<Option<Timeline>, EstimateError> {
        let last = (week + FILLING_WEEKS).min(self.terrain.weeks);
        let mut history: History = self.terrain.begun("batch".into(), self.terrain.bay(kind), week);
        history.events = (week..last).flat_map(|week| self.terrain.additions(week, 1.0)).collect();
        if history.events.is_empty() {
            return Ok(None);
        }
        history.as_of = history.events.first().map(|event| event.at);
        let days = (self.until - self.terrain.day(week)).ceil().clamp(1.0, 730.0);
        history.horizon_days = Some(days as u32);
        Ok(Some(Timeline::new(&history, self.terrain.from)?))
    }

    /// How a bay is filled from a week on.
    fn filling_of(&self, variant: Variant, kind: usize, week: usize) -> Result<Filling, Failure> {
        let last = (week + FILLING_WEEKS).min(self.terrain.weeks);
        let capacity_m3 = self.terrain.kinds[kind].capacity_m3;
        // It is mostly full when so much has come, and followed further only where it is not.
        let mut came_m3 = 0.0;
        let mut ahead = (week + 1..last).find(|close| {
            came_m3 += self.terrain.inflow_m3[close - 1];
            came_m3 >= SINKS * capacity_m3
        });
        let mut course = variant.course(self.terrain.day(ahead.unwrap_or(last)), None)?;
        let mut closings = Vec::new();
        for close in week + 1..=last {
            if ahead.is_some_and(|ahead| close > ahead) {
                course = variant.course(self.terrain.day(last), None)?;
                ahead = None;
            }
            let Some(seen) = course.at(self.terrain.day(close)) else { continue };
            let volume_m3 = seen.heap.volume_m3();
            let over_m3 = (volume_m3 - HEAPED * capacity_m3).max(0.0);
            let came_m3 = self.terrain.inflow_m3[close - 1];
            let refused_m3 = over_m3.min(came_m3);
            let share = if came_m3 > 0.0 { 1.0 - refused_m3 / came_m3 } else { 1.0 };
            closings.push(Closing { week: close, volume_m3: volume_m3 - over_m3, refused_m3, share });
            if volume_m3 >= capacity_m3 {
                break;
            }
        }
        Ok(Filling { variant, closings })
    }

    /// The closings worth looking at.
    fn closings(&self, filling: &Filling, kind: usize) -> Vec<Closing> {
        let Some(full) = filling.closings.last().copied() else { return Vec::new() };
        let least = (LEAST_FILLED * full.volume_m3).max(LEAST_BATCH * self.terrain.kinds[kind].capacity_m3);
        let good = filling.closings.iter().copied();
        let good: Vec<Closing> =
            good.filter(|own| own.volume_m3 >= least || own.week == self.terrain.weeks).collect();
        if good.len() <= CLOSINGS {
            return good;
        }
        (0..CLOSINGS).map(|index| good[index * (good.len() - 1) / (CLOSINGS - 1)]).collect()
    }

    /// The agenda of a bay that is closed.
    fn closed(&self, filling: &Filling, closing: Closing) -> Agenda {
        let mut agenda = filling.variant.agenda.clone();
        let (end, last) = (self.terrain.day(closing.week), self.terrain.day(closing.week - 1));
        agenda.changes.retain(|dated| dated.day < end);
        for dated in &mut agenda.changes {
            if let Change::Add(material) = &mut dated.change
                && dated.day >= last
            {
                *material = material.times(closing.share.max(1e-6));
            }
        }
        agenda
    }

    /// Batches of all kinds, closed some weeks apart.
    fn samples(&self) -> Result<Vec<Sample>, EstimateError> {
        let mut samples = Vec::new();
        let apart = self.terrain.kinds.len().max(2);
        for kind in 0..self.terrain.kinds.len() {
            let mut shift: Option<(usize, Shift)> = None;
            for week in (0..self.terrain.weeks).step_by(apart) {
                let Some(timeline) = self.filled_from(kind, week)? else { continue };
                let variant = Variant::new(&[0.0; UNKNOWNS], &timeline);
                let filling = self.filling_of(variant, kind, week)?;
                let Some(full) = filling.closings.last().copied() else { continue };
                if full.week >= self.terrain.weeks {
                    break;
                }
                let agenda = self.closed(&filling, full);
                let shift = match shift {
                    Some((week, shift)) if full.week < week + SHIFTS_WEEKS => shift,
                    _ => shift.insert((full.week, self.shift(timeline, agenda.clone(), kind, full.week)?)).1,
                };
                let variant = Variant { agenda, ..filling.variant };
                let filled = variant.agenda.changes.last().map_or(0.0, |dated| dated.day);
                let course = variant.course(self.until, None)?;
                let unturned = Arc::new(shift.apply(&self.shape(&course, filled, full.week)));
                let mut turned = Vec::new();
                for wait in SEEN_WAITS {
                    let day = self.terrain.day(full.week + self.rest_weeks + wait);
                    if day >= self.until {
                        continue;
                    }
                    for seen in self.distinct() {
                        let shape = self.moved(&variant, &course, seen, day, filled, full.week)?;
                        turned.push((wait, seen, Arc::new(shift.apply(&shape))));
                    }
                }
                samples.push(Sample { kind, close: full.week, unturned, turned });
            }
        }
        Ok(samples)
    }

    /// How the middle of all heaps differs from the middle heap, in a batch that is turned when it has rested.
    fn shift(
        &self,
        mut timeline: Timeline,
        agenda: Agenda,
        kind: usize,
        close: usize,
    ) -> Result<Shift, EstimateError> {
        let id = &self.terrain.bay(self.seen[kind]).id;
        let bay = agenda.bays.iter().position(|bay| bay.id == *id).unwrap_or(0);
        timeline.agenda = agenda;
        let filled = timeline.agenda.changes.last().map_or(0.0, |dated| dated.day);
        let day = self.terrain.day(close + self.rest_weeks);
        timeline.agenda.changes.push(Dated { day, change: Change::MoveTo(bay) });
        timeline.until = followed_until(self.terrain, close);
        Ok(self.shift_of(&before_anything_is_seen(&timeline, UNSEEN)?, 0, filled, timeline.until, close))
    }

    fn shift_of(&self, members: &[Member], middle: usize, filled: f64, until: f64, close: usize) -> Shift {
        let weeks = |day: f64| (day - self.terrain.day(close)) / WEEK_DAYS;
        let opened = |for_use: Use| {
            let criteria = &self.terrain.criteria[for_use as usize];
            let opening =
                |member: &Member| criteria.opening(&member.views(&member.course, filled, until)).day;
            let days: Vec<_> = members.iter().map(|member| (opening(member), member.weight)).collect();
            let own = criteria.opening(&daily_views(&members[middle].course, filled, until)).day;
            (weeks(own), weeks(quantile(&days, 0.5)))
        };
        let all = Use::ALL.map(opened);
        Shift { middle: all.map(|(middle, _)| middle), half: all.map(|(_, half)| half) }
    }

    /// Kinds that are worked out.
    fn distinct(&self) -> Vec<usize> {
        let mut seen = self.seen.clone();
        seen.sort_unstable();
        seen.dedup();
        seen
    }

    /// How a heap goes on that is moved into a bay of a kind.
    fn moved(
        &self,
        variant: &Variant,
        course: &Course,
        kind: usize,
        day: f64,
        filled: f64,
        close: usize,
    ) -> Result<Shape, Failure> {
        let id = &self.terrain.bay(kind).id;
        let bay = variant.agenda.bays.iter().position(|bay| bay.id == *id).unwrap_or(0);
        let moved = vec![Dated { day, change: Change::MoveTo(bay) }];
        Ok(self.shape(&variant.course_with(course, moved, self.until)?, filled, close))
    }

    /// What may be done with a batch of a shape: `earliest` is the first week it can be turned in.
    fn lives(
        &self,
        kind: usize,
        close: usize,
        earliest: usize,
        volume_m3: f64,
        unturned: &Arc<Shape>,
        turned: &dyn Fn(usize, usize) -> Option<Arc<Shape>>,
    ) -> Vec<Life> {
        let plain = |shape: Arc<Shape>| Prospect::new(shape, close, volume_m3);
        // What is filled rests at least; what stands is as it is.
        let rested = if close > 0 { earliest } else { 0 };
        let mut lives = vec![Life::new(None, plain(unturned.clone()).not_before(rested))];
        for wait in WAITS {
            let week = earliest + wait;
            if week >= self.terrain.weeks {
                break;
            }
            for (into, bays) in self.terrain.kinds.iter().enumerate() {
                if into == kind && bays.bays.len() < 2 {
                    continue;
                }
                let Some(shape) = turned(wait, into) else { continue };
                let prospect = plain(shape).not_before(week + CURING_WEEKS);
                if prospect.volume_m3(week) <= bays.capacity_m3 {
                    lives.push(Life { waits: wait, ..Life::new(Some((week, into)), prospect) });
                }
            }
        }
        lives
    }

    /// Fills that could be begun in a week.
    fn fills(&self, kind: usize, week: usize, samples: &[Sample]) -> Result<Vec<Batch>, EstimateError> {
        let Some(timeline) = self.filled_from(kind, week)? else { return Ok(Vec::new()) };
        let variant = Variant::new(&[0.0; UNKNOWNS], &timeline);
        let filling = self.filling_of(variant, kind, week)?;
        Ok(self
            .closings(&filling, kind)
            .into_iter()
            .map(|closing| self.fill(kind, week, closing, samples))
            .collect())
    }

    /// A fill that is closed, going on as the sample closed next to it.
    fn fill(&self, kind: usize, week: usize, closing: Closing, samples: &[Sample]) -> Batch {
        let open = closing.week >= self.terrain.weeks;
        let off = |sample: &&Sample| sample.close.abs_diff(closing.week);
        let sample = samples.iter().filter(|sample| sample.kind == kind).min_by_key(off);
        let mut lives = match sample {
            Some(sample) if !open => {
                let turned = |wait: usize, into: usize| {
                    let near = sample.turned.iter().filter(|(_, kind, _)| *kind == self.seen[into]);
                    let near = near.min_by_key(|(seen, ..)| seen.abs_diff(wait));
                    near.map(|(seen, _, shape)| later(shape, wait as f64 - *seen as f64))
                };
                self.lives(
                    kind,
                    closing.week,
                    closing.week + self.rest_weeks,
                    closing.volume_m3,
                    &sample.unturned,
                    &turned,
                )
            }
            _ => {
                let shape = Shape {
                    ready_weeks: [f64::INFINITY; 3],
                    killed_weeks: f64::INFINITY,
                    shares: vec![1.0; self.terrain.weeks.saturating_sub(closing.week) + 1],
                };
                let comes_to_m3 = COMES_TO * closing.volume_m3;
                let prospect = Prospect::new(Arc::new(shape), closing.week, comes_to_m3);
                vec![Life { done: true, ..Life::new(None, prospect) }]
            }
        };
        for life in &mut lives {
            life.begun = true;
        }
        self.mark_fill(kind, week, closing.week, &mut lives);
        Batch {
            kind,
            start: week,
            close: closing.week,
            filled_m3: closing.volume_m3,
            last_share: closing.share,
            refused_m3: closing.refused_m3,
            lives,
            open,
            standing: None,
        }
    }

    /// What may become of the batch that is being filled.
    fn filling(&self, index: usize, heaps: &Heaps, samples: &[Sample]) -> Result<Vec<Batch>, EstimateError> {
        let standing = &self.terrain.season.batches[index];
        let Some(kind) = self.terrain.kind_of(standing.bay()) else { return Ok(Vec::new()) };
        let mut variant = heaps.members[heaps.middle].variant.clone();
        let to_come = self.filled_from(kind, 0)?;
        variant.agenda.changes.extend(to_come.into_iter().flat_map(|to_come| to_come.agenda.changes));
        let filling = self.filling_of(variant, kind, 0)?;
        let closings = self.closings(&filling, kind);
        Ok(closings
            .into_iter()
            .map(|closing| {
                let mut batch = self.fill(kind, 0, closing, samples);
                for life in &mut batch.lives {
                    life.begun = false;
                }
                if standing.kill_seeds {
                    for life in &mut batch.lives {
                        life.prospect = life.prospect.clone().killed_first();
                    }
                }
                self.mark(&standing.history.batch, &mut batch.lives);
                Batch { standing: Some(index), ..batch }
            })
            .collect())
    }

    /// What may become of a batch that stands.
    fn standing(&self, index: usize, heaps: &Heaps) -> Option<Batch> {
        let standing = &self.terrain.season.batches[index];
        let member = &heaps.members[heaps.middle];
        let kind = self.terrain.kind_of(standing.bay())?;
        let now = member.course.at(self.terrain.day(0))?;
        let filled = last_filled(&heaps.timeline, heaps.timeline.as_of);
        let done = turns(&heaps.timeline).any(|day| day >= filled);
        let shift = self.shift_of(&heaps.members, heaps.middle, filled, heaps.timeline.until, 0);
        let unturned = Arc::new(shift.apply(&self.shape(&member.course, filled, 0)));
        let earliest =
            ((filled - self.terrain.day(0)) / WEEK_DAYS + self.rest_weeks as f64).ceil().max(0.0) as usize;
        let volume_m3 = now.heap.volume_m3();
        let turned = |wait: usize, into: usize| {
            let day = self.terrain.day(earliest + wait);
            let shape = self.moved(&member.variant, &member.course, self.seen[into], day, filled, 0);
            shape.ok().map(|shape| Arc::new(shift.apply(&shape)))
        };
        let none = |_: usize, _: usize| None;
        let mut lives =
            self.lives(kind, 0, earliest, volume_m3, &unturned, if done { &none } else { &turned });
        lives[0].done = done;
        if standing.kill_seeds {
            for life in &mut lives {
                life.prospect = life.prospect.clone().killed_first();
            }
        }
        self.mark(&standing.history.batch, &mut lives);
        Some(Batch {
            kind,
            start: 0,
            close: 0,
            filled_m3: volume_m3,
            last_share: 1.0,
            refused_m3: 0.0,
            lives,
            open: false,
            standing: Some(index),
        })
    }
}

/// A shape of a heap that is turned some weeks later: it is ready later by as much.
fn later(shape: &Arc<Shape>, weeks: f64) -> Arc<Shape> {
    if weeks == 0.0 {
        return shape.clone();
    }
    Arc::new(Shape { ready_weeks: shape.ready_weeks.map(|ready| ready + weeks), ..(**shape).clone() })
}

impl Look<'_> {
    /// Marks the lives of a batch that are as the earlier plan has it.
    fn mark(&self, batch: &str, lives: &mut [Life]) {
        if !self.earlier.knows(batch) {
            return;
        }
        let turn = self.earlier.turn(batch);
        for life in lives.iter_mut().filter(|life| life.turn == turn) {
            life.kept += 1;
        }
    }

    /// The same for a fill, which has no other name than that of its bay and week.
    fn mark_fill(&self, kind: usize, week: usize, close: usize, lives: &mut [Life]) {
        let Some((batch, closed)) = self.earlier.fill(kind, week) else { return };
        for life in lives.iter_mut() {
            life.kept += 1 + u8::from(closed == close);
        }
        self.mark(batch, lives);
    }
}
