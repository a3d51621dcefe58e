//! Webhooks over gRPC.

use baycast_grpc::proto::{
    CreateWebhookRequest, DeliveriesShown, DeliveryState, GetDeliveryRequest, ListDeliveriesRequest,
    OccurrenceKind, TestWebhookRequest, UpdateWebhookRequest, Webhook, WebhookState,
};
use prost_types::FieldMask;
use tonic::Code;
use tonic_types::StatusExt;

use super::yard::{Yard, plant, webhook};
use crate::databases::Database;

pub async fn a_webhook_is_made_changed_by_mask_and_its_messages_seen(database: Database) {
    let yard = Yard::on(database);
    let mut client = yard.client(None).await;
    plant(&mut client, "home").await;
    let farm = || "home".to_owned();
    let kinds = [OccurrenceKind::TooHot, OccurrenceKind::StageEntered].map(i32::from).to_vec();
    let new = Webhook { kinds: kinds.clone(), best_by_days: Some(30), ..webhook("") };
    let request = CreateWebhookRequest { farm: farm(), webhook: Some(new.clone()) };
    let issued = client.create_webhook(request).await.expect("a webhook").into_inner().issued;
    let issued = issued.expect("it is there");
    assert!(issued.secret.starts_with("whsec_"));
    let made = issued.webhook.expect("it is there");
    let words = [OccurrenceKind::StageEntered, OccurrenceKind::TooHot].map(i32::from);
    assert_eq!((made.kinds.as_slice(), made.moved_days, made.best_by_days), (&words[..], Some(7), Some(30)));
    assert_eq!((made.state(), made.url.as_str()), (WebhookState::Active, new.url.as_str()));

    let update = |webhook: Webhook, paths: &[&str]| UpdateWebhookRequest {
        farm: farm(),
        webhook: Some(webhook),
        update_mask: Some(FieldMask { paths: paths.iter().map(|path| (*path).to_owned()).collect() }),
    };
    let disabled = Webhook {
        id: made.id.clone(),
        etag: made.etag.clone(),
        state: WebhookState::Disabled.into(),
        ..Webhook::default()
    };
    let changed = client.update_webhook(update(disabled, &["state", "kinds"])).await.expect("changed");
    let changed = changed.into_inner().webhook.expect("it is there");
    assert_eq!(
        (changed.state(), changed.kinds.len(), changed.best_by_days),
        (WebhookState::Disabled, 0, Some(30))
    );
    assert!(changed.disabled_at.is_some());
    let request = TestWebhookRequest { farm: farm(), webhook: made.id.clone() };
    let refused = client.test_webhook(request.clone()).await.expect_err("it is disabled");
    assert_eq!(refused.code(), Code::FailedPrecondition);
    let active = Webhook {
        id: made.id.clone(),
        etag: changed.etag,
        state: WebhookState::Active.into(),
        ..made.clone()
    };
    client.update_webhook(update(active, &["state"])).await.expect("changed");

    let put =
        client.test_webhook(request).await.expect("a message").into_inner().delivery.expect("it is there");
    assert_eq!((put.state(), put.kind.as_str()), (DeliveryState::Waiting, "test"));
    let request = ListDeliveriesRequest {
        farm: farm(),
        webhook: made.id.clone(),
        shown: DeliveriesShown::Delivered.into(),
        ..Default::default()
    };
    assert!(client.list_deliveries(request).await.expect("a page").into_inner().items.is_empty());
    let request = GetDeliveryRequest { farm: farm(), webhook: made.id, delivery: put.id };
    let whole = client.get_delivery(request).await.expect("the message").into_inner().delivery;
    assert!(whole.and_then(|own| own.body).is_some_and(|body| body.contains("baycast.webhook.test.v1")));

    let odd = Webhook { kinds: vec![1, 0, 99], ..webhook("") };
    let request = CreateWebhookRequest { farm: farm(), webhook: Some(odd) };
    let refused = client.create_webhook(request).await.expect_err("no such kinds");
    let fields = refused.get_details_bad_request().expect("fields").field_violations;
    let fields: Vec<_> = fields.into_iter().map(|violation| violation.field).collect();
    assert_eq!(fields, ["kinds[1]", "kinds[2]"]);
}
