//! `/v1/farms` and what is below it for a farm itself.

#![allow(unused_qualifications, reason = "written by the routes' attributes")]

use axum::Json;
use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::Response;
use baycast_service::Service;
use baycast_service::records::{ArchiveState, Farm};

use crate::authenticated::Authenticated;
use crate::body::JsonOf;
use crate::if_match::{IfMatch, Version};
use crate::kept;
use crate::names::{self, Names};
use crate::pages::FarmPage;
use crate::parameters::{Paging, Parameters};
use crate::problem::Problem;
use crate::refusals::{Refusals, VersionRefusals, WriteRefusals};

/// List farms.
#[utoipa::path(
    get,
    path = "/v1/farms",
    operation_id = "list_farms",
    tag = "farms",
    params(Paging),
    responses((status = 200, description = "A page of farms, by id", body = FarmPage), Refusals),
    security(("key" = []))
)]
pub async fn list_farms(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    parameters: Parameters,
) -> Result<Json<FarmPage>, Problem> {
    let paging = parameters.only_paging()?;
    let page = service.list_farms(&caller, paging.page_size, &paging.page_token).await?;
    Ok(Json(page.into()))
}

/// Add a farm.
///
/// The same body again changes nothing and is answered alike, so that it may be sent again where an answer was lost.
#[utoipa::path(
    post,
    path = "/v1/farms",
    operation_id = "create_farm",
    tag = "farms",
    request_body = Farm,
    responses((status = 201, description = "The farm as it is kept", body = Farm), Refusals, WriteRefusals),
    security(("key" = []))
)]
pub async fn create_farm(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    JsonOf(given): JsonOf<Farm>,
) -> Result<Response, Problem> {
    let own = service.create_farm(&caller, &given).await?;
    let path = names::path(&["farms", &own.id]);
    Ok(kept::created(path, &own.etag, &own))
}

/// Get one farm.
#[utoipa::path(
    get,
    path = "/v1/farms/{farm}",
    operation_id = "get_farm",
    tag = "farms",
    params(("farm" = String, Path, description = "The farm's id")),
    responses(
        (status = 200, description = "The farm", body = Farm),
        (status = 304, description = "The caller has it already"),
        Refusals,
    ),
    security(("key" = []))
)]
pub async fn get_farm(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names(farm): Names<String>,
    headers: HeaderMap,
) -> Result<Response, Problem> {
    let own = service.get_farm(&caller, &farm).await?;
    Ok(kept::found(&headers, &own.etag, &own))
}

/// Replace what is said of a farm.
#[utoipa::path(
    put,
    path = "/v1/farms/{farm}",
    operation_id = "update_farm",
    tag = "farms",
    params(("farm" = String, Path, description = "The farm's id"), Version),
    request_body = Farm,
    responses(
        (status = 200, description = "The farm as it is now", body = Farm),
        Refusals,
        WriteRefusals,
        VersionRefusals,
    ),
    security(("key" = []))
)]
pub async fn update_farm(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names(farm): Names<String>,
    IfMatch(etag): IfMatch,
    JsonOf(given): JsonOf<Farm>,
) -> Result<Response, Problem> {
    names::same(&farm, &given.id, "/id")?;
    let own = service.update_farm(&caller, &Farm { etag, ..given }).await?;
    Ok(kept::changed(&own.etag, &own))
}

/// Put a farm away, or bring it back.
#[utoipa::path(
    post,
    path = "/v1/farms/{farm}/archive",
    operation_id = "archive_farm",
    tag = "farms",
    params(("farm" = String, Path, description = "The farm's id"), ("state" = Option<ArchiveState>, Query, description = "What becomes of it; put away where absent"), Version),
    responses(
        (status = 200, description = "The farm as it is now", body = Farm),
        (status = 409, description = "In conflict with what is there", body = Problem,
            content_type = "application/problem+json"),
        Refusals,
        VersionRefusals,
    ),
    security(("key" = []))
)]
pub async fn archive_farm(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names(farm): Names<String>,
    IfMatch(etag): IfMatch,
    parameters: Parameters,
) -> Result<Response, Problem> {
    let state: ArchiveState = parameters.read(|own| own.word("state", "one of archived, active"))?;
    let own = service.archive_farm(&caller, &farm, &etag, state).await?;
    Ok(kept::changed(&own.etag, &own))
}
