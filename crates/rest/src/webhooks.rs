//! `/v1/farms/{farm}/webhooks`.

#![allow(unused_qualifications, reason = "written by the routes' attributes")]

use axum::Json;
use axum::extract::State;
use axum::http::header::{CACHE_CONTROL, ETAG, LOCATION};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use baycast_service::Service;
use baycast_service::records::{Delivery, IssuedWebhook, Webhook};

use crate::authenticated::Authenticated;
use crate::body::JsonOf;
use crate::if_match::{IfMatch, Version};
use crate::kept;
use crate::names::{self, Names};
use crate::pages::WebhookPage;
use crate::parameters::{Paging, Parameters};
use crate::problem::Problem;
use crate::refusals::{Refusals, VersionRefusals, WriteRefusals};

/// List a farm's webhooks.
///
/// An administrator's key is needed, as for all that concerns webhooks.
#[utoipa::path(
    get,
    path = "/v1/farms/{farm}/webhooks",
    operation_id = "list_webhooks",
    tag = "webhooks",
    params(("farm" = String, Path, description = "The farm's id"), Paging),
    responses((status = 200, description = "A page of webhooks, by id", body = WebhookPage), Refusals),
    security(("key" = []))
)]
pub async fn list_webhooks(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names(farm): Names<String>,
    parameters: Parameters,
) -> Result<Json<WebhookPage>, Problem> {
    let paging = parameters.only_paging()?;
    let page = service.list_webhooks(&caller, &farm, paging.page_size, &paging.page_token).await?;
    Ok(Json(page.into()))
}

/// Add a webhook to a farm.
///
/// Its secret is in the answer and shown never again. The same body again adds another one.
#[utoipa::path(
    post,
    path = "/v1/farms/{farm}/webhooks",
    operation_id = "create_webhook",
    tag = "webhooks",
    params(("farm" = String, Path, description = "The farm's id")),
    request_body = Webhook,
    responses((status = 201, description = "The webhook and its secret", body = IssuedWebhook), Refusals, WriteRefusals),
    security(("key" = []))
)]
pub async fn create_webhook(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names(farm): Names<String>,
    JsonOf(given): JsonOf<Webhook>,
) -> Result<Response, Problem> {
    let issued = service.create_webhook(&caller, &farm, &given).await?;
    let path = names::path(&["farms", &farm, "webhooks", &issued.webhook.id]);
    Ok((StatusCode::CREATED, [(LOCATION, path)], shown_once(&issued)).into_response())
}

/// Get one webhook.
#[utoipa::path(
    get,
    path = "/v1/farms/{farm}/webhooks/{webhook}",
    operation_id = "get_webhook",
    tag = "webhooks",
    params(("farm" = String, Path, description = "The farm's id"), ("webhook" = String, Path, description = "The webhook's id")),
    responses(
        (status = 200, description = "The webhook", body = Webhook),
        (status = 304, description = "The caller has it already"),
        Refusals,
    ),
    security(("key" = []))
)]
pub async fn get_webhook(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names((farm, webhook)): Names<(String, String)>,
    headers: HeaderMap,
) -> Result<Response, Problem> {
    let own = service.get_webhook(&caller, &farm, &webhook).await?;
    Ok(kept::found(&headers, &own.etag, &own))
}

/// Replace what is said of a webhook, or disable or enable it.
#[utoipa::path(
    put,
    path = "/v1/farms/{farm}/webhooks/{webhook}",
    operation_id = "update_webhook",
    tag = "webhooks",
    params(("farm" = String, Path, description = "The farm's id"), ("webhook" = String, Path, description = "The webhook's id"), Version),
    request_body = Webhook,
    responses(
        (status = 200, description = "The webhook as it is now", body = Webhook),
        Refusals,
        WriteRefusals,
        VersionRefusals,
    ),
    security(("key" = []))
)]
pub async fn update_webhook(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names((farm, webhook)): Names<(String, String)>,
    IfMatch(etag): IfMatch,
    JsonOf(given): JsonOf<Webhook>,
) -> Result<Response, Problem> {
    if !given.id.is_empty() {
        names::same(&webhook, &given.id, "/id")?;
    }
    let own = service.update_webhook(&caller, &farm, &Webhook { id: webhook, etag, ..given }).await?;
    Ok(kept::changed(&own.etag, &own))
}

/// Delete a webhook with all that waits for it.
#[utoipa::path(
    delete,
    path = "/v1/farms/{farm}/webhooks/{webhook}",
    operation_id = "delete_webhook",
    tag = "webhooks",
    params(("farm" = String, Path, description = "The farm's id"), ("webhook" = String, Path, description = "The webhook's id"), Version),
    responses(
        (status = 200, description = "The webhook as it was", body = Webhook),
        Refusals,
        VersionRefusals,
    ),
    security(("key" = []))
)]
pub async fn delete_webhook(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names((farm, webhook)): Names<(String, String)>,
    IfMatch(etag): IfMatch,
) -> Result<Json<Webhook>, Problem> {
    Ok(Json(service.delete_webhook(&caller, &farm, &webhook, &etag).await?))
}

/// Make a new secret for a webhook.
///
/// It is in the answer and shown never again. The one before signs beside it for `overlap_hours`.
#[utoipa::path(
    post,
    path = "/v1/farms/{farm}/webhooks/{webhook}/rotate",
    operation_id = "rotate_webhook_secret",
    tag = "webhooks",
    params(("farm" = String, Path, description = "The farm's id"), ("webhook" = String, Path, description = "The webhook's id"), ("overlap_hours" = Option<u32>, Query, maximum = 168, description = "For how long the secret before signs on, 0 to 168; 24 where absent")),
    responses((status = 200, description = "The webhook and its new secret", body = IssuedWebhook), Refusals),
    security(("key" = []))
)]
pub async fn rotate_webhook_secret(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names((farm, webhook)): Names<(String, String)>,
    parameters: Parameters,
) -> Result<Response, Problem> {
    let hours = parameters.read(|own| own.parsed("overlap_hours", "a whole number, 0 to 168"))?;
    let issued = service.rotate_webhook_secret(&caller, &farm, &webhook, hours).await?;
    Ok(shown_once(&issued))
}

/// Send a test message to a webhook.
///
/// It waits with the others and is of the type `baycast.webhook.test.v1`.
#[utoipa::path(
    post,
    path = "/v1/farms/{farm}/webhooks/{webhook}/test",
    operation_id = "test_webhook",
    tag = "webhooks",
    params(("farm" = String, Path, description = "The farm's id"), ("webhook" = String, Path, description = "The webhook's id")),
    responses(
        (status = 200, description = "The message, which is yet to be sent", body = Delivery),
        (status = 409, description = "In conflict with what is there", body = Problem,
            content_type = "application/problem+json"),
        Refusals,
    ),
    security(("key" = []))
)]
pub async fn test_webhook(
    State(service): State<Service>,
    Authenticated(caller): Authenticated,
    Names((farm, webhook)): Names<(String, String)>,
) -> Result<Json<Delivery>, Problem> {
    Ok(Json(service.test_webhook(&caller, &farm, &webhook).await?))
}

/// A webhook with its secret, which no cache may keep.
fn shown_once(issued: &IssuedWebhook) -> Response {
    let tag = format!("\"{}\"", issued.webhook.etag);
    ([(ETAG, tag), (CACHE_CONTROL, "no-store".to_owned())], Json(issued)).into_response()
}
