//! The one season that a farm keeps. It is planned when it is kept, so that what cannot be planned is refused then.

use baycast_records::{KeptPlan, KeptSeason, Scope};

use crate::error::Error;
use crate::readiness::day;
use crate::records::caller::Caller;
use crate::records::farm_plans::{self, to_microsecond};
use crate::records::seasons::FarmSeason;
use crate::records::{etag, refusal, running};
use crate::service::{Service, within};

/// A season with the tag of its version.
#[derive(Clone, Debug, PartialEq)]
pub struct TaggedSeason {
    /// The season.
    pub season: FarmSeason,
    /// Changes with every change.
    pub etag: String,
}

/// What a kept season says.
pub(super) fn read(text: &str) -> Result<FarmSeason, Error> {
    serde_json::from_str(text).map_err(|error| {
        tracing::error!(%error, "a kept season cannot be read");
        Error::Internal
    })
}

/// The answer where none is kept.
pub(super) fn missing(farm: &str) -> Error {
    Error::NotFound { what: "season", name: farm.to_owned() }
}

impl Service {
    /// The season that a farm keeps.
    pub async fn get_season(&self, caller: &Caller, farm: &str) -> Result<TaggedSeason, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Read)?;
        let KeptSeason { season, version, .. } = store.records.season(farm).await.map_err(refusal::of)?;
        let season = season.ok_or_else(|| missing(farm))?;
        Ok(TaggedSeason { season: read(&season)?, etag: etag::of(version) })
    }

    /// Keeps a season and its plan, in place of the one that `etag` names or, without it, where there is none.
    ///
    /// The plan starts from the steps of `earlier`, which are not kept themselves, or else of the plan before. The first day
    /// and the weeks are kept as they were planned where the caller does not say.
    pub async fn keep_season(
        &self,
        caller: &Caller,
        farm: &str,
        season: FarmSeason,
        etag: Option<&str>,
    ) -> Result<TaggedSeason, Error> {
        caller.may(farm, Scope::Write)?;
        let place = self.enter()?;
        let kept = async {
            let store = self.store()?;
            let before = store.records.season(farm).await.map_err(refusal::of)?;
            let expected = etag.map(etag::version);
            before.gives_way(expected).map_err(refusal::of)?;
            let now = to_microsecond(store.now());
            let from = season.from.unwrap_or_else(|| day::on(&before.farm, now));
            let mut asked = FarmSeason { from: Some(from), ..season };
            let plan = before.plan.as_ref().and_then(farm_plans::read);
            if let Some(plan) = plan.filter(|_| asked.earlier.is_empty()) {
                asked.earlier = running::carried(&plan, from, from);
            }
            // Of a season that has begun before today it is the plan of its first day, from which today's is made.
            let basis = self.plan_basis(&before.records, before.version + 1, from);
            let yard = self.yard_of(farm, &asked).await?;
            let plan = self.planned(place, asked.clone(), yard, running::take_up).await?;
            let weeks = plan.from.until((jiff::Unit::Week, plan.until)).map(|own| own.get_weeks());
            let weeks = weeks.ok().and_then(|weeks| u32::try_from(weeks).ok());
            let season = FarmSeason { from: Some(plan.from), weeks, earlier: Vec::new(), ..asked };
            let text = written(&season)?;
            let plan = KeptPlan { plan: written(&plan)?, basis, made_at: now };
            let version = store.records.keep_season(farm, expected, &text, Some(&plan), now).await;
            Ok(TaggedSeason { season, etag: etag::of(version.map_err(refusal::of)?) })
        };
        within(self.limits().timeout, kept).await
    }

    /// Deletes the season of a farm with its plan, if `etag` still holds; as it was.
    pub async fn delete_season(&self, caller: &Caller, farm: &str, etag: &str) -> Result<FarmSeason, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Write)?;
        let gone = store.records.delete_season(farm, etag::version(etag)).await;
        read(&gone.map_err(refusal::of)?)
    }
}

/// A season or a plan as it is kept.
pub(super) fn written<T: serde::Serialize>(thing: &T) -> Result<String, Error> {
    serde_json::to_string(thing).map_err(|error| {
        tracing::error!(%error, "a season or its plan cannot be written");
        Error::Internal
    })
}
