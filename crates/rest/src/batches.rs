//! `/v1/farms/{farm}/batches`.

#![allow(unused_qualifications, reason = "written by the routes' attributes")]

use axum::Json;
use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::Response;
use baycast_service::Service;
use baycast_service::records::{ArchiveState, Batch, BatchesShown};

use crate::authenticated::Authenticated;
use crate::body::JsonOf;
use crate::if_match::{IfMatch, Version};
use crate::kept;
use crate::names::{self, Names};
use crate::pages::BatchPage;
use crate::parameters::{MAX_PAGE_SIZE, Paging, Parameters};
use crate::problem::Problem;
use crate::refusals::{Refusals, VersionRefusals, WriteRefusals};

/// List a farm's batches.
#[utoipa::path(
    get,
    path = "/v1/farms/{farm}/batches",
    operation_id = "list_batches",
    tag = "batches",
    params(("farm" = String, Path, description = "The farm's id"), Paging, ("shown" = Option<BatchesShown>, Query, description = "Those in use, or all; those in use where absent")),
    responses((status = 200, description = "A page of batches, by id", body = BatchPage), Refusals),
    security(("key" = []))
)]
pub async fn list_batches(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names(farm): Names<String>,
    parameters: Parameters,
) -> Result<Json<BatchPage>, Problem> {
    let read = |own: &mut Parameters| (own.paging(MAX_PAGE_SIZE), own.word("shown", "one of active, all"));
    let (paging, shown) = parameters.read(read)?;
    let page = service.list_batches(&caller, &farm, shown, paging.page_size, &paging.page_token).await?;
    Ok(Json(page.into()))
}

/// Add a batch to a farm.
///
/// The same body again changes nothing and is answered alike, so that it may be sent again where an answer was lost.
#[utoipa::path(
    post,
    path = "/v1/farms/{farm}/batches",
    operation_id = "create_batch",
    tag = "batches",
    params(("farm" = String, Path, description = "The farm's id")),
    request_body = Batch,
    responses((status = 201, description = "The batch as it is kept", body = Batch), Refusals, WriteRefusals),
    security(("key" = []))
)]
pub async fn create_batch(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names(farm): Names<String>,
    JsonOf(given): JsonOf<Batch>,
) -> Result<Response, Problem> {
    let own = service.create_batch(&caller, &farm, &given).await?;
    let path = names::path(&["farms", &farm, "batches", &own.id]);
    Ok(kept::created(path, &own.etag, &own))
}

/// Get one batch.
#[utoipa::path(
    get,
    path = "/v1/farms/{farm}/batches/{batch}",
    operation_id = "get_batch",
    tag = "batches",
    params(("farm" = String, Path, description = "The farm's id"), ("batch" = String, Path, description = "The batch's id")),
    responses(
        (status = 200, description = "The batch", body = Batch),
        (status = 304, description = "The caller has it already"),
        Refusals,
    ),
    security(("key" = []))
)]
pub async fn get_batch(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names((farm, batch)): Names<(String, String)>,
    headers: HeaderMap,
) -> Result<Response, Problem> {
    let own = service.get_batch(&caller, &farm, &batch).await?;
    Ok(kept::found(&headers, &own.etag, &own))
}

/// Replace what is said of a batch.
#[utoipa::path(
    put,
    path = "/v1/farms/{farm}/batches/{batch}",
    operation_id = "update_batch",
    tag = "batches",
    params(("farm" = String, Path, description = "The farm's id"), ("batch" = String, Path, description = "The batch's id"), Version),
    request_body = Batch,
    responses(
        (status = 200, description = "The batch as it is now", body = Batch),
        Refusals,
        WriteRefusals,
        VersionRefusals,
    ),
    security(("key" = []))
)]
pub async fn update_batch(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names((farm, batch)): Names<(String, String)>,
    IfMatch(etag): IfMatch,
    JsonOf(given): JsonOf<Batch>,
) -> Result<Response, Problem> {
    names::same(&batch, &given.id, "/id")?;
    let own = service.update_batch(&caller, &farm, &Batch { etag, ..given }).await?;
    Ok(kept::changed(&own.etag, &own))
}

/// Put a batch away, or bring it back. One that is put away takes no events.
#[utoipa::path(
    post,
    path = "/v1/farms/{farm}/batches/{batch}/archive",
    operation_id = "archive_batch",
    tag = "batches",
    params(("farm" = String, Path, description = "The farm's id"), ("batch" = String, Path, description = "The batch's id"), ("state" = Option<ArchiveState>, Query, description = "What becomes of it; put away where absent"), Version),
    responses(
        (status = 200, description = "The batch as it is now", body = Batch),
        (status = 409, description = "In conflict with what is there", body = Problem,
            content_type = "application/problem+json"),
        Refusals,
        VersionRefusals,
    ),
    security(("key" = []))
)]
pub async fn archive_batch(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names((farm, batch)): Names<(String, String)>,
    IfMatch(etag): IfMatch,
    parameters: Parameters,
) -> Result<Response, Problem> {
    let state: ArchiveState = parameters.read(|own| own.word("state", "one of archived, active"))?;
    let own = service.archive_batch(&caller, &farm, &batch, &etag, state).await?;
    Ok(kept::changed(&own.etag, &own))
}
