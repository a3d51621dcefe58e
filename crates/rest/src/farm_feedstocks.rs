//! `/v1/farms/{farm}/feedstocks`.

#![allow(unused_qualifications, reason = "written by the routes' attributes")]

use axum::Json;
use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::Response;
use baycast_service::Service;
use baycast_service::records::{ArchiveState, FarmFeedstock};

use crate::authenticated::Authenticated;
use crate::body::JsonOf;
use crate::if_match::{IfMatch, Version};
use crate::kept;
use crate::names::{self, Names};
use crate::pages::FarmFeedstockPage;
use crate::parameters::{Paging, Parameters};
use crate::problem::Problem;
use crate::refusals::{Refusals, VersionRefusals, WriteRefusals};

/// List a farm's own feedstocks.
#[utoipa::path(
    get,
    path = "/v1/farms/{farm}/feedstocks",
    operation_id = "list_farm_feedstocks",
    tag = "feedstocks",
    params(("farm" = String, Path, description = "The farm's id"), Paging),
    responses((status = 200, description = "A page of own feedstocks, by id", body = FarmFeedstockPage), Refusals),
    security(("key" = []))
)]
pub async fn list_farm_feedstocks(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names(farm): Names<String>,
    parameters: Parameters,
) -> Result<Json<FarmFeedstockPage>, Problem> {
    let paging = parameters.only_paging()?;
    let page = service.list_farm_feedstocks(&caller, &farm, paging.page_size, &paging.page_token).await?;
    Ok(Json(page.into()))
}

/// Add a farm's own feedstock, or own values for one of the default table.
///
/// The same body again changes nothing and is answered alike, so that it may be sent again where an answer was lost.
#[utoipa::path(
    post,
    path = "/v1/farms/{farm}/feedstocks",
    operation_id = "create_farm_feedstock",
    tag = "feedstocks",
    params(("farm" = String, Path, description = "The farm's id")),
    request_body = FarmFeedstock,
    responses((status = 201, description = "The feedstock as it is kept", body = FarmFeedstock), Refusals, WriteRefusals),
    security(("key" = []))
)]
pub async fn create_farm_feedstock(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names(farm): Names<String>,
    JsonOf(given): JsonOf<FarmFeedstock>,
) -> Result<Response, Problem> {
    let own = service.create_farm_feedstock(&caller, &farm, &given).await?;
    let path = names::path(&["farms", &farm, "feedstocks", &own.feedstock.id]);
    Ok(kept::created(path, &own.etag, &own))
}

/// Get one feedstock.
#[utoipa::path(
    get,
    path = "/v1/farms/{farm}/feedstocks/{feedstock}",
    operation_id = "get_farm_feedstock",
    tag = "feedstocks",
    params(("farm" = String, Path, description = "The farm's id"), ("feedstock" = String, Path, description = "The feedstock's id")),
    responses(
        (status = 200, description = "The feedstock", body = FarmFeedstock),
        (status = 304, description = "The caller has it already"),
        Refusals,
    ),
    security(("key" = []))
)]
pub async fn get_farm_feedstock(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names((farm, feedstock)): Names<(String, String)>,
    headers: HeaderMap,
) -> Result<Response, Problem> {
    let own = service.get_farm_feedstock(&caller, &farm, &feedstock).await?;
    Ok(kept::found(&headers, &own.etag, &own))
}

/// Replace what is said of a feedstock.
#[utoipa::path(
    put,
    path = "/v1/farms/{farm}/feedstocks/{feedstock}",
    operation_id = "update_farm_feedstock",
    tag = "feedstocks",
    params(("farm" = String, Path, description = "The farm's id"), ("feedstock" = String, Path, description = "The feedstock's id"), Version),
    request_body = FarmFeedstock,
    responses(
        (status = 200, description = "The feedstock as it is now", body = FarmFeedstock),
        Refusals,
        WriteRefusals,
        VersionRefusals,
    ),
    security(("key" = []))
)]
pub async fn update_farm_feedstock(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names((farm, feedstock)): Names<(String, String)>,
    IfMatch(etag): IfMatch,
    JsonOf(given): JsonOf<FarmFeedstock>,
) -> Result<Response, Problem> {
    names::same(&feedstock, &given.feedstock.id, "/feedstock/id")?;
    let own = service.update_farm_feedstock(&caller, &farm, &FarmFeedstock { etag, ..given }).await?;
    Ok(kept::changed(&own.etag, &own))
}

/// Put a farm's own feedstock away, or bring it back.
#[utoipa::path(
    post,
    path = "/v1/farms/{farm}/feedstocks/{feedstock}/archive",
    operation_id = "archive_farm_feedstock",
    tag = "feedstocks",
    params(("farm" = String, Path, description = "The farm's id"), ("feedstock" = String, Path, description = "The feedstock's id"), ("state" = Option<ArchiveState>, Query, description = "What becomes of it; put away where absent"), Version),
    responses(
        (status = 200, description = "The feedstock as it is now", body = FarmFeedstock),
        (status = 409, description = "In conflict with what is there", body = Problem,
            content_type = "application/problem+json"),
        Refusals,
        VersionRefusals,
    ),
    security(("key" = []))
)]
pub async fn archive_farm_feedstock(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names((farm, feedstock)): Names<(String, String)>,
    IfMatch(etag): IfMatch,
    parameters: Parameters,
) -> Result<Response, Problem> {
    let state: ArchiveState = parameters.read(|own| own.word("state", "one of archived, active"))?;
    let own = service.archive_farm_feedstock(&caller, &farm, &feedstock, &etag, state).await?;
    Ok(kept::changed(&own.etag, &own))
}
