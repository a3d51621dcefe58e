//! `CreateWebhook`, `GetWebhook`, `ListWebhooks`, `UpdateWebhook`, `DeleteWebhook`, `RotateWebhookSecret` and `TestWebhook`.

use baycast_service::{Caller, Error, Service};

use crate::convert;
use crate::proto::{
    CreateWebhookRequest, CreateWebhookResponse, DeleteWebhookRequest, DeleteWebhookResponse,
    GetWebhookRequest, GetWebhookResponse, ListWebhooksRequest, ListWebhooksResponse,
    RotateWebhookSecretRequest, RotateWebhookSecretResponse, TestWebhookRequest, TestWebhookResponse,
    UpdateWebhookRequest, UpdateWebhookResponse,
};

/// Adds a webhook, whose secret is in the answer and nowhere else.
pub async fn create_webhook(
    service: &Service,
    caller: &Caller,
    request: CreateWebhookRequest,
) -> Result<CreateWebhookResponse, Error> {
    let CreateWebhookRequest { farm, webhook } = request;
    let webhook = convert::webhook(webhook)?;
    let issued = service.create_webhook(caller, &farm, &webhook).await?;
    Ok(CreateWebhookResponse { issued: Some(issued.into()) })
}

/// One webhook.
pub async fn get_webhook(
    service: &Service,
    caller: &Caller,
    request: GetWebhookRequest,
) -> Result<GetWebhookResponse, Error> {
    let GetWebhookRequest { farm, webhook } = request;
    let kept = service.get_webhook(caller, &farm, &webhook).await?;
    Ok(GetWebhookResponse { webhook: Some(kept.into()) })
}

/// A page of webhooks.
pub async fn list_webhooks(
    service: &Service,
    caller: &Caller,
    request: ListWebhooksRequest,
) -> Result<ListWebhooksResponse, Error> {
    let ListWebhooksRequest { farm, page_size, page_token } = request;
    let page = service.list_webhooks(caller, &farm, Some(page_size.into()), &page_token).await?;
    Ok(ListWebhooksResponse {
        items: page.items.into_iter().map(Into::into).collect(),
        next_page_token: page.next_page_token.unwrap_or_default(),
    })
}

/// Changes those fields of a webhook that the mask names.
pub async fn update_webhook(
    service: &Service,
    caller: &Caller,
    request: UpdateWebhookRequest,
) -> Result<UpdateWebhookResponse, Error> {
    let UpdateWebhookRequest { farm, webhook, update_mask } = request;
    let mask = convert::Mask::of_webhook(update_mask)?;
    let new = webhook.unwrap_or_default();
    convert::etag(&new.etag)?;
    let now = service.get_webhook(caller, &farm, &new.id).await?;
    let webhook = convert::webhook(Some(mask.webhook(now.into(), new)))?;
    let kept = service.update_webhook(caller, &farm, &webhook).await?;
    Ok(UpdateWebhookResponse { webhook: Some(kept.into()) })
}

/// Deletes a webhook with all that waits for it.
pub async fn delete_webhook(
    service: &Service,
    caller: &Caller,
    request: DeleteWebhookRequest,
) -> Result<DeleteWebhookResponse, Error> {
    let DeleteWebhookRequest { farm, webhook, etag } = request;
    convert::etag(&etag)?;
    let gone = service.delete_webhook(caller, &farm, &webhook, &etag).await?;
    Ok(DeleteWebhookResponse { webhook: Some(gone.into()) })
}

/// Makes a new secret, which is in the answer and nowhere else.
pub async fn rotate_webhook_secret(
    service: &Service,
    caller: &Caller,
    request: RotateWebhookSecretRequest,
) -> Result<RotateWebhookSecretResponse, Error> {
    let RotateWebhookSecretRequest { farm, webhook, overlap_hours } = request;
    let issued = service.rotate_webhook_secret(caller, &farm, &webhook, overlap_hours).await?;
    Ok(RotateWebhookSecretResponse { issued: Some(issued.into()) })
}

/// Sends a test message.
pub async fn test_webhook(
    service: &Service,
    caller: &Caller,
    request: TestWebhookRequest,
) -> Result<TestWebhookResponse, Error> {
    let TestWebhookRequest { farm, webhook } = request;
    let delivery = service.test_webhook(caller, &farm, &webhook).await?;
    Ok(TestWebhookResponse { delivery: Some(delivery.into()) })
}
