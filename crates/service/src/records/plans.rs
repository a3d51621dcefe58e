//! Recipes and requirements with what a farm's records tell: its place, bays, own feedstocks and barrow. Nothing is kept.

use baycast_model::problem::Problems;
use baycast_model::recipe::{OnHand, Recipe};
use baycast_model::requirement::{CompostWanted, Need, Requirement};
use baycast_records::{Farm, Scope};
use serde::{Deserialize, Serialize};

use crate::error::Error;
use crate::readiness::day;
use crate::recipes;
use crate::records::caller::Caller;
use crate::records::refusal;
use crate::service::Service;

/// Compost that is needed on a farm, in one of its bays and from what is on hand there.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct FarmNeed {
    /// The id of a bay of the kind that it is made in; as many of them as are needed.
    pub bay: String,
    /// What is needed.
    pub wanted: CompostWanted,
    /// What it is made from. How much of it to mix follows from what is needed, so `volume_m3` is left out.
    pub on_hand: OnHand,
}

impl Service {
    /// The mix of what is on hand on a farm that comes closest to its targets.
    pub async fn farm_recipe(&self, caller: &Caller, farm: &str, on_hand: OnHand) -> Result<Recipe, Error> {
        let (_, on_hand) = self.on_farm(caller, farm, on_hand).await?;
        self.recipe(on_hand).await
    }

    /// What compost that is needed on a farm asks for.
    pub async fn farm_requirement(
        &self,
        caller: &Caller,
        farm: &str,
        need: FarmNeed,
    ) -> Result<Requirement, Error> {
        let FarmNeed { bay, wanted, on_hand } = need;
        let (farm, on_hand) = self.on_farm(caller, farm, on_hand).await?;
        let store = self.store()?;
        let bay = match store.records.bay(&farm.id, &bay).await {
            Ok(found) => found.bay,
            Err(baycast_records::Error::NotFound { .. }) => {
                let mut problems = Problems::default();
                problems.add("/bay", baycast_model::check::quoted(&bay), "the id of a bay of the farm");
                return Err(Error::Invalid(problems));
            }
            Err(error) => return Err(refusal::of(error)),
        };
        let today = day::on(&farm, store.now());
        self.requirement_on(Need { site: farm.site, bay, wanted, on_hand }, today).await
    }

    /// The farm, and what is on hand with the feedstocks and the barrow of the farm where the caller gives none.
    async fn on_farm(
        &self,
        caller: &Caller,
        farm: &str,
        mut on_hand: OnHand,
    ) -> Result<(Farm, OnHand), Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Read)?;
        recipes::check(&on_hand, self.limits())?;
        let farm = store.records.farm(farm).await.map_err(refusal::of)?;
        let given = |id: &str| on_hand.feedstocks.iter().any(|own| own.id == id);
        let ids = on_hand.ingredients.iter().map(|own| own.feedstock.as_str());
        let ids = ids.filter(|id| !given(id)).collect();
        let own = store.records.feedstocks_named(&farm.id, &ids).await.map_err(refusal::of)?;
        on_hand.feedstocks.extend(own);
        on_hand.barrow_m3 = on_hand.barrow_m3.or(farm.barrow_m3);
        Ok((farm, on_hand))
    }
}
