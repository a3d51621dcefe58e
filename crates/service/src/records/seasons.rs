//! The plan of a season with what a farm's records tell: its place, its bays and what stands in them. Nothing is kept here.

use baycast_model::check::quoted;
use baycast_model::estimate::Assumption;
use baycast_model::history::History;
use baycast_model::lesson::Lesson;
use baycast_model::moment::last_moment;
use baycast_model::plan::answer::{Plan, Step};
use baycast_model::plan::season::{Demand, Inflow, Season, Standing};
use baycast_model::plan::{MOST_BAYS, plan};
use baycast_model::pooling::LOOKED_BACK_ON;
use baycast_model::problem::Problems;
use baycast_model::window::Criteria;
use baycast_records::{EarlierBatch, Scope, Yard};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::capacity::Place;
use crate::error::{Conflict, Error};
use crate::readiness::day;
use crate::records::caller::Caller;
use crate::records::lessons::Past;
use crate::records::refusal;
use crate::service::{Service, no_estimate, within};
use crate::weight;

/// What a season on a farm brings and asks for, beside what is recorded of the farm.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct FarmSeason {
    /// The first day; today on the farm where absent. What is recorded for later days is left out: what is to come is
    /// planned.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, format = Date))]
    pub from: Option<Date>,
    /// Weeks planned, 4 to 78; 52 where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 4, maximum = 78))]
    pub weeks: Option<u32>,
    /// The id of the batch that is being filled, one that stands in a bay; none is where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub filling: Option<String>,
    /// The ids of batches that stand in bays and are to be used only where their seeds are expected to be killed.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub kill_seeds: Vec<String>,
    /// What is expected to come in, at most 100.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[cfg_attr(feature = "schema", schema(max_items = 100))]
    pub inflows: Vec<Inflow>,
    /// What the beds need, at most 40.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[cfg_attr(feature = "schema", schema(max_items = 40))]
    pub demands: Vec<Demand>,
    /// Batches that can be forked over in a week, 0 to 14; 2 where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 0, maximum = 14))]
    pub turns_per_week: Option<u32>,
    /// Weeks that a batch rests between its last filling and its turn, 0 to 26; 4 where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 0, maximum = 26))]
    pub rest_weeks: Option<u32>,
    /// Whether one bay is to stand free for turning; so where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub keep_bay_free: Option<bool>,
    /// Own criteria in place of the default ones of a use, for batches that have none of their own.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub criteria: Vec<Criteria>,
    /// Steps of an earlier plan, which this one keeps wherever they are still as good.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub earlier: Vec<Step>,
}

impl Service {
    /// The plan of a season on a farm, whose batches are estimated as everywhere else: from what is recorded by its first
    /// day, and resting on what earlier batches of their bays taught where the service is set so.
    pub async fn plan_farm(&self, caller: &Caller, farm: &str, asked: FarmSeason) -> Result<Plan, Error> {
        caller.may(farm, Scope::Read)?;
        let place = self.enter()?;
        let planned = async {
            let yard = self.yard_of(farm, &asked).await?;
            self.planned(place, asked, yard, |_| ()).await
        };
        within(self.limits().timeout, planned).await
    }

    /// The farm on the first day of a season.
    pub(super) async fn yard_of(&self, farm: &str, asked: &FarmSeason) -> Result<Yard, Error> {
        let store = self.store()?;
        let (now, from) = (store.now(), asked.from);
        let own = asked.inflows.iter().map(|inflow| inflow.feedstock.as_str()).collect();
        let first_day = move |farm: &_| from.unwrap_or_else(|| day::on(farm, now));
        let yard = store.records.yard(farm, &first_day, &own).await.map_err(refusal::of)?;
        let bays = yard.bays.len();
        if !(1..=MOST_BAYS).contains(&bays) {
            let detail = format!("the farm has {bays} bays in use, a season is planned for 1 to {MOST_BAYS}");
            return Err(Error::Conflict(Conflict::State { detail }));
        }
        Ok(yard)
    }

    /// The plan of a season on a farm, which `last` may change when all of it is there; waits for a worker.
    pub(super) async fn planned(
        &self,
        place: Place,
        asked: FarmSeason,
        yard: Yard,
        last: impl FnOnce(&mut Season) + Send + 'static,
    ) -> Result<Plan, Error> {
        let past = self.past_of(&yard).await?;
        let (limits, lessons) = (*self.limits(), self.store()?.lessons.clone());
        let work = self.work(Some(place), move || {
            let (farm, first_day) = (yard.farm.id.clone(), yard.day);
            let mut assumed = taken_for_gone(&yard);
            let mut season = season(asked, yard)?;
            last(&mut season);
            weight::check_season(&season, &limits)?;
            for (own, past) in season.batches.iter_mut().zip(past) {
                own.history.lesson = lessons.lesson(&farm, past, first_day, &limits);
                assumed.extend(own.history.lesson.as_ref().map(|lesson| taught(&own.history.batch, lesson)));
            }
            let mut plan = plan(&season, first_day).map_err(no_estimate)?;
            plan.assumptions.extend(assumed);
            Ok(plan)
        });
        work.await
    }

    /// What is known of the finished batches that each batch which stands rests on.
    async fn past_of(&self, yard: &Yard) -> Result<Vec<Vec<(EarlierBatch, Past)>>, Error> {
        let store = self.store()?;
        let mut all = Vec::new();
        for history in yard.standing.iter().filter(|_| self.pools()) {
            let (farm, batch) = (&yard.farm.id, &history.batch);
            let earlier = store.records.earlier_batches(farm, batch, yard.day, LOOKED_BACK_ON).await;
            all.push(store.past(farm, earlier.map_err(refusal::of)?).await?);
        }
        Ok(all)
    }
}

/// What a batch's estimate rests on besides what is known of itself.
fn taught(batch: &str, lesson: &Lesson) -> Assumption {
    let Assumption { assumed, .. } = lesson.assumption();
    Assumption { pointer: String::new(), assumed: format!("of batch `{batch}`: {assumed}") }
}

/// What is told of batches that must be gone, since another stands where they were.
fn taken_for_gone(yard: &Yard) -> Vec<Assumption> {
    let told = yard.unaccounted.iter().map(|stand| {
        let assumed = format!(
            "batch `{}` is gone from bay `{}`, in which another stands that came later; nothing is recorded of what took it \
             away",
            stand.batch, stand.bay
        );
        Assumption { pointer: String::new(), assumed }
    });
    told.collect()
}

/// The season of a farm, or which batches it names that do not stand.
fn season(asked: FarmSeason, yard: Yard) -> Result<Season, Error> {
    let FarmSeason {
        from,
        weeks,
        filling,
        kill_seeds,
        inflows,
        demands,
        turns_per_week,
        rest_weeks,
        keep_bay_free,
        criteria,
        earlier,
    } = asked;
    let Yard { farm, day, bays, standing, feedstocks, unaccounted: _ } = yard;
    let mut problems = Problems::default();
    let mut named = |pointer: String, batch: &str| {
        if !standing.iter().any(|own| own.batch == batch) {
            problems.add(pointer, quoted(batch), format!("the id of a batch that stands in a bay on {day}"));
        }
    };
    if let Some(batch) = &filling {
        named("/filling".into(), batch);
    }
    for (index, batch) in kill_seeds.iter().enumerate() {
        named(format!("/kill_seeds/{index}"), batch);
    }
    problems.into_result().map_err(Error::Invalid)?;
    let standing = standing.into_iter().map(|history| Standing {
        filling: filling.as_ref() == Some(&history.batch),
        kill_seeds: kill_seeds.contains(&history.batch),
        history: as_of(history, day),
    });
    Ok(Season {
        from,
        weeks,
        site: farm.site,
        bays,
        batches: standing.collect(),
        feedstocks,
        barrow_m3: farm.barrow_m3,
        inflows,
        demands,
        turns_per_week,
        rest_weeks,
        keep_bay_free,
        criteria,
        earlier,
    })
}

/// A history without what is recorded for days after `day`.
fn as_of(mut history: History, day: Date) -> History {
    history.events.retain(|event| event.at.days() <= last_moment(day));
    let History { events, sources, .. } = &mut history;
    let merged = |source: &str| events.iter().flat_map(|event| &event.merge).any(|own| own.source == source);
    sources.retain(|source| merged(&source.batch));
    history
}
