//! What to do when, and why.

use std::rc::Rc;

use crate::bay::Top;
use crate::plan::answer::{Action, Step};
use crate::plan::found::{Found, SWEEPINGS};
use crate::plan::ground::Ground;
use crate::plan::lives::CURING_WEEKS;
use crate::plan::outlook::Outlook;
use crate::plan::schedule::Schedule;
use crate::plan::terrain::Terrain;
use crate::window::{DateSpread, Use};

/// First month of the wet half of the year, north and south of the equator.
const WET_FROM: [i8; 2] = [10, 4];

/// What is needed to tell steps.
pub struct Telling<'a> {
    pub terrain: &'a Terrain<'a>,
    pub ground: &'a Ground,
    pub found: &'a Found<'a>,
    pub schedule: &'a Schedule,
    /// The outlook of each batch.
    pub outlooks: &'a [Rc<Outlook<'a>>],
}

impl Telling<'_> {
    /// All steps, in order of time, and within a week in the order in which they are done.
    pub fn steps(&self) -> Vec<Step> {
        let mut steps = Vec::new();
        for place in 0..self.found.placed.len() {
            self.batch(place, &mut steps);
        }
        steps.sort_by(|a, b| (a.on, a.action, &a.bay, &a.batch).cmp(&(b.on, b.action, &b.bay, &b.batch)));
        steps
    }

    fn bay(&self, index: usize) -> String {
        self.terrain.season.bays[index].id.clone()
    }

    /// A step with its volume and reason still to be told.
    fn step(&self, place: usize, week: usize, action: Action, bay: usize) -> Step {
        Step {
            on: self.terrain.date(week),
            action,
            batch: self.schedule.names[place].clone(),
            bay: self.bay(bay),
            to_bay: None,
            with_batch: None,
            demand: None,
            volume_m3: None,
            barrows: None,
            reason: String::new(),
        }
    }

    fn amount(&self, step: Step, volume_m3: f64) -> Step {
        Step { volume_m3: Some(volume_m3), barrows: Some(volume_m3 / self.terrain.barrow_m3()), ..step }
    }

    fn batch(&self, place: usize, steps: &mut Vec<Step>) {
        let own = &self.found.placed[place];
        let batch = own.batch;
        let (first, second) = self.schedule.bays[place];
        let filled = batch.is_filled();
        if filled {
            let capacity_m3 = self.terrain.season.bays[first].capacity_m3();
            let share = 100.0 * batch.filled_m3 / capacity_m3;
            let until = if batch.open {
                format!("not yet full when the plan ends ({share:.0} % by then)")
            } else {
                format!("comes to {share:.0} % of the bay by {}", self.terrain.date(batch.close))
            };
            let reason = if batch.standing.is_some() {
                format!("already being filled; {until}")
            } else {
                format!("all that comes in goes to one bay at a time; {until}")
            };
            let step = self.step(place, batch.start, Action::Fill, first);
            steps.push(Step { reason, ..self.amount(step, batch.filled_m3) });
        }
        if filled && !batch.open {
            let step = self.step(place, batch.close, Action::Close, first);
            steps.push(Step { reason: self.closing(place), ..self.amount(step, batch.filled_m3) });
        }
        let mut bay = first;
        if let (Some((week, _)), Some(into)) = (own.life().turn, second) {
            let step = self.step(place, week, Action::Turn, first);
            let step = Step { to_bay: Some(self.bay(into)), reason: self.turning(place, week, into), ..step };
            let with =
                own.joins.or_else(|| self.found.placed.iter().position(|late| late.joins == Some(place)));
            let with_batch = with.map(|other| self.schedule.names[other].clone());
            steps.push(Step { with_batch, ..self.amount(step, own.life().prospect.volume_m3(week)) });
            bay = into;
            if own.joins.is_none() {
                let cured = self.found.placed.iter().filter(|late| late.joins == Some(place));
                let from =
                    cured.filter_map(|late| late.life().turn).map(|(week, _)| week).fold(week, usize::max);
                let reason = self.curing(place, from);
                steps.push(Step { reason, ..self.step(place, from, Action::Cure, into) });
            }
        }
        if own.joins.is_none() {
            self.cover(place, bay, steps);
        }
        self.taking(place, bay, steps);
    }

    /// Why a batch is closed then.
    fn closing(&self, place: usize) -> String {
        let batch = self.found.placed[place].batch;
        let capacity_m3 = self.terrain.kinds[batch.kind].capacity_m3;
        let served = self.found.draws.iter().find(|(_, own, _)| *own == place);
        if batch.filled_m3 >= 0.97 * capacity_m3 {
            "the bay is full: additions go to the next one, and this one rests".into()
        } else if let Some((demand, ..)) = served {
            let demand = &self.terrain.season.demands[*demand];
            format!("closed before it is full, so that it is ready for `{}` by {}", demand.id, demand.by)
        } else {
            "closed before it is full: a larger bay or a fresh start serves better".into()
        }
    }

    /// Why a batch is turned then, and there.
    fn turning(&self, place: usize, week: usize, into: usize) -> String {
        let own = &self.found.placed[place];
        let bay = &self.terrain.season.bays[into];
        let rested = if own.batch.is_filled() {
            format!("rested {}", weeks(week - own.batch.close))
        } else if own.life().waits == 0 {
            "has rested".into()
        } else {
            format!(
                "has rested; could be turned {} before, but bays and hands are better used so",
                weeks(own.life().waits)
            )
        };
        match own.joins {
            Some(host) => format!(
                "{rested}; forked together with `{}`, as both have sunk enough for one bay",
                self.schedule.names[host]
            ),
            None => format!("{rested}; bay `{}` ({:.1} m³) is free and holds it", bay.id, bay.capacity_m3()),
        }
    }

    /// When a batch that was turned in a week is expected to be ready.
    fn curing(&self, place: usize, week: usize) -> String {
        let DateSpread { p10, p50, p90, .. } =
            self.outlooks[place].window(self.terrain, Use::BedDressing).opens;
        let settled = self.terrain.date(week + CURING_WEEKS);
        match (p10, p50, p90) {
            (None, ..) => "left alone: hardly fit for beds within the time looked at".into(),
            (Some(p10), None, _) => format!(
                "left alone: fit for beds by {p10} in one case of ten, in more than half of all not within the time looked at"
            ),
            (_, Some(p50), _) if p50 <= settled => {
                format!("left alone until {settled}, to warm again and settle, and then likely fit for beds")
            }
            (Some(p10), Some(p50), p90) => {
                let late =
                    p90.map_or_else(|| "not within the time looked at".into(), |day| format!("by {day}"));
                format!("left alone: fit for beds about {p50} (one in ten by {p10}, nine in ten {late})")
            }
        }
    }

    /// A cover before the wet half of the year, for what stands in the open.
    fn cover(&self, place: usize, bay: usize, steps: &mut Vec<Step>) {
        let own = &self.found.placed[place];
        if self.terrain.season.bays[bay].top != Top::Open {
            return;
        }
        let south = usize::from(self.terrain.season.site.latitude_deg < 0.0);
        let from = own.life().turn.map_or(own.batch.close, |(week, _)| week);
        let end = self.found.emptied(self.ground, place).unwrap_or(self.terrain.weeks);
        let wet = |week: &usize| self.terrain.date(*week).month() == WET_FROM[south];
        // Once a winter; one that is closed in the wet half is covered at once.
        let month = i32::from(self.terrain.date(from.min(self.terrain.weeks)).month());
        let wet_now = (month + 12 - i32::from(WET_FROM[south])) % 12 < 6;
        let week = if wet_now { Some(from) } else { (from..end).find(wet) };
        if let Some(week) = week.filter(|week| *week < end) {
            let reason = "winter rain soaks an open heap and washes nitrogen out".into();
            steps.push(Step { reason, ..self.step(place, week, Action::Cover, bay) });
        }
    }

    /// What is taken out for whom.
    fn taking(&self, place: usize, bay: usize, steps: &mut Vec<Step>) {
        let own = &self.found.placed[place];
        let prospect = &own.life().prospect;
        let mut left = 1.0;
        for (demand, _, taken_m3) in self.found.draws.iter().filter(|(_, own, _)| *own == place) {
            let want = &self.found.wants[*demand];
            let demand = &self.terrain.season.demands[want.demand];
            left -= taken_m3 / prospect.volume_m3(want.week);
            let action = if left < SWEEPINGS { Action::Empty } else { Action::Spread };
            let step = self.step(place, want.week, action, bay);
            let reason = format!("for `{}`, needed by {}", demand.id, demand.by);
            steps.push(Step { demand: Some(demand.id.clone()), reason, ..self.amount(step, *taken_m3) });
        }
        if own.end < self.terrain.weeks && left >= SWEEPINGS {
            let step = self.step(place, own.end, Action::Empty, bay);
            let fit = if prospect.ready[Use::BedDressing as usize] <= own.end { "beds" } else { "mulch" };
            let reason = format!(
                "fit for {fit} and asked for by nobody: spread it where it does good or stack it under a sheet, for the bay \
                 is needed"
            );
            steps.push(Step { reason, ..self.amount(step, left * prospect.volume_m3(own.end)) });
        }
    }
}

/// Weeks as people say them.
pub fn weeks(count: usize) -> String {
    if count == 1 { "1 week".into() } else { format!("{count} weeks") }
}
