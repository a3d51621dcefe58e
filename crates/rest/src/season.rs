//! `/v1/farms/{farm}/season` and `/v1/farms/{farm}/plan`.

#![allow(unused_qualifications, reason = "written by the routes' attributes")]

use axum::Json;
use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::Response;
use baycast_service::error::Conflict;
use baycast_service::records::{FarmPlan, FarmSeason};
use baycast_service::{Error, Service};

use crate::authenticated::Authenticated;
use crate::body::JsonOf;
use crate::conditional::holds;
use crate::if_match::{AnyVersion, IfMatch, Version};
use crate::kept;
use crate::names::{self, Names};
use crate::problem::{Problem, precondition_required};
use crate::refusals::{Refusals, VersionRefusals, WorkRefusals};

/// Get the season that a farm keeps.
#[utoipa::path(
    get,
    path = "/v1/farms/{farm}/season",
    operation_id = "get_season",
    tag = "plans",
    params(("farm" = String, Path, description = "The farm's id")),
    responses(
        (status = 200, description = "The season", body = FarmSeason),
        (status = 304, description = "The caller has it already"),
        Refusals,
    ),
    security(("key" = []))
)]
pub async fn get_season(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names(farm): Names<String>,
    headers: HeaderMap,
) -> Result<Response, Problem> {
    let own = service.get_season(&caller, &farm).await?;
    Ok(kept::found(&headers, &own.etag, &own.season))
}

/// Keep a season.
///
/// It is planned at once, so that what cannot be planned is refused as planning refuses it. Where one is kept already,
/// `If-Match` says which one gives way. The plan starts from the steps of `earlier`, which are not kept themselves, or else of
/// the plan before.
#[utoipa::path(
    put,
    path = "/v1/farms/{farm}/season",
    operation_id = "keep_season",
    tag = "plans",
    params(("farm" = String, Path, description = "The farm's id"), AnyVersion),
    request_body = FarmSeason,
    responses(
        (status = 200, description = "The season as it is now", body = FarmSeason),
        (status = 201, description = "The season, the first one that is kept", body = FarmSeason),
        (status = 409, description = "In conflict with what is there", body = Problem,
            content_type = "application/problem+json"),
        Refusals,
        WorkRefusals,
        VersionRefusals,
    ),
    security(("key" = []))
)]
pub async fn keep_season(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names(farm): Names<String>,
    held: Option<IfMatch>,
    JsonOf(season): JsonOf<FarmSeason>,
) -> Result<Response, Problem> {
    let etag = held.map(|IfMatch(etag)| etag);
    match service.keep_season(&caller, &farm, season, etag.as_deref()).await {
        Ok(own) if etag.is_none() => {
            Ok(kept::created(names::path(&["farms", &farm, "season"]), &own.etag, &own.season))
        }
        Ok(own) => Ok(kept::changed(&own.etag, &own.season)),
        Err(Error::Conflict(Conflict::Exists { .. })) if etag.is_none() => Err(precondition_required()),
        Err(error) => Err(error.into()),
    }
}

/// Delete the season of a farm, with its plan.
#[utoipa::path(
    delete,
    path = "/v1/farms/{farm}/season",
    operation_id = "delete_season",
    tag = "plans",
    params(("farm" = String, Path, description = "The farm's id"), Version),
    responses((status = 200, description = "The season as it was", body = FarmSeason), Refusals, VersionRefusals),
    security(("key" = []))
)]
pub async fn delete_season(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names(farm): Names<String>,
    IfMatch(etag): IfMatch,
) -> Result<Json<FarmSeason>, Problem> {
    Ok(Json(service.delete_season(&caller, &farm, &etag).await?))
}

/// Get the plan of the season that a farm keeps, as of today.
///
/// It is kept. Where the day, the season or anything recorded on the farm has changed it is made anew from the one before, so
/// that as little changes as must; steps of weeks that are over, and demands of days that are, are left out.
#[utoipa::path(
    get,
    path = "/v1/farms/{farm}/plan",
    operation_id = "get_plan",
    tag = "plans",
    params(("farm" = String, Path, description = "The farm's id")),
    responses(
        (status = 200, description = "The plan", body = FarmPlan),
        (status = 304, description = "The caller has it already"),
        (status = 409, description = "The season has ended, or the farm has no bays in use, or more than are planned for", body = Problem,
            content_type = "application/problem+json"),
        (status = 413, description = "What is recorded is more than is planned from", body = Problem,
            content_type = "application/problem+json"),
        (status = 504, description = "Out of time; it goes on being made", body = Problem,
            content_type = "application/problem+json"),
        Refusals,
    ),
    security(("key" = []))
)]
pub async fn get_plan(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names(farm): Names<String>,
    headers: HeaderMap,
) -> Result<Response, Problem> {
    let held = |tag: &str| holds(&headers, &format!("\"{tag}\""));
    let answer = service.get_plan(&caller, &farm, held).await?;
    Ok(match answer.plan {
        Some(plan) => kept::changed(&answer.etag, &plan),
        None => kept::unchanged(&answer.etag),
    })
}
