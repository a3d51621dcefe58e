//! `/v1/keys`.

#![allow(unused_qualifications, reason = "written by the routes' attributes")]

use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use axum::http::header::CACHE_CONTROL;
use axum::response::{IntoResponse, Response};
use baycast_service::Service;
use baycast_service::records::{ApiKey, IssuedKey, KeyDraft};

use crate::authenticated::Authenticated;
use crate::body::JsonOf;
use crate::names::Names;
use crate::pages::ApiKeyPage;
use crate::parameters::{Paging, Parameters};
use crate::problem::Problem;
use crate::refusals::{Refusals, WriteRefusals};

/// List all API keys, revoked ones too.
#[utoipa::path(
    get,
    path = "/v1/keys",
    operation_id = "list_keys",
    tag = "keys",
    params(Paging),
    responses((status = 200, description = "A page of keys, by id", body = ApiKeyPage), Refusals),
    security(("key" = []))
)]
pub async fn list_keys(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    parameters: Parameters,
) -> Result<Json<ApiKeyPage>, Problem> {
    let paging = parameters.only_paging()?;
    let page = service.list_keys(&caller, paging.page_size, &paging.page_token).await?;
    Ok(Json(page.into()))
}

/// Create an API key.
///
/// Its text is in the answer and nowhere else. Once there is a key, no request is answered without one.
#[utoipa::path(
    post,
    path = "/v1/keys",
    operation_id = "create_key",
    tag = "keys",
    request_body = KeyDraft,
    responses((status = 201, description = "The key and its text", body = IssuedKey), Refusals, WriteRefusals),
    security(("key" = []))
)]
pub async fn create_key(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    JsonOf(draft): JsonOf<KeyDraft>,
) -> Result<Response, Problem> {
    let issued = service.create_key(&caller, &draft).await?;
    Ok((StatusCode::CREATED, [(CACHE_CONTROL, "no-store")], Json(issued)).into_response())
}

/// Revoke an API key for good.
#[utoipa::path(
    post,
    path = "/v1/keys/{key}/revoke",
    operation_id = "revoke_key",
    tag = "keys",
    params(("key" = String, Path, description = "The key's id")),
    responses((status = 200, description = "The key as it is now", body = ApiKey), Refusals),
    security(("key" = []))
)]
pub async fn revoke_key(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names(key): Names<String>,
) -> Result<Json<ApiKey>, Problem> {
    Ok(Json(service.revoke_key(&caller, &key).await?))
}
