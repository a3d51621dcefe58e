//! `POST /v1/estimates`.

use axum::Json;
use axum::extract::State;
use baycast_model::estimate::Estimate;
use baycast_model::history::History;
use baycast_service::{Input, Service};

use crate::authenticated::Admitted;
use crate::body::JsonText;
use crate::problem::Problem;

/// Estimate one batch.
///
/// Takes the whole history and keeps nothing.
#[utoipa::path(
    post,
    path = "/v1/estimates",
    operation_id = "estimate_maturity",
    tag = "estimates",
    request_body(content = History, example = json!({
        "batch": "pallet 2, spring",
        "as_of": "2026-06-01",
        "site": { "latitude_deg": 52 },
        "bay": {
            "id": "pallet-2", "length_m": 1, "width_m": 1, "height_m": 1.1,
            "wall": { "construction": "cardboard_lined" }
        },
        "events": [
            { "at": "2026-04-01", "addition": { "feedstock": "grass_mowings", "mass_kg": 200 } },
            { "at": "2026-04-01", "addition": { "feedstock": "shredded_prunings", "barrows": 4 } },
            { "at": "2026-04-08T18:00:00Z", "reading": { "temperature_c": 58.5 } }
        ]
    })),
    responses(
        (status = 200, description = "The estimate", body = Estimate),
        (status = 401, description = "No good key, where keys are needed", body = Problem,
            content_type = "application/problem+json"),
        (status = 429, description = "More requests than one caller may make; `Retry-After` says when to come back",
            body = Problem, content_type = "application/problem+json"),
        (status = 400, description = "Not JSON", body = Problem, content_type = "application/problem+json"),
        (status = 413, description = "Too large", body = Problem, content_type = "application/problem+json"),
        (status = 415, description = "Not said to be JSON", body = Problem,
            content_type = "application/problem+json"),
        (status = 422, description = "Fields that cannot be used, all at once", body = Problem,
            content_type = "application/problem+json"),
        (status = 503, description = "Too busy; `Retry-After` says when to come back", body = Problem,
            content_type = "application/problem+json"),
        (status = 504, description = "Out of time", body = Problem, content_type = "application/problem+json"),
    ),
    security(("key" = []))
)]
pub async fn estimate_maturity(
    State(service): State<Service>,
    _: Admitted,
    JsonText(text): JsonText,
) -> Result<Json<Estimate>, Problem> {
    Ok(Json(service.estimate(Input::Json(text)).await?))
}
