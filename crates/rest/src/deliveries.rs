//! `/v1/farms/{farm}/webhooks/{webhook}/deliveries`.

#![allow(unused_qualifications, reason = "written by the routes' attributes")]

use axum::Json;
use axum::extract::State;
use baycast_service::Service;
use baycast_service::records::{DeliveriesShown, Delivery, Replayed};

use crate::authenticated::Authenticated;
use crate::names::Names;
use crate::pages::DeliveryPage;
use crate::parameters::{MAX_PAGE_SIZE, Paging, Parameters};
use crate::problem::Problem;
use crate::refusals::Refusals;

/// List a webhook's deliveries.
///
/// Delivered ones are kept for 30 days, others for 90.
#[utoipa::path(
    get,
    path = "/v1/farms/{farm}/webhooks/{webhook}/deliveries",
    operation_id = "list_deliveries",
    tag = "webhooks",
    params(("farm" = String, Path, description = "The farm's id"), ("webhook" = String, Path, description = "The webhook's id"), ("shown" = Option<DeliveriesShown>, Query, description = "Those in one state, or all; all where absent"), Paging),
    responses((status = 200, description = "A page of deliveries, the newest first, without what is sent", body = DeliveryPage), Refusals),
    security(("key" = []))
)]
pub async fn list_deliveries(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names((farm, webhook)): Names<(String, String)>,
    parameters: Parameters,
) -> Result<Json<DeliveryPage>, Problem> {
    let (paging, shown) = parameters
        .read(|own| (own.paging(MAX_PAGE_SIZE), own.word("shown", "one of all, waiting, delivered, dead")))?;
    let Paging { page_size, page_token } = paging;
    let page = service.list_deliveries(&caller, &farm, &webhook, shown, page_size, &page_token).await?;
    Ok(Json(page.into()))
}

/// Get one delivery with what is sent.
#[utoipa::path(
    get,
    path = "/v1/farms/{farm}/webhooks/{webhook}/deliveries/{delivery}",
    operation_id = "get_delivery",
    tag = "webhooks",
    params(("farm" = String, Path, description = "The farm's id"), ("webhook" = String, Path, description = "The webhook's id"), ("delivery" = String, Path, description = "The delivery's id")),
    responses((status = 200, description = "The delivery", body = Delivery), Refusals),
    security(("key" = []))
)]
pub async fn get_delivery(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names((farm, webhook, delivery)): Names<(String, String, String)>,
) -> Result<Json<Delivery>, Problem> {
    Ok(Json(service.get_delivery(&caller, &farm, &webhook, &delivery).await?))
}

/// Have a delivery sent again, under the same id.
///
/// Be it that it was given up, or delivered and lost; one that waits already is brought forward.
#[utoipa::path(
    post,
    path = "/v1/farms/{farm}/webhooks/{webhook}/deliveries/{delivery}/replay",
    operation_id = "replay_delivery",
    tag = "webhooks",
    params(("farm" = String, Path, description = "The farm's id"), ("webhook" = String, Path, description = "The webhook's id"), ("delivery" = String, Path, description = "The delivery's id")),
    responses((status = 200, description = "The delivery, which waits again", body = Delivery), Refusals),
    security(("key" = []))
)]
pub async fn replay_delivery(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names((farm, webhook, delivery)): Names<(String, String, String)>,
) -> Result<Json<Delivery>, Problem> {
    Ok(Json(service.replay_delivery(&caller, &farm, &webhook, &delivery).await?))
}

/// Have all of a webhook's deliveries that were given up tried again.
#[utoipa::path(
    post,
    path = "/v1/farms/{farm}/webhooks/{webhook}/replay",
    operation_id = "replay_deliveries",
    tag = "webhooks",
    params(("farm" = String, Path, description = "The farm's id"), ("webhook" = String, Path, description = "The webhook's id")),
    responses((status = 200, description = "How many wait again", body = Replayed), Refusals),
    security(("key" = []))
)]
pub async fn replay_deliveries(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names((farm, webhook)): Names<(String, String)>,
) -> Result<Json<Replayed>, Problem> {
    Ok(Json(service.replay_deliveries(&caller, &farm, &webhook).await?))
}
