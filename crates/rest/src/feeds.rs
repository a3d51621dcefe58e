//! `/v1/farms/{farm}/feeds`.

#![allow(unused_qualifications, reason = "written by the routes' attributes")]

use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use axum::http::header::CACHE_CONTROL;
use axum::response::{IntoResponse, Response};
use baycast_service::Service;
use baycast_service::records::{Feed, FeedDraft, IssuedFeed};

use crate::authenticated::Authenticated;
use crate::body::JsonOf;
use crate::names::Names;
use crate::pages::FeedPage;
use crate::parameters::{Paging, Parameters};
use crate::problem::Problem;
use crate::refusals::{Refusals, WriteRefusals};

/// List a farm's feed addresses, revoked ones too.
#[utoipa::path(
    get,
    path = "/v1/farms/{farm}/feeds",
    operation_id = "list_feeds",
    tag = "feeds",
    params(("farm" = String, Path, description = "The farm's id"), Paging),
    responses((status = 200, description = "A page of feed addresses, by id", body = FeedPage), Refusals),
    security(("key" = []))
)]
pub async fn list_feeds(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names(farm): Names<String>,
    parameters: Parameters,
) -> Result<Json<FeedPage>, Problem> {
    let paging = parameters.only_paging()?;
    let page = service.list_feeds(&caller, &farm, paging.page_size, &paging.page_token).await?;
    Ok(Json(page.into()))
}

/// Create a feed address: a private address under which the farm's readiness is read without a key.
///
/// Its token is in the answer and nowhere else.
#[utoipa::path(
    post,
    path = "/v1/farms/{farm}/feeds",
    operation_id = "create_feed",
    tag = "feeds",
    params(("farm" = String, Path, description = "The farm's id")),
    request_body = FeedDraft,
    responses(
        (status = 201, description = "The feed address and its token", body = IssuedFeed),
        Refusals,
        WriteRefusals,
    ),
    security(("key" = []))
)]
pub async fn create_feed(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names(farm): Names<String>,
    JsonOf(draft): JsonOf<FeedDraft>,
) -> Result<Response, Problem> {
    let issued = service.create_feed(&caller, &farm, &draft).await?;
    Ok((StatusCode::CREATED, [(CACHE_CONTROL, "no-store")], Json(issued)).into_response())
}

/// Revoke a feed address for good.
///
/// Within a second it opens nothing any more.
#[utoipa::path(
    post,
    path = "/v1/farms/{farm}/feeds/{feed}/revoke",
    operation_id = "revoke_feed",
    tag = "feeds",
    params(
        ("farm" = String, Path, description = "The farm's id"),
        ("feed" = String, Path, description = "The feed address's id"),
    ),
    responses((status = 200, description = "The feed address as it is now", body = Feed), Refusals),
    security(("key" = []))
)]
pub async fn revoke_feed(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names((farm, feed)): Names<(String, String)>,
) -> Result<Json<Feed>, Problem> {
    Ok(Json(service.revoke_feed(&caller, &farm, &feed).await?))
}
