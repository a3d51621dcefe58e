//! `GET /v1/farms/{farm}/readiness/changes`.

use axum::Json;
use axum::extract::State;
use baycast_service::Service;
use baycast_service::readiness::ReadinessChanges;

use crate::authenticated::Authenticated;
use crate::names::Names;
use crate::parameters::{MAX_PAGE_SIZE, Parameters, Place};
use crate::problem::Problem;
use crate::refusals::Refusals;

/// What a place in the changes is.
pub const PLACE: &str = "a sequence that was told, a whole number";

/// List changes of a farm's readiness, for those who poll.
#[utoipa::path(
    get,
    path = "/v1/farms/{farm}/readiness/changes",
    operation_id = "list_readiness_changes",
    tag = "readiness",
    params(
        ("farm" = String, Path, description = "The farm's id"),
        ("after" = Option<u64>, Query, description = "The `sequence` that a readiness or an answer of this told; the \
            whole where absent"),
        ("page_size" = Option<i64>, Query, minimum = 0, description = "At most this many, 1 to 1000; 100 where absent or 0"),
    ),
    responses(
        (status = 200, description = "The changes after that place, oldest first", body = ReadinessChanges),
        Refusals,
    ),
    security(("key" = []))
)]
pub async fn list_readiness_changes(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names(farm): Names<String>,
    parameters: Parameters,
) -> Result<Json<ReadinessChanges>, Problem> {
    let (after, page_size) = parameters.read(|own| {
        let page_size = own.parsed("page_size", &format!("a whole number, 1 to {MAX_PAGE_SIZE}"));
        (own.parsed("after", PLACE).map(|Place(after)| after), page_size)
    })?;
    Ok(Json(service.readiness_changes(&caller, &farm, after, page_size).await?))
}
