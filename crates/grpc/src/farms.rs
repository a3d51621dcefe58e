//! `CreateFarm`, `GetFarm`, `ListFarms`, `UpdateFarm` and `ArchiveFarm`.

use baycast_service::{Caller, Error, Service};

use crate::convert;
use crate::proto::{
    ArchiveFarmRequest, ArchiveFarmResponse, CreateFarmRequest, CreateFarmResponse, GetFarmRequest,
    GetFarmResponse, ListFarmsRequest, ListFarmsResponse, UpdateFarmRequest, UpdateFarmResponse,
};

/// Adds a farm.
pub async fn create_farm(
    service: &Service,
    caller: &Caller,
    request: CreateFarmRequest,
) -> Result<CreateFarmResponse, Error> {
    let CreateFarmRequest { farm } = request;
    let farm = convert::farm(farm)?;
    let kept = service.create_farm(caller, &farm).await?;
    Ok(CreateFarmResponse { farm: Some(kept.into()) })
}

/// One farm.
pub async fn get_farm(
    service: &Service,
    caller: &Caller,
    request: GetFarmRequest,
) -> Result<GetFarmResponse, Error> {
    let GetFarmRequest { farm } = request;
    let kept = service.get_farm(caller, &farm).await?;
    Ok(GetFarmResponse { farm: Some(kept.into()) })
}

/// A page of farms.
pub async fn list_farms(
    service: &Service,
    caller: &Caller,
    request: ListFarmsRequest,
) -> Result<ListFarmsResponse, Error> {
    let ListFarmsRequest { page_size, page_token } = request;
    let page = service.list_farms(caller, Some(page_size.into()), &page_token).await?;
    Ok(ListFarmsResponse {
        items: page.items.into_iter().map(Into::into).collect(),
        next_page_token: page.next_page_token.unwrap_or_default(),
    })
}

/// Changes those fields of a farm that the mask names.
pub async fn update_farm(
    service: &Service,
    caller: &Caller,
    request: UpdateFarmRequest,
) -> Result<UpdateFarmResponse, Error> {
    let UpdateFarmRequest { farm, update_mask } = request;
    let mask = convert::Mask::of_farm(update_mask)?;
    let new = farm.unwrap_or_default();
    convert::etag(&new.etag)?;
    caller.may_write(&new.id)?;
    let now = service.get_farm(caller, &new.id).await?;
    let farm = convert::farm(Some(mask.farm(now.into(), new)))?;
    let kept = service.update_farm(caller, &farm).await?;
    Ok(UpdateFarmResponse { farm: Some(kept.into()) })
}

/// Puts a farm away, or brings it back.
pub async fn archive_farm(
    service: &Service,
    caller: &Caller,
    request: ArchiveFarmRequest,
) -> Result<ArchiveFarmResponse, Error> {
    let ArchiveFarmRequest { farm, etag, state } = request;
    convert::etag(&etag)?;
    let state = convert::said(state, "state")?;
    let kept = service.archive_farm(caller, &farm, &etag, state).await?;
    Ok(ArchiveFarmResponse { farm: Some(kept.into()) })
}
