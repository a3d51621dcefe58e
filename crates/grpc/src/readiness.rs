//! `GetReadiness`.

use baycast_service::readiness::Readiness;
use baycast_service::{Caller, Error, Service};

use crate::proto::{GetReadinessRequest, GetReadinessResponse};

/// The readiness of a farm's batches.
pub async fn get_readiness(
    service: &Service,
    caller: &Caller,
    request: GetReadinessRequest,
) -> Result<GetReadinessResponse, Error> {
    let GetReadinessRequest { farm } = request;
    let readiness = service.readiness(caller, &farm).await?;
    Ok(GetReadinessResponse { readiness: Some(Readiness::clone(&readiness).into()) })
}
