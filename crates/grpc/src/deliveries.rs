//! `ListDeliveries`, `GetDelivery`, `ReplayDelivery` and `ReplayDeliveries`.

use baycast_service::{Caller, Error, Service};

use crate::convert;
use crate::proto::{
    GetDeliveryRequest, GetDeliveryResponse, ListDeliveriesRequest, ListDeliveriesResponse,
    ReplayDeliveriesRequest, ReplayDeliveriesResponse, ReplayDeliveryRequest, ReplayDeliveryResponse,
};

/// A page of deliveries.
pub async fn list_deliveries(
    service: &Service,
    caller: &Caller,
    request: ListDeliveriesRequest,
) -> Result<ListDeliveriesResponse, Error> {
    let ListDeliveriesRequest { farm, webhook, page_size, page_token, shown } = request;
    let (shown, page_size) = (convert::said(shown, "shown")?, Some(page_size.into()));
    let page = service.list_deliveries(caller, &farm, &webhook, shown, page_size, &page_token).await?;
    Ok(ListDeliveriesResponse {
        items: page.items.into_iter().map(Into::into).collect(),
        next_page_token: page.next_page_token.unwrap_or_default(),
    })
}

/// One delivery.
pub async fn get_delivery(
    service: &Service,
    caller: &Caller,
    request: GetDeliveryRequest,
) -> Result<GetDeliveryResponse, Error> {
    let GetDeliveryRequest { farm, webhook, delivery } = request;
    let delivery = service.get_delivery(caller, &farm, &webhook, &delivery).await?;
    Ok(GetDeliveryResponse { delivery: Some(delivery.into()) })
}

/// Has one sent again.
pub async fn replay_delivery(
    service: &Service,
    caller: &Caller,
    request: ReplayDeliveryRequest,
) -> Result<ReplayDeliveryResponse, Error> {
    let ReplayDeliveryRequest { farm, webhook, delivery } = request;
    let delivery = service.replay_delivery(caller, &farm, &webhook, &delivery).await?;
    Ok(ReplayDeliveryResponse { delivery: Some(delivery.into()) })
}

/// Has all of a webhook's that were given up tried again.
pub async fn replay_deliveries(
    service: &Service,
    caller: &Caller,
    request: ReplayDeliveriesRequest,
) -> Result<ReplayDeliveriesResponse, Error> {
    let ReplayDeliveriesRequest { farm, webhook } = request;
    let replayed = service.replay_deliveries(caller, &farm, &webhook).await?;
    Ok(replayed.into())
}
