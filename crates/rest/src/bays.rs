//! `/v1/farms/{farm}/bays`.

#![allow(unused_qualifications, reason = "written by the routes' attributes")]

use axum::Json;
use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::Response;
use baycast_service::Service;
use baycast_service::records::{ArchiveState, FarmBay};

use crate::authenticated::Authenticated;
use crate::body::JsonOf;
use crate::if_match::{IfMatch, Version};
use crate::kept;
use crate::names::{self, Names};
use crate::pages::FarmBayPage;
use crate::parameters::{Paging, Parameters};
use crate::problem::Problem;
use crate::refusals::{Refusals, VersionRefusals, WriteRefusals};

/// List a farm's bays.
#[utoipa::path(
    get,
    path = "/v1/farms/{farm}/bays",
    operation_id = "list_bays",
    tag = "bays",
    params(("farm" = String, Path, description = "The farm's id"), Paging),
    responses((status = 200, description = "A page of bays, by the farm's own order", body = FarmBayPage), Refusals),
    security(("key" = []))
)]
pub async fn list_bays(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names(farm): Names<String>,
    parameters: Parameters,
) -> Result<Json<FarmBayPage>, Problem> {
    let paging = parameters.only_paging()?;
    let page = service.list_bays(&caller, &farm, paging.page_size, &paging.page_token).await?;
    Ok(Json(page.into()))
}

/// Add a bay to a farm.
///
/// The same body again changes nothing and is answered alike, so that it may be sent again where an answer was lost.
#[utoipa::path(
    post,
    path = "/v1/farms/{farm}/bays",
    operation_id = "create_bay",
    tag = "bays",
    params(("farm" = String, Path, description = "The farm's id")),
    request_body = FarmBay,
    responses((status = 201, description = "The bay as it is kept", body = FarmBay), Refusals, WriteRefusals),
    security(("key" = []))
)]
pub async fn create_bay(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names(farm): Names<String>,
    JsonOf(given): JsonOf<FarmBay>,
) -> Result<Response, Problem> {
    let own = service.create_bay(&caller, &farm, &given).await?;
    let path = names::path(&["farms", &farm, "bays", &own.bay.id]);
    Ok(kept::created(path, &own.etag, &own))
}

/// Get one bay.
#[utoipa::path(
    get,
    path = "/v1/farms/{farm}/bays/{bay}",
    operation_id = "get_bay",
    tag = "bays",
    params(("farm" = String, Path, description = "The farm's id"), ("bay" = String, Path, description = "The bay's id")),
    responses(
        (status = 200, description = "The bay", body = FarmBay),
        (status = 304, description = "The caller has it already"),
        Refusals,
    ),
    security(("key" = []))
)]
pub async fn get_bay(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names((farm, bay)): Names<(String, String)>,
    headers: HeaderMap,
) -> Result<Response, Problem> {
    let own = service.get_bay(&caller, &farm, &bay).await?;
    Ok(kept::found(&headers, &own.etag, &own))
}

/// Replace what is said of a bay.
#[utoipa::path(
    put,
    path = "/v1/farms/{farm}/bays/{bay}",
    operation_id = "update_bay",
    tag = "bays",
    params(("farm" = String, Path, description = "The farm's id"), ("bay" = String, Path, description = "The bay's id"), Version),
    request_body = FarmBay,
    responses(
        (status = 200, description = "The bay as it is now", body = FarmBay),
        Refusals,
        WriteRefusals,
        VersionRefusals,
    ),
    security(("key" = []))
)]
pub async fn update_bay(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names((farm, bay)): Names<(String, String)>,
    IfMatch(etag): IfMatch,
    JsonOf(given): JsonOf<FarmBay>,
) -> Result<Response, Problem> {
    names::same(&bay, &given.bay.id, "/bay/id")?;
    let own = service.update_bay(&caller, &farm, &FarmBay { etag, ..given }).await?;
    Ok(kept::changed(&own.etag, &own))
}

/// Put a bay away, or bring it back.
#[utoipa::path(
    post,
    path = "/v1/farms/{farm}/bays/{bay}/archive",
    operation_id = "archive_bay",
    tag = "bays",
    params(("farm" = String, Path, description = "The farm's id"), ("bay" = String, Path, description = "The bay's id"), ("state" = Option<ArchiveState>, Query, description = "What becomes of it; put away where absent"), Version),
    responses(
        (status = 200, description = "The bay as it is now", body = FarmBay),
        (status = 409, description = "In conflict with what is there", body = Problem,
            content_type = "application/problem+json"),
        Refusals,
        VersionRefusals,
    ),
    security(("key" = []))
)]
pub async fn archive_bay(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names((farm, bay)): Names<(String, String)>,
    IfMatch(etag): IfMatch,
    parameters: Parameters,
) -> Result<Response, Problem> {
    let state: ArchiveState = parameters.read(|own| own.word("state", "one of archived, active"))?;
    let own = service.archive_bay(&caller, &farm, &bay, &etag, state).await?;
    Ok(kept::changed(&own.etag, &own))
}
