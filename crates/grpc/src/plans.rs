//! `PlanSeason` and `PlanFarm`.

use baycast_service::{Caller, Error, Service};

use crate::convert;
use crate::proto::{PlanFarmRequest, PlanFarmResponse, PlanSeasonRequest, PlanSeasonResponse};

/// The plan of a season.
pub async fn plan_season(service: &Service, request: PlanSeasonRequest) -> Result<PlanSeasonResponse, Error> {
    let plan = service.plan_season(convert::season(request.season)?).await?;
    Ok(PlanSeasonResponse { plan: Some(plan.into()) })
}

/// The same on a farm.
pub async fn plan_farm(
    service: &Service,
    caller: &Caller,
    request: PlanFarmRequest,
) -> Result<PlanFarmResponse, Error> {
    let PlanFarmRequest { farm, season } = request;
    let plan = service.plan_farm(caller, &farm, convert::farm_season(season)?).await?;
    Ok(PlanFarmResponse { plan: Some(plan.into()) })
}
