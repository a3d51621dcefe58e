//! `CreateBay`, `GetBay`, `ListBays`, `UpdateBay` and `ArchiveBay`.

use baycast_service::{Caller, Error, Service};

use crate::convert;
use crate::proto::{
    ArchiveBayRequest, ArchiveBayResponse, CreateBayRequest, CreateBayResponse, GetBayRequest,
    GetBayResponse, ListBaysRequest, ListBaysResponse, UpdateBayRequest, UpdateBayResponse,
};

/// Adds a bay.
pub async fn create_bay(
    service: &Service,
    caller: &Caller,
    request: CreateBayRequest,
) -> Result<CreateBayResponse, Error> {
    let CreateBayRequest { farm, bay } = request;
    let bay = convert::farm_bay(bay)?;
    let kept = service.create_bay(caller, &farm, &bay).await?;
    Ok(CreateBayResponse { bay: Some(kept.into()) })
}

/// One bay.
pub async fn get_bay(
    service: &Service,
    caller: &Caller,
    request: GetBayRequest,
) -> Result<GetBayResponse, Error> {
    let GetBayRequest { farm, bay } = request;
    let kept = service.get_bay(caller, &farm, &bay).await?;
    Ok(GetBayResponse { bay: Some(kept.into()) })
}

/// A page of bays.
pub async fn list_bays(
    service: &Service,
    caller: &Caller,
    request: ListBaysRequest,
) -> Result<ListBaysResponse, Error> {
    let ListBaysRequest { farm, page_size, page_token } = request;
    let page = service.list_bays(caller, &farm, Some(page_size.into()), &page_token).await?;
    Ok(ListBaysResponse {
        items: page.items.into_iter().map(Into::into).collect(),
        next_page_token: page.next_page_token.unwrap_or_default(),
    })
}

/// Changes those fields of a bay that the mask names.
pub async fn update_bay(
    service: &Service,
    caller: &Caller,
    request: UpdateBayRequest,
) -> Result<UpdateBayResponse, Error> {
    let UpdateBayRequest { farm, bay, update_mask } = request;
    let mask = convert::Mask::of_bay(update_mask)?;
    let new = bay.unwrap_or_default();
    convert::etag(&new.etag)?;
    caller.may_write(&farm)?;
    let now = service.get_bay(caller, &farm, new.bay.as_ref().map_or("", |bay| bay.id.as_str())).await?;
    let bay = convert::farm_bay(Some(mask.bay(now.into(), new)))?;
    let kept = service.update_bay(caller, &farm, &bay).await?;
    Ok(UpdateBayResponse { bay: Some(kept.into()) })
}

/// Puts a bay away, or brings it back.
pub async fn archive_bay(
    service: &Service,
    caller: &Caller,
    request: ArchiveBayRequest,
) -> Result<ArchiveBayResponse, Error> {
    let ArchiveBayRequest { farm, bay, etag, state } = request;
    convert::etag(&etag)?;
    let state = convert::said(state, "state")?;
    let kept = service.archive_bay(caller, &farm, &bay, &etag, state).await?;
    Ok(ArchiveBayResponse { bay: Some(kept.into()) })
}
