//! `CreateBatch`, `GetBatch`, `ListBatches`, `UpdateBatch` and `ArchiveBatch`.

use baycast_service::{Caller, Error, Service};

use crate::convert;
use crate::proto::{
    ArchiveBatchRequest, ArchiveBatchResponse, CreateBatchRequest, CreateBatchResponse, GetBatchRequest,
    GetBatchResponse, ListBatchesRequest, ListBatchesResponse, UpdateBatchRequest, UpdateBatchResponse,
};

/// Adds a batch.
pub async fn create_batch(
    service: &Service,
    caller: &Caller,
    request: CreateBatchRequest,
) -> Result<CreateBatchResponse, Error> {
    let CreateBatchRequest { farm, batch } = request;
    let batch = convert::batch(batch)?;
    let kept = service.create_batch(caller, &farm, &batch).await?;
    Ok(CreateBatchResponse { batch: Some(kept.into()) })
}

/// One batch.
pub async fn get_batch(
    service: &Service,
    caller: &Caller,
    request: GetBatchRequest,
) -> Result<GetBatchResponse, Error> {
    let GetBatchRequest { farm, batch } = request;
    let kept = service.get_batch(caller, &farm, &batch).await?;
    Ok(GetBatchResponse { batch: Some(kept.into()) })
}

/// A page of batches.
pub async fn list_batches(
    service: &Service,
    caller: &Caller,
    request: ListBatchesRequest,
) -> Result<ListBatchesResponse, Error> {
    let ListBatchesRequest { farm, page_size, page_token, shown } = request;
    let shown = convert::said(shown, "shown")?;
    let page = service.list_batches(caller, &farm, shown, Some(page_size.into()), &page_token).await?;
    Ok(ListBatchesResponse {
        items: page.items.into_iter().map(Into::into).collect(),
        next_page_token: page.next_page_token.unwrap_or_default(),
    })
}

/// Changes those fields of a batch that the mask names.
pub async fn update_batch(
    service: &Service,
    caller: &Caller,
    request: UpdateBatchRequest,
) -> Result<UpdateBatchResponse, Error> {
    let UpdateBatchRequest { farm, batch, update_mask } = request;
    let mask = convert::Mask::of_batch(update_mask)?;
    let new = batch.unwrap_or_default();
    convert::etag(&new.etag)?;
    caller.may_write(&farm)?;
    let now = service.get_batch(caller, &farm, &new.id).await?;
    let batch = convert::batch(Some(mask.batch(now.into(), new)))?;
    let kept = service.update_batch(caller, &farm, &batch).await?;
    Ok(UpdateBatchResponse { batch: Some(kept.into()) })
}

/// Puts a batch away, or brings it back.
pub async fn archive_batch(
    service: &Service,
    caller: &Caller,
    request: ArchiveBatchRequest,
) -> Result<ArchiveBatchResponse, Error> {
    let ArchiveBatchRequest { farm, batch, etag, state } = request;
    convert::etag(&etag)?;
    let state = convert::said(state, "state")?;
    let kept = service.archive_batch(caller, &farm, &batch, &etag, state).await?;
    Ok(ArchiveBatchResponse { batch: Some(kept.into()) })
}
