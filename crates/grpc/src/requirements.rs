//! `FindRequirement` and `FindFarmRequirement`.

use baycast_service::{Caller, Error, Service};

use crate::convert;
use crate::proto::{
    FindFarmRequirementRequest, FindFarmRequirementResponse, FindRequirementRequest, FindRequirementResponse,
};

/// What compost that is needed asks for.
pub async fn find_requirement(
    service: &Service,
    request: FindRequirementRequest,
) -> Result<FindRequirementResponse, Error> {
    let requirement = service.requirement(convert::need(request.need)?).await?;
    Ok(FindRequirementResponse { requirement: Some(requirement.into()) })
}

/// The same on a farm.
pub async fn find_farm_requirement(
    service: &Service,
    caller: &Caller,
    request: FindFarmRequirementRequest,
) -> Result<FindFarmRequirementResponse, Error> {
    let FindFarmRequirementRequest { farm, need } = request;
    let requirement = service.farm_requirement(caller, &farm, convert::farm_need(need)?).await?;
    Ok(FindFarmRequirementResponse { requirement: Some(requirement.into()) })
}
