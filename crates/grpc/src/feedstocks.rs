//! `ListFeedstocks` and `GetFeedstock`.

use baycast_service::Service;
use tonic::Status;

use crate::proto::{
    GetFeedstockRequest, GetFeedstockResponse, ListFeedstocksRequest, ListFeedstocksResponse,
};
use crate::status;

/// Lists a page of the default table.
pub fn list_feedstocks(
    service: &Service,
    request: &ListFeedstocksRequest,
) -> Result<ListFeedstocksResponse, Status> {
    let ListFeedstocksRequest { page_size, page_token } = request;
    let page =
        service.feedstocks(Some(i64::from(*page_size)), page_token).map_err(|error| status::of(&error))?;
    Ok(ListFeedstocksResponse {
        items: page.items.into_iter().map(Into::into).collect(),
        next_page_token: page.next_page_token.unwrap_or_default(),
    })
}

/// One row of the default table.
pub fn get_feedstock(
    service: &Service,
    request: &GetFeedstockRequest,
) -> Result<GetFeedstockResponse, Status> {
    let GetFeedstockRequest { feedstock } = request;
    let row = service.feedstock(feedstock).map_err(|error| status::of(&error))?;
    Ok(GetFeedstockResponse { feedstock: Some(row.into()) })
}
