//! The plan of the season that a farm keeps, as of today: made anew, from the one before, where anything that it was made from
//! has changed.

use std::time::Duration;

use baycast_model::plan::answer::Plan;
use baycast_records::{KeptPlan, KeptSeason, Scope};
use jiff::Timestamp;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use tokio::task::JoinHandle;

use crate::error::Error;
use crate::hash::sha256_hex;
use crate::readiness::day;
use crate::records::caller::Caller;
use crate::records::kept_seasons::{self, missing, written};
use crate::records::seasons::FarmSeason;
use crate::records::{refusal, running};
use crate::service::{Service, within};

/// Hexadecimal digits of a plan's tag.
const TAG_DIGITS: usize = 32;

/// The plan of the season that a farm keeps.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct FarmPlan {
    /// When it was made: the same for as long as nothing that it was made from changes.
    #[cfg_attr(feature = "schema", schema(value_type = String, format = DateTime))]
    pub made_at: Timestamp,
    /// The plan.
    pub plan: Plan,
}

/// The answer to one who may hold a plan already.
#[derive(Clone, Debug, PartialEq)]
pub struct TaggedFarmPlan {
    /// Its tag.
    pub etag: String,
    /// The plan; nothing where the caller holds it.
    pub plan: Option<FarmPlan>,
}

/// What there is of a plan for one who does not wait for long.
#[derive(Clone, Debug, PartialEq)]
pub struct FarmPlanSoon {
    /// The plan; that of before where it is being made anew, and none where it is made for the first time.
    pub plan: Option<FarmPlan>,
    /// Whether it is being made.
    pub in_the_making: bool,
}

/// A kept season as it is now.
struct Looked {
    season: FarmSeason,
    version: i64,
    /// The plan before, or the one that holds.
    plan: Option<KeptPlan>,
    now: Timestamp,
    today: Date,
    /// What its plan is made from now.
    basis: String,
}

impl Looked {
    /// The plan that holds, or what one is made from.
    fn holding(mut self) -> Result<KeptPlan, Box<Self>> {
        match self.plan.take() {
            Some(plan) if plan.basis == self.basis => Ok(plan),
            plan => Err(Box::new(Self { plan, ..self })),
        }
    }
}

/// A time as fine as the records keep it.
pub(super) fn to_microsecond(time: Timestamp) -> Timestamp {
    Timestamp::from_microsecond(time.as_microsecond()).unwrap_or(time)
}

/// What a kept plan says. One of another version that cannot be read is like none: it is made anew.
pub(super) fn read(kept: &KeptPlan) -> Option<Plan> {
    let plan = serde_json::from_str(&kept.plan);
    plan.inspect_err(|error| tracing::warn!(%error, "a kept plan cannot be read")).ok()
}

/// The tag of a plan.
fn tag(KeptPlan { basis, made_at, .. }: &KeptPlan) -> String {
    let mut tag = sha256_hex(&format!("{basis}{made_at}"));
    tag.truncate(TAG_DIGITS);
    tag
}

/// A kept plan, whether it still holds or not.
fn told(kept: &KeptPlan) -> Option<FarmPlan> {
    read(kept).map(|plan| FarmPlan { made_at: kept.made_at, plan })
}

impl Service {
    /// All that a plan of a season is made from on a day.
    pub(super) fn plan_basis(&self, records: &str, version: i64, first: Date) -> String {
        let (model, pooled) = (baycast_model::VERSION, self.pools());
        format!("season {version}, day {first}, records {records}, model {model}, pooled {pooled}")
    }

    /// The kept season as it is now, with the plan before.
    async fn season_now(&self, farm: &str) -> Result<Looked, Error> {
        let store = self.store()?;
        let kept = store.records.season(farm).await.map_err(refusal::of)?;
        let KeptSeason { farm: own, season, version, plan, records } = kept;
        let season = kept_seasons::read(&season.ok_or_else(|| missing(farm))?)?;
        let now = to_microsecond(store.now());
        let today = day::on(&own, now);
        let basis = self.plan_basis(&records, version, running::first_day(&season, today));
        Ok(Looked { season, version, plan, now, today, basis })
    }

    /// The plan of the season that a farm keeps, as of today.
    ///
    /// `held` says of a tag whether the caller holds its plan.
    pub async fn get_plan(
        &self,
        caller: &Caller,
        farm: &str,
        held: impl Fn(&str) -> bool,
    ) -> Result<TaggedFarmPlan, Error> {
        caller.may(farm, Scope::Read)?;
        let holds = match self.season_now(farm).await?.holding() {
            Ok(holds) => holds,
            Err(_) => within(self.limits().timeout, finished(self.make_plan(farm))).await?,
        };
        let etag = tag(&holds);
        if held(&etag) {
            return Ok(TaggedFarmPlan { etag, plan: None });
        }
        Ok(TaggedFarmPlan { etag, plan: Some(told(&holds).ok_or(Error::Internal)?) })
    }

    /// The same for one who waits no longer than `patience`: then what there is is told, and the plan goes on being made.
    pub async fn get_plan_soon(
        &self,
        caller: &Caller,
        farm: &str,
        patience: Duration,
    ) -> Result<FarmPlanSoon, Error> {
        caller.may(farm, Scope::Read)?;
        let before = match self.season_now(farm).await?.holding() {
            Ok(holds) => return Ok(FarmPlanSoon { plan: told(&holds), in_the_making: false }),
            Err(now) => now.plan,
        };
        match within(patience, finished(self.make_plan(farm))).await {
            Ok(made) => Ok(FarmPlanSoon { plan: told(&made), in_the_making: false }),
            Err(Error::Deadline) => {
                Ok(FarmPlanSoon { plan: before.as_ref().and_then(told), in_the_making: true })
            }
            Err(error) => Err(error),
        }
    }

    /// Makes the plan and keeps it, whether whoever asked still waits or not; one at a time for a farm.
    fn make_plan(&self, farm: &str) -> JoinHandle<Result<KeptPlan, Error>> {
        let (service, farm) = (self.clone(), farm.to_owned());
        tokio::spawn(async move {
            let store = service.store()?;
            // Whoever waits for it takes up no room.
            let _turn = store.plans.turn(&farm).await;
            let Looked { season, version, plan, now, today, basis } =
                match service.season_now(&farm).await?.holding() {
                    Ok(holds) => return Ok(holds),
                    Err(now) => *now,
                };
            let place = service.enter()?;
            let before = plan.as_ref().and_then(read);
            let mut asked = running::left(season, today, before.as_ref())?;
            let yard = service.yard_of(&farm, &asked).await?;
            let assumed = running::leave_out_gone(&mut asked, &yard);
            let mut plan = service.planned(place, asked, yard, running::take_up).await?;
            plan.assumptions.extend(assumed);
            let made = KeptPlan { plan: written(&plan)?, basis, made_at: now };
            // One that cannot be kept, or of a season that was changed meanwhile, still answers whoever asked.
            if let Err(error) = store.records.keep_plan(&farm, version, &made).await {
                tracing::warn!(%error, "a plan could not be kept");
            }
            Ok(made)
        })
    }
}

/// What a task answers.
async fn finished(task: JoinHandle<Result<KeptPlan, Error>>) -> Result<KeptPlan, Error> {
    task.await.unwrap_or_else(|failure| {
        tracing::error!(%failure, "a plan failed");
        Err(Error::Internal)
    })
}
