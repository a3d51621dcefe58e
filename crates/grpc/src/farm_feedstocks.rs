//! `CreateFarmFeedstock`, `GetFarmFeedstock`, `ListFarmFeedstocks`, `UpdateFarmFeedstock` and `ArchiveFarmFeedstock`.

use baycast_service::{Caller, Error, Service};

use crate::convert;
use crate::proto::{
    ArchiveFarmFeedstockRequest, ArchiveFarmFeedstockResponse, CreateFarmFeedstockRequest,
    CreateFarmFeedstockResponse, GetFarmFeedstockRequest, GetFarmFeedstockResponse,
    ListFarmFeedstocksRequest, ListFarmFeedstocksResponse, UpdateFarmFeedstockRequest,
    UpdateFarmFeedstockResponse,
};

/// Adds a feedstock.
pub async fn create_farm_feedstock(
    service: &Service,
    caller: &Caller,
    request: CreateFarmFeedstockRequest,
) -> Result<CreateFarmFeedstockResponse, Error> {
    let CreateFarmFeedstockRequest { farm, feedstock } = request;
    let feedstock = convert::farm_feedstock(feedstock)?;
    let kept = service.create_farm_feedstock(caller, &farm, &feedstock).await?;
    Ok(CreateFarmFeedstockResponse { feedstock: Some(kept.into()) })
}

/// One feedstock.
pub async fn get_farm_feedstock(
    service: &Service,
    caller: &Caller,
    request: GetFarmFeedstockRequest,
) -> Result<GetFarmFeedstockResponse, Error> {
    let GetFarmFeedstockRequest { farm, feedstock } = request;
    let kept = service.get_farm_feedstock(caller, &farm, &feedstock).await?;
    Ok(GetFarmFeedstockResponse { feedstock: Some(kept.into()) })
}

/// A page of feedstocks.
pub async fn list_farm_feedstocks(
    service: &Service,
    caller: &Caller,
    request: ListFarmFeedstocksRequest,
) -> Result<ListFarmFeedstocksResponse, Error> {
    let ListFarmFeedstocksRequest { farm, page_size, page_token } = request;
    let page = service.list_farm_feedstocks(caller, &farm, Some(page_size.into()), &page_token).await?;
    Ok(ListFarmFeedstocksResponse {
        items: page.items.into_iter().map(Into::into).collect(),
        next_page_token: page.next_page_token.unwrap_or_default(),
    })
}

/// Changes those fields of a feedstock that the mask names.
pub async fn update_farm_feedstock(
    service: &Service,
    caller: &Caller,
    request: UpdateFarmFeedstockRequest,
) -> Result<UpdateFarmFeedstockResponse, Error> {
    let UpdateFarmFeedstockRequest { farm, feedstock, update_mask } = request;
    let mask = convert::Mask::of_feedstock(update_mask)?;
    let new = feedstock.unwrap_or_default();
    convert::etag(&new.etag)?;
    caller.may_write(&farm)?;
    let now = service
        .get_farm_feedstock(
            caller,
            &farm,
            new.feedstock.as_ref().map_or("", |feedstock| feedstock.id.as_str()),
        )
        .await?;
    let feedstock = convert::farm_feedstock(Some(mask.feedstock(now.into(), new)))?;
    let kept = service.update_farm_feedstock(caller, &farm, &feedstock).await?;
    Ok(UpdateFarmFeedstockResponse { feedstock: Some(kept.into()) })
}

/// Puts a feedstock away, or brings it back.
pub async fn archive_farm_feedstock(
    service: &Service,
    caller: &Caller,
    request: ArchiveFarmFeedstockRequest,
) -> Result<ArchiveFarmFeedstockResponse, Error> {
    let ArchiveFarmFeedstockRequest { farm, feedstock, etag, state } = request;
    convert::etag(&etag)?;
    let state = convert::said(state, "state")?;
    let kept = service.archive_farm_feedstock(caller, &farm, &feedstock, &etag, state).await?;
    Ok(ArchiveFarmFeedstockResponse { feedstock: Some(kept.into()) })
}
