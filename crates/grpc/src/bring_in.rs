//! `BringInEvents`.

use baycast_service::{Caller, Error, Service};

use crate::convert;
use crate::proto::{BringInEventsRequest, BringInEventsResponse};

/// Records events of any of a farm's batches, or says what would become of them.
pub async fn bring_in_events(
    service: &Service,
    caller: &Caller,
    request: BringInEventsRequest,
) -> Result<BringInEventsResponse, Error> {
    let BringInEventsRequest { farm, events, sheet, mode, dry_run, dates, units, request_id } = request;
    let (input, how) = convert::bring_in(events, sheet, (mode, dates, units), dry_run)?;
    let key = (!request_id.is_empty()).then_some(request_id.as_str());
    Ok(service.bring_in(caller, &farm, input, how, key).await?.into())
}
