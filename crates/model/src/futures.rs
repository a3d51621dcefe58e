//! What could be done about a heap, and what would come of it.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::agenda::{Change, Dated};
use crate::bay::Top;
use crate::course::Course;
use crate::ensemble::Member;
use crate::estimate::Spread;
use crate::feedstock::default_feedstocks;
use crate::history::Preparation;
use crate::moment::days_to_date;
use crate::rosenbrock::Failure;
use crate::seeds::{SPECIES, SeedLot, Tolerance};
use crate::timeline::Timeline;
use crate::weighted::{quantile, spread};
use crate::window::{Criteria, DateSpread};

/// One future of a heap.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Future {
    /// What is done.
    pub step: Step,
    /// When.
    #[cfg_attr(feature = "schema", schema(value_type = String, format = Date))]
    pub on: Date,
    /// When the bed-dressing window opens then.
    pub opens: DateSpread,
    /// Days by which that is earlier than if the heap is left, heap by heap; absent where one in two never opens.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub earlier_days: Option<Spread>,
    /// Volume on the day of the middle opening if the heap is left, or at the horizon, m³.
    pub volume_m3: Spread,
    /// Seeds alive on that day, as a share of those that went in, by how much heat the species stand.
    pub seeds: SeedsLeft,
}

/// What may be done.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Step {
    /// Nothing beyond what is planned.
    Leave,
    /// Turned at the end of the day of the estimate.
    TurnNow,
    /// Turned two weeks after it.
    TurnInTwoWeeks,
    /// Turned at the end of that day with a tenth of its volume of shredded prunings forked in.
    AddWood,
    /// Covered at the end of that day.
    Cover,
}

/// Middle shares of seeds alive, by the species' tolerance of heat.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SeedsLeft {
    /// Of species that die early.
    pub soft_fraction: f64,
    /// Of species that need sustained heat.
    pub medium_fraction: f64,
    /// Of hard-seeded species.
    pub hard_fraction: f64,
}

/// Days that a later turn waits.
const LATER_DAYS: f64 = 14.0;
/// Wood forked in, as a share of the heap's volume.
const WOOD_SHARE: f64 = 0.1;
/// What is forked in, of the default table.
const WOOD: &str = "shredded_prunings";

impl Step {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::Leave, Self::TurnNow, Self::TurnInTwoWeeks, Self::AddWood, Self::Cover];

    /// Whether it can be done to a heap under `top`, covered or not.
    pub(crate) fn possible(self, top: Top, covered: bool) -> bool {
        self != Self::Cover || (top == Top::Open && !covered)
    }

    /// The day it is done, for an estimate as of `as_of`.
    fn day(self, as_of: f64) -> f64 {
        if self == Self::TurnInTwoWeeks { as_of + LATER_DAYS } else { as_of }
    }

    /// What it changes in a heap of `volume_m3`.
    fn changes(self, timeline: &Timeline, volume_m3: f64) -> Vec<Dated> {
        let day = self.day(timeline.as_of);
        let changes = match self {
            Self::Leave => Vec::new(),
            Self::TurnNow | Self::TurnInTwoWeeks => vec![Change::Turn],
            Self::Cover => vec![Change::Cover(true)],
            Self::AddWood => {
                let air_c = timeline.agenda.weather.at(day).0;
                let table = default_feedstocks();
                let wood = table.iter().find(|own| own.id == WOOD).map(|wood| {
                    let per_m3 = wood.loose_kg_m3(None, Preparation::AsListed);
                    wood.material(per_m3, None, air_c, Preparation::AsListed).times(WOOD_SHARE * volume_m3)
                });
                wood.map(Change::Add).into_iter().chain([Change::Turn]).collect()
            }
        };
        changes.into_iter().map(|change| Dated { day, change }).collect()
    }

    /// A member's course if it is done.
    pub(crate) fn course(self, member: &Member, timeline: &Timeline) -> Result<Course, Failure> {
        let volume_m3 = member.course.at(timeline.as_of).map_or(0.0, |snapshot| snapshot.heap.volume_m3());
        member.variant.course_with(&member.course, self.changes(timeline, volume_m3), timeline.until)
    }
}

/// The futures of all members, `steps` beside the heap being left; windows are looked at `from` a day on.
pub(crate) fn compare(
    members: &[Member],
    timeline: &Timeline,
    criteria: &Criteria,
    from: f64,
    steps: impl Iterator<Item = Step>,
) -> Result<Vec<Future>, Failure> {
    let opens =
        |member: &Member, course: &Course| criteria.opening(&member.views(course, from, timeline.until)).day;
    let left: Vec<(f64, f64)> =
        members.iter().map(|member| (opens(member, &member.course), member.weight)).collect();
    let middle = quantile(&left, 0.5);
    let looked_at = if middle.is_finite() { middle } else { timeline.until };
    let mut futures = Vec::new();
    for step in steps {
        let (mut opened, mut earlier, mut volumes) = (Vec::new(), Vec::new(), Vec::new());
        let mut seeds: [Vec<(f64, f64)>; 3] = Default::default();
        for (member, (before, weight)) in members.iter().zip(&left) {
            let done;
            let course = if step == Step::Leave {
                &member.course
            } else {
                done = step.course(member, timeline)?;
                &done
            };
            let day = opens(member, course);
            opened.push((day, *weight));
            // Two heaps that never open are alike; of one that does not, how late is unknown.
            let gained = if day.total_cmp(before).is_eq() { 0.0 } else { before - day };
            earlier.push((gained, *weight));
            if let Some(snapshot) = course.with_seeds(looked_at) {
                volumes
                    .push((snapshot.heap.volume_m3() * member.judged.volume.at(looked_at).0.exp(), *weight));
                let mut lot = snapshot.heap.core.seeds;
                lot.mix(&snapshot.heap.edge.seeds);
                for (class, survivals) in
                    [Tolerance::Soft, Tolerance::Medium, Tolerance::Hard].iter().zip(&mut seeds)
                {
                    survivals.push((alive(&lot, *class, member.seed_log_factor), *weight));
                }
            }
        }
        if volumes.is_empty() {
            continue;
        }
        let earlier = spread(&earlier);
        let [soft_fraction, medium_fraction, hard_fraction] = seeds.map(|values| quantile(&values, 0.5));
        futures.push(Future {
            step,
            on: days_to_date(step.day(timeline.as_of)),
            opens: DateSpread::of(&opened),
            earlier_days: [earlier.p10, earlier.p50, earlier.p90]
                .iter()
                .all(|days| days.is_finite())
                .then_some(earlier),
            volume_m3: spread(&volumes),
            seeds: SeedsLeft { soft_fraction, medium_fraction, hard_fraction },
        });
    }
    Ok(futures)
}

/// Mean share alive of a class of species.
pub(crate) fn alive(lot: &SeedLot, class: Tolerance, log_factor: f64) -> f64 {
    let own = SPECIES.iter().enumerate().filter(|(_, species)| species.tolerance == class);
    let shares: Vec<f64> = own.map(|(index, _)| lot.survival(index).powf(log_factor.exp())).collect();
    shares.iter().sum::<f64>() / shares.len() as f64
}
