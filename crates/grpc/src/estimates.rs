//! `EstimateMaturity`.

use baycast_service::{Error, Input, Service};
use tonic::Status;

use crate::convert;
use crate::proto::{EstimateMaturityRequest, EstimateMaturityResponse, History};
use crate::status;

/// Estimates one batch.
pub async fn estimate_maturity(
    service: &Service,
    request: EstimateMaturityRequest,
) -> Result<EstimateMaturityResponse, Status> {
    let input = input(request.history).map_err(|error| status::of(&error))?;
    let estimate = service.estimate(input).await.map_err(|error| status::of(&error))?;
    Ok(EstimateMaturityResponse { estimate: Some(estimate.into()) })
}

/// The history of a request, in the service's own type.
pub fn input(history: Option<History>) -> Result<Input, Error> {
    convert::history(history).map(|history| Input::History(Box::new(history))).map_err(Error::Invalid)
}
