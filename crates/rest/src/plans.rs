//! `POST /v1/plans` and `POST /v1/farms/{farm}/plans`.

use axum::Json;
use axum::extract::State;
use baycast_model::plan::answer::Plan;
use baycast_model::plan::season::Season;
use baycast_service::Service;
use baycast_service::records::FarmSeason;

use crate::authenticated::{Admitted, Authenticated};
use crate::body::JsonOf;
use crate::names::Names;
use crate::problem::Problem;
use crate::refusals::{Refusals, WorkRefusals};

/// Plan a season.
///
/// From bays, what stands in them, what comes in and what the beds need: what to fill, close, turn, cover and empty in which
/// week and why, how far each need is met, and what does not fit. Nothing is kept.
#[utoipa::path(
    post,
    path = "/v1/plans",
    operation_id = "plan_season",
    tag = "plans",
    request_body(content = Season, example = json!({
        "from": "2026-09-15",
        "weeks": 16,
        "site": { "latitude_deg": 52 },
        "bays": [
            { "id": "pallet-1", "length_m": 1.2, "width_m": 1.2, "height_m": 1, "wall": { "construction": "slatted_timber" } },
            { "id": "pallet-2", "length_m": 1.2, "width_m": 1.2, "height_m": 1, "wall": { "construction": "slatted_timber" } }
        ],
        "inflows": [
            { "feedstock": "grass_mowings", "mass_kg_week": 60 },
            { "feedstock": "shredded_prunings", "barrows_week": 2 }
        ],
        "demands": [
            { "id": "paths", "use": "mulch", "by": "2026-12-20", "area_m2": 10, "depth_m": 0.05 }
        ]
    })),
    responses(
        (status = 200, description = "The plan", body = Plan),
        (status = 401, description = "No good key, where keys are needed", body = Problem,
            content_type = "application/problem+json"),
        (status = 429, description = "More requests than one caller may make; `Retry-After` says when to come back",
            body = Problem, content_type = "application/problem+json"),
        WorkRefusals,
    ),
    security(("key" = []))
)]
pub async fn plan_season(
    State(service): State<Service>,
    _: Admitted,
    JsonOf(season): JsonOf<Season>,
) -> Result<Json<Plan>, Problem> {
    Ok(Json(service.plan_season(season).await?))
}

/// Plan a season on a farm.
///
/// Place, bays, what stands in them, feedstocks and barrow are the farm's own, as recorded by the first day. Nothing is kept.
#[utoipa::path(
    post,
    path = "/v1/farms/{farm}/plans",
    operation_id = "plan_farm",
    tag = "plans",
    params(("farm" = String, Path, description = "The farm's id")),
    request_body = FarmSeason,
    responses(
        (status = 200, description = "The plan", body = Plan),
        (status = 409, description = "The farm has no bays in use, or more than are planned for", body = Problem,
            content_type = "application/problem+json"),
        Refusals,
        WorkRefusals,
    ),
    security(("key" = []))
)]
pub async fn plan_farm(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names(farm): Names<String>,
    JsonOf(season): JsonOf<FarmSeason>,
) -> Result<Json<Plan>, Problem> {
    Ok(Json(service.plan_farm(&caller, &farm, season).await?))
}
