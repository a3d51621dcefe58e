//! `ListReadinessChanges`.

use baycast_service::{Caller, Error, Service};

use crate::proto::{ListReadinessChangesRequest, ListReadinessChangesResponse};

/// Changes of a farm's readiness.
pub async fn list_readiness_changes(
    service: &Service,
    caller: &Caller,
    request: ListReadinessChangesRequest,
) -> Result<ListReadinessChangesResponse, Error> {
    let ListReadinessChangesRequest { farm, after, page_size } = request;
    service.readiness_changes(caller, &farm, after, Some(page_size.into())).await.map(Into::into)
}
