//! `WatchReadiness`.

use baycast_service::{Caller, Error, Service};
use futures::{Stream, StreamExt};
use tonic::Status;

use crate::proto::{WatchReadinessRequest, WatchReadinessResponse};
use crate::status;

/// Changes of a farm's readiness, as they happen.
pub async fn watch_readiness(
    service: &Service,
    caller: &Caller,
    request: WatchReadinessRequest,
) -> Result<impl Stream<Item = Result<WatchReadinessResponse, Status>> + Send + use<>, Error> {
    let WatchReadinessRequest { farm, resume_after } = request;
    let news = service.watch_readiness(caller, &farm, resume_after).await?;
    Ok(news.map(|news| news.map(Into::into).map_err(|error| status::of(&error))))
}
