//! `GET /v1/farms/{farm}/readiness`.

use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::Response;
use baycast_service::readiness::Readiness;
use baycast_service::{Error, Service};

use crate::authenticated::Authenticated;
use crate::conditional;
use crate::names::Names;
use crate::parameters::Parameters;
use crate::problem::Problem;
use crate::refusals::Refusals;

/// The readiness of a farm's batches.
///
/// Batches that are due are worked out first, for two seconds at most; those left are counted as `pending`.
#[utoipa::path(
    get,
    path = "/v1/farms/{farm}/readiness",
    operation_id = "get_readiness",
    tag = "readiness",
    params(("farm" = String, Path, description = "The farm's id")),
    responses(
        (status = 200, description = "What is told of the farm's batches in use", body = Readiness),
        (status = 304, description = "The caller has it already"),
        Refusals,
    ),
    security(("key" = []))
)]
pub async fn get_readiness(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names(farm): Names<String>,
    headers: HeaderMap,
    parameters: Parameters,
) -> Result<Response, Problem> {
    parameters.read(|_| ())?;
    let readiness = service.readiness(&caller, &farm).await?;
    let json = serde_json::to_vec(readiness.as_ref()).map_err(|_| Error::Internal)?;
    Ok(conditional::answer(&headers, json.into()))
}
