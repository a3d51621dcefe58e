//! `POST /v1/recipes` and `POST /v1/farms/{farm}/recipes`.

use axum::Json;
use axum::extract::State;
use baycast_model::recipe::{OnHand, Recipe};
use baycast_service::Service;

use crate::authenticated::{Admitted, Authenticated};
use crate::body::JsonOf;
use crate::names::Names;
use crate::problem::Problem;
use crate::refusals::{Refusals, WorkRefusals};

/// Suggest a mix of what is on hand.
///
/// The mix within the amounts given that comes closest to C:N, moisture and air. Nothing is kept.
#[utoipa::path(
    post,
    path = "/v1/recipes",
    operation_id = "suggest_recipe",
    tag = "recipes",
    request_body(content = OnHand, example = json!({
        "ingredients": [
            { "feedstock": "grass_mowings", "most": { "mass_kg": 300 } },
            { "feedstock": "shredded_prunings", "most": { "barrows": 12 } },
            { "feedstock": "horse_manure_bedded", "least": { "barrows": 2 }, "most": { "barrows": 6 } },
            { "feedstock": "cardboard", "most": { "mass_kg": 40 } }
        ]
    })),
    responses(
        (status = 200, description = "The mix", body = Recipe),
        (status = 401, description = "No good key, where keys are needed", body = Problem,
            content_type = "application/problem+json"),
        (status = 429, description = "More requests than one caller may make; `Retry-After` says when to come back",
            body = Problem, content_type = "application/problem+json"),
        WorkRefusals,
    ),
    security(("key" = []))
)]
pub async fn suggest_recipe(
    State(service): State<Service>,
    _: Admitted,
    JsonOf(on_hand): JsonOf<OnHand>,
) -> Result<Json<Recipe>, Problem> {
    Ok(Json(service.recipe(on_hand).await?))
}

/// Suggest a mix of what is on hand on a farm.
///
/// Feedstocks and barrow are the farm's own where the body gives none. Nothing is kept.
#[utoipa::path(
    post,
    path = "/v1/farms/{farm}/recipes",
    operation_id = "suggest_farm_recipe",
    tag = "recipes",
    params(("farm" = String, Path, description = "The farm's id")),
    request_body = OnHand,
    responses((status = 200, description = "The mix", body = Recipe), Refusals, WorkRefusals),
    security(("key" = []))
)]
pub async fn suggest_farm_recipe(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names(farm): Names<String>,
    JsonOf(on_hand): JsonOf<OnHand>,
) -> Result<Json<Recipe>, Problem> {
    Ok(Json(service.farm_recipe(&caller, &farm, on_hand).await?))
}
