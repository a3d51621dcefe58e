//! `POST /v1/requirements` and `POST /v1/farms/{farm}/requirements`.

use axum::Json;
use axum::extract::State;
use baycast_model::requirement::{Need, Requirement};
use baycast_service::Service;
use baycast_service::records::FarmNeed;

use crate::authenticated::{Admitted, Authenticated};
use crate::body::JsonOf;
use crate::names::Names;
use crate::problem::Problem;
use crate::refusals::{Refusals, WorkRefusals};

/// Find what compost that is needed asks for.
///
/// How much of which material to mix, into how many bays, and the latest starts from which it is ready by the day. Nothing
/// is kept.
#[utoipa::path(
    post,
    path = "/v1/requirements",
    operation_id = "find_requirement",
    tag = "recipes",
    request_body(content = Need, example = json!({
        "site": { "latitude_deg": 52 },
        "bay": {
            "id": "timber-1", "length_m": 1.5, "width_m": 1.6, "height_m": 1.25,
            "wall": { "construction": "timber_boards" }, "top": "roofed"
        },
        "wanted": { "use": "mulch", "volume_m3": 1.2, "by": "2027-03-15", "earliest_start": "2026-05-01" },
        "on_hand": { "ingredients": [
            { "feedstock": "grass_mowings", "most": { "mass_kg": 600 } },
            { "feedstock": "shredded_prunings", "most": { "barrows": 15 } },
            { "feedstock": "horse_manure_bedded", "most": { "barrows": 20 } },
            { "feedstock": "cardboard", "most": { "mass_kg": 60 } }
        ] }
    })),
    responses(
        (status = 200, description = "What it asks for", body = Requirement),
        (status = 401, description = "No good key, where keys are needed", body = Problem,
            content_type = "application/problem+json"),
        (status = 429, description = "More requests than one caller may make; `Retry-After` says when to come back",
            body = Problem, content_type = "application/problem+json"),
        WorkRefusals,
    ),
    security(("key" = []))
)]
pub async fn find_requirement(
    State(service): State<Service>,
    _: Admitted,
    JsonOf(need): JsonOf<Need>,
) -> Result<Json<Requirement>, Problem> {
    Ok(Json(service.requirement(need).await?))
}

/// Find what compost that is needed on a farm asks for.
///
/// Place, bay, feedstocks and barrow are the farm's own. Nothing is kept.
#[utoipa::path(
    post,
    path = "/v1/farms/{farm}/requirements",
    operation_id = "find_farm_requirement",
    tag = "recipes",
    params(("farm" = String, Path, description = "The farm's id")),
    request_body = FarmNeed,
    responses((status = 200, description = "What it asks for", body = Requirement), Refusals, WorkRefusals),
    security(("key" = []))
)]
pub async fn find_farm_requirement(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names(farm): Names<String>,
    JsonOf(need): JsonOf<FarmNeed>,
) -> Result<Json<Requirement>, Problem> {
    Ok(Json(service.farm_requirement(&caller, &farm, need).await?))
}
