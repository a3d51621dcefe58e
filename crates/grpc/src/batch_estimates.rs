//! `EstimateBatch`.

use baycast_service::records::Asked;
use baycast_service::{Caller, Error, Service};

use crate::convert;
use crate::proto::{EstimateBatchRequest, EstimateBatchResponse};

/// Estimates a batch from what is recorded, unless the caller holds that estimate already.
pub async fn estimate_batch(
    service: &Service,
    caller: &Caller,
    request: EstimateBatchRequest,
) -> Result<EstimateBatchResponse, Error> {
    let EstimateBatchRequest { farm, batch, as_of, held_etag, ready_by, compare_futures, pool } = request;
    let asked = Asked {
        as_of: convert::day(as_of.as_deref(), "as_of")?,
        ready_by: convert::days(&ready_by, "ready_by")?,
        compare_futures,
        forecast_step_days: None,
        pool,
    };
    let answer = service.estimate_batch(caller, &farm, &batch, asked, |tag| tag == held_etag).await?;
    let estimate = answer.estimate.map(|estimate| (*estimate).clone().into());
    Ok(EstimateBatchResponse { estimate, etag: answer.etag })
}
