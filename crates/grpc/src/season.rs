//! `GetSeason`, `KeepSeason`, `DeleteSeason` and `GetPlan`.

use baycast_service::{Caller, Error, Service};

use crate::convert;
use crate::proto::{
    DeleteSeasonRequest, DeleteSeasonResponse, GetPlanRequest, GetPlanResponse, GetSeasonRequest,
    GetSeasonResponse, KeepSeasonRequest, KeepSeasonResponse,
};

/// The season that a farm keeps.
pub async fn get_season(
    service: &Service,
    caller: &Caller,
    request: GetSeasonRequest,
) -> Result<GetSeasonResponse, Error> {
    let GetSeasonRequest { farm } = request;
    let kept = service.get_season(caller, &farm).await?;
    Ok(GetSeasonResponse { season: Some(kept.season.into()), etag: kept.etag })
}

/// Keeps a season.
pub async fn keep_season(
    service: &Service,
    caller: &Caller,
    request: KeepSeasonRequest,
) -> Result<KeepSeasonResponse, Error> {
    let KeepSeasonRequest { farm, season, etag } = request;
    let etag = Some(etag.as_str()).filter(|etag| !etag.is_empty());
    let kept = service.keep_season(caller, &farm, convert::farm_season(season)?, etag).await?;
    Ok(KeepSeasonResponse { season: Some(kept.season.into()), etag: kept.etag })
}

/// Deletes the season of a farm, with its plan.
pub async fn delete_season(
    service: &Service,
    caller: &Caller,
    request: DeleteSeasonRequest,
) -> Result<DeleteSeasonResponse, Error> {
    let DeleteSeasonRequest { farm, etag } = request;
    convert::etag(&etag)?;
    let gone = service.delete_season(caller, &farm, &etag).await?;
    Ok(DeleteSeasonResponse { season: Some(gone.into()) })
}

/// The plan of the season that a farm keeps, unless the caller holds it already.
pub async fn get_plan(
    service: &Service,
    caller: &Caller,
    request: GetPlanRequest,
) -> Result<GetPlanResponse, Error> {
    let GetPlanRequest { farm, held_etag } = request;
    let answer = service.get_plan(caller, &farm, |tag| tag == held_etag).await?;
    Ok(GetPlanResponse { plan: answer.plan.map(Into::into), etag: answer.etag })
}
