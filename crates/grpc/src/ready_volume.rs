//! `SumReadyVolume`.

use baycast_service::{Caller, Error, Service};

use crate::convert;
use crate::proto::{SumReadyVolumeRequest, SumReadyVolumeResponse};

/// How much of a farm's compost is ready for a use by a day.
pub async fn sum_ready_volume(
    service: &Service,
    caller: &Caller,
    request: SumReadyVolumeRequest,
) -> Result<SumReadyVolumeResponse, Error> {
    let SumReadyVolumeRequest { farm, r#use: for_use, by } = request;
    let (for_use, by) = (convert::needed(for_use, "use")?, convert::day(by.as_deref(), "by")?);
    let ready = service.sum_ready_volume(caller, &farm, for_use, by).await?;
    Ok(SumReadyVolumeResponse { ready_m3: ready.ready_m3 })
}
