//! Planning the bays: what to fill, turn, empty and bring in, for a season.
//!
//! A season is laid out in weeks ([`ground`]) with what the model expects of each batch that stands or could be filled
//! ([`lives`]); the best plan is searched for ([`search`]) beside a proven bound ([`bound`]), dealt out to bays
//! ([`schedule`]), and worked out once more with all plausible heaps ([`outlook`]).

pub mod answer;
mod beginning;
pub mod bound;
mod check;
mod conflicts;
mod earlier;
pub mod found;
pub mod ground;
mod guide;
mod lives;
mod mix;
mod offers;
mod outlook;
pub mod prospect;
mod schedule;
pub mod search;
pub mod season;
mod steps;
mod terrain;
pub mod yard;

use std::rc::Rc;

use jiff::ToSpan;
use jiff::civil::Date;

use crate::estimate::{Assumption, Spread};
use crate::estimator::{CAUTIONS, EstimateError, Heaps, heaps};
use crate::moment::last_moment;
use crate::problem::{Problem, Problems};
use crate::window::Use;
use answer::{DemandOutlook, Draw, ExpectedVolume, Optimum, Plan, PlannedBatch, PlannedWindow};
use bound::Prices;
pub use check::MOST_BAYS;
use conflicts::{ExtraBay, Finding};
use earlier::Earlier;
use found::{Found, Sketch};
use ground::{Ground, Late};
use outlook::{Outlook, Outlooks};
use schedule::Schedule;
use search::search;
use season::Season;
use steps::Telling;
use terrain::{Terrain, WEEKS};
use yard::Placed;

/// Factors on the prices of bays and labour under which plans are searched for.
const GUIDES: [f64; 4] = [1.0, 0.7, 0.4, 0.1];
/// Rounds of bettering the best plan.
const ROUNDS: usize = 8;
/// The same where only its worth is wanted.
const QUICK_ROUNDS: usize = 2;
/// How often a plan is made anew because heaps turn out to be ready later than their middle one.
const AGAIN: usize = 4;

/// Plans a season from its `from` on, or from `today` where it gives none.
///
/// Deterministic: the same season, `today` and model version give the same plan.
pub fn plan(season: &Season, today: Date) -> Result<Plan, EstimateError> {
    let terrain = terrain(season, today)?;
    let standing = standing(&terrain)?;
    let mut ground = lives::ground(&terrain, &standing)?;
    let mut outlooks = Outlooks::new(&terrain, &standing);
    let mut before: Option<(Sketch, Prices)> = None;
    for again in 0..=AGAIN {
        let kept = (!season.earlier.is_empty()).then(|| Earlier::new(&terrain).placed(&ground));
        let (found, prices) = best(&ground, before.as_ref(), kept);
        let schedule = Schedule::new(&terrain, &found);
        let outlooks = outlooks.of(&found, &schedule)?;
        let answering = Answering {
            terrain: &terrain,
            ground: &ground,
            prices: &prices,
            found: &found,
            schedule,
            outlooks,
        };
        let late = answering.late();
        if late.is_empty() || again == AGAIN {
            return Ok(answering.plan());
        }
        before = Some((found.sketch(&ground), prices));
        ground.delay(&late);
    }
    unreachable!("the last round answers")
}

/// A season as the search sees it: in weeks, with what the model expects.
pub fn layout(season: &Season, today: Date) -> Result<Ground, EstimateError> {
    let terrain = terrain(season, today)?;
    lives::ground(&terrain, &standing(&terrain)?)
}

/// The best plan found of a season laid out, and the prices whose bound no plan exceeds. It is gone on with from the plan and
/// the prices of `before`, if there are any; the one that is `kept` stands unless another is worth clearly more.
pub fn best<'a>(
    ground: &'a Ground,
    before: Option<&(Sketch, Prices)>,
    kept: Option<Vec<Placed<'a>>>,
) -> (Found<'a>, Prices) {
    let prices = Prices::new(ground, before.map(|(_, prices)| prices));
    let begun = before.and_then(|(begun, _)| begun.placed(ground));
    (search(ground, &GUIDES.map(|factor| prices.scaled(factor)), ROUNDS, begun, kept), prices)
}

/// A season checked and put in weeks.
fn terrain(season: &Season, today: Date) -> Result<Terrain<'_>, Problems> {
    let from = season.from.unwrap_or(today);
    let weeks = season.weeks.unwrap_or(WEEKS).clamp(*check::WEEKS.start(), *check::WEEKS.end());
    let until = from.saturating_add((i64::from(weeks) * 7).days());
    let mut problems = Problems::default();
    check::check(season, from, until, &mut problems);
    problems.into_result()?;
    Ok(Terrain::new(season, from))
}

/// The heaps that stand, every fault of their histories named.
fn standing(terrain: &Terrain) -> Result<Vec<Heaps>, EstimateError> {
    let mut problems = Problems::default();
    let mut found = Vec::new();
    for (index, own) in terrain.season.batches.iter().enumerate() {
        let at = format!("/batches/{index}/history");
        let known = problems.0.len();
        for (event, own) in own.history.events.iter().enumerate() {
            if own.at.days() > last_moment(terrain.from) {
                let accepted = format!("{} or earlier: what is to come is planned", terrain.from);
                problems.add(
                    format!("{at}/events/{event}/at"),
                    format!("{:?}", own.at.to_string()),
                    accepted,
                );
            }
        }
        if problems.0.len() > known {
            continue;
        }
        match heaps(&outlook::standing(terrain, index), terrain.from) {
            Ok(heaps) => found.push(heaps),
            Err(EstimateError::Invalid(own)) => {
                let own = own.0.into_iter();
                problems.0.extend(own.map(|own| Problem { pointer: format!("{at}{}", own.pointer), ..own }));
            }
            Err(error) => return Err(error),
        }
    }
    problems.into_result()?;
    Ok(found)
}

/// A plan on the way to its answer.
struct Answering<'a> {
    terrain: &'a Terrain<'a>,
    ground: &'a Ground,
    prices: &'a Prices,
    found: &'a Found<'a>,
    schedule: Schedule,
    /// The outlook of each batch.
    outlooks: Vec<Rc<Outlook<'a>>>,
}

impl Answering<'_> {
    /// The use and day of a demand, by its place among the wants.
    fn asked(&self, want: usize) -> (Use, f64) {
        let demand = &self.terrain.season.demands[self.ground.wants[want].demand];
        (demand.for_use, last_moment(demand.by))
    }

    /// Batches that a demand counts on and that are more likely than not unready by then.
    fn late(&self) -> Vec<Late> {
        let mut late = Vec::new();
        for (want, place, _) in &self.found.draws {
            let (for_use, day) = self.asked(*want);
            let outlook = &self.outlooks[*place];
            if outlook.ready(for_use, day) >= 0.5 {
                continue;
            }
            let own = &self.found.placed[*place];
            let thought = self.terrain.day(own.life().prospect.ready[for_use as usize]);
            let weeks =
                ((outlook.middle_day(for_use) - thought) / terrain::WEEK_DAYS).ceil().clamp(1.0, 26.0);
            let (for_use, weeks) = (for_use as usize, weeks as usize);
            let batch = own.batch;
            late.push(Late {
                standing: batch.standing,
                kind: batch.kind,
                close: batch.close,
                turned: own.life().turn.is_some(),
                for_use,
                weeks,
            });
        }
        late
    }

    fn plan(&self) -> Plan {
        let demands = self.demands();
        let tight = self.found.refused_m3(self.ground) > 0.5
            || demands.iter().any(|demand| demand.short_m3 > 0.01 * demand.needed_m3);
        let telling = Telling {
            terrain: self.terrain,
            ground: self.ground,
            found: self.found,
            schedule: &self.schedule,
            outlooks: &self.outlooks,
        };
        let finding = Finding {
            terrain: self.terrain,
            ground: self.ground,
            found: self.found,
            schedule: &self.schedule,
            demands: &demands,
            extra: if tight { self.extra_bay() } else { None },
        };
        let (value_m3, bound_m3) = (self.found.value_m3, self.prices.bound_m3);
        let missing = (bound_m3 - value_m3).max(0.0);
        Plan {
            model_version: crate::VERSION.into(),
            from: self.terrain.from,
            until: self.terrain.date(self.terrain.weeks),
            steps: telling.steps(),
            batches: (0..self.found.placed.len()).map(|place| self.batch(place)).collect(),
            conflicts: finding.conflicts(),
            expected: self.expected(),
            demands,
            optimum: Optimum {
                value_m3,
                bound_m3: bound_m3.max(value_m3),
                gap_fraction: if missing > 0.0 { (missing / bound_m3).min(1.0) } else { 0.0 },
            },
            assumptions: self.assumptions(),
            cautions: CAUTIONS.map(String::from).to_vec(),
        }
    }

    fn batch(&self, place: usize) -> PlannedBatch {
        let own = &self.found.placed[place];
        let batch = own.batch;
        let (first, second) = self.schedule.bays[place];
        let date = |week: usize| self.terrain.date(week);
        let filled = batch.is_filled();
        PlannedBatch {
            batch: self.schedule.names[place].clone(),
            standing: batch.standing.is_some(),
            bays: [Some(first), second].into_iter().flatten().map(|bay| self.bay(bay)).collect(),
            merged_into: own.joins.map(|host| self.schedule.names[host].clone()),
            filled_from: filled.then(|| date(batch.start)),
            closed: (filled && !batch.open).then(|| date(batch.close)),
            turned: own.life().turn.map(|(week, _)| date(week)),
            emptied: self.found.emptied(self.ground, place).map(date),
            windows: Use::ALL
                .iter()
                .map(|for_use| {
                    let window = self.outlooks[place].window(self.terrain, *for_use);
                    PlannedWindow {
                        for_use: *for_use,
                        opens: window.opens,
                        held_back_by: window.binding,
                        volume_m3: window.volume_at_opening_m3.map(|m3| m3 * self.share(place, own.end)),
                    }
                })
                .collect(),
            seeds_killed_by: Some(own.life().prospect.killed)
                .filter(|week| *week <= self.terrain.weeks)
                .map(date),
        }
    }

    fn bay(&self, index: usize) -> String {
        self.terrain.season.bays[index].id.clone()
    }

    /// A batch's share in the heap it is part of, in a week.
    fn share(&self, place: usize, week: usize) -> f64 {
        let volume = |other: usize| self.found.placed[other].life().prospect.volume_m3(week);
        let host = self.found.host(place);
        let all = (0..self.found.placed.len()).filter(|other| self.found.host(*other) == host);
        volume(place) / all.map(volume).sum::<f64>().max(1e-9)
    }

    fn demands(&self) -> Vec<DemandOutlook> {
        let mut left: Vec<f64> = (0..self.found.placed.len()).map(|place| self.found.left(place)).collect();
        let outlook = |want: usize, left: &mut Vec<f64>| {
            let own = &self.ground.wants[want];
            let demand = &self.terrain.season.demands[own.demand];
            let (for_use, day) = self.asked(want);
            let mut taken_from = Vec::new();
            for (_, place, taken_m3) in self.found.draws.iter().filter(|(own, ..)| *own == want) {
                let outlook = &self.outlooks[*place];
                let thought_m3 = self.found.placed[*place].life().prospect.volume_m3(own.week);
                let all = outlook.volume_m3(for_use, day, day);
                let there = [all.p10, all.p50, all.p90].map(|volume| volume * self.share(*place, own.week));
                // Where heaps come to less than thought, what nobody takes of the batch makes up for it.
                let planned = taken_m3 / thought_m3;
                let asked = if there[1] > 0.0 { taken_m3 / there[1] } else { planned };
                let share = asked.min(planned + left[*place].max(0.0));
                left[*place] -= (share - planned).max(0.0);
                let [p10, p50, p90] = there.map(|volume| share * volume);
                taken_from.push(Draw {
                    batch: self.schedule.names[*place].clone(),
                    volume_m3: Spread { p10, p50, p90 },
                    ready_probability: outlook.ready(for_use, day),
                });
            }
            let sum =
                |of: fn(&Spread) -> f64| taken_from.iter().fold(0.0, |sum, draw| sum + of(&draw.volume_m3));
            let expected_m3 = Spread { p10: sum(|s| s.p10), p50: sum(|s| s.p50), p90: sum(|s| s.p90) };
            let short_m3 = (own.volume_m3 - expected_m3.p50).max(0.0);
            let short_m3 = if short_m3 < 1e-6 { 0.0 } else { short_m3 };
            DemandOutlook {
                demand: demand.id.clone(),
                for_use,
                by: demand.by,
                needed_m3: own.volume_m3,
                expected_m3,
                short_m3,
                short_barrows: short_m3 / self.terrain.barrow_m3(),
                taken_from,
            }
        };
        (0..self.ground.wants.len()).map(|want| outlook(want, &mut left)).collect()
    }

    /// What is ready for beds by each month's end.
    fn expected(&self) -> Vec<ExpectedVolume> {
        let first = self.terrain.from.last_of_month();
        let last = self.terrain.date(self.terrain.weeks);
        let mut all = Vec::new();
        let mut by = first;
        while by < last {
            let mut sum = Spread { p10: 0.0, p50: 0.0, p90: 0.0 };
            for (place, own) in self.found.placed.iter().enumerate().filter(|(_, own)| own.joins.is_none()) {
                let end =
                    if own.end < self.terrain.weeks { self.terrain.day(own.end) } else { f64::INFINITY };
                let day = last_moment(by).min(end);
                if day >= self.terrain.day(own.batch.close) {
                    let volume = self.outlooks[place].volume_m3(Use::BedDressing, day, day);
                    sum.p10 += volume.p10;
                    sum.p50 += volume.p50;
                    sum.p90 += volume.p90;
                }
            }
            all.push(ExpectedVolume { by, volume_m3: sum });
            by = by.first_of_month().saturating_add(1.month()).last_of_month();
        }
        all
    }

    /// What one bay more, like the largest, would bring.
    fn extra_bay(&self) -> Option<ExtraBay> {
        let mut ground = self.ground.clone();
        let kinds = ground.kinds.iter().enumerate();
        let (largest, _) = kinds.max_by(|(_, a), (_, b)| a.capacity_m3.total_cmp(&b.capacity_m3))?;
        let like = ground.kinds[largest].bays[0];
        ground.kinds[largest].bays.push(like);
        let guides = GUIDES.map(|factor| self.prices.scaled(factor));
        let begun = self.found.sketch(self.ground).placed(&ground);
        let found = search(&ground, &guides, QUICK_ROUNDS, begun, None);
        Some(ExtraBay {
            like,
            gets_m3: (0..ground.wants.len()).map(|want| found.served_m3(want)).collect(),
            refused_m3: found.refused_m3(&ground),
        })
    }

    fn assumptions(&self) -> Vec<Assumption> {
        let season = self.terrain.season;
        let mut assumed = Vec::new();
        let mut assume = |pointer: &str, absent: bool, text: String| {
            if absent {
                assumed.push(Assumption { pointer: pointer.into(), assumed: text });
            }
        };
        assume("/from", season.from.is_none(), format!("today, {}", self.terrain.from));
        assume("/weeks", season.weeks.is_none(), format!("{WEEKS} weeks"));
        assume(
            "/turns_per_week",
            season.turns_per_week.is_none(),
            format!("hands for {} batches a week", self.ground.turns_per_week),
        );
        assume("/rest_weeks", season.rest_weeks.is_none(), "4 weeks of rest before a turn".into());
        assume("/site/normals", season.site.normals.is_none(), {
            let latitude = season.site.latitude_deg;
            format!("a temperate, maritime climate for latitude {latitude}")
        });
        assume("/inflows", season.inflows.is_empty(), "nothing comes in".into());
        assumed
    }
}
