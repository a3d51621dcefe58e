//! Webhooks and their deliveries, in both directions.

use baycast_service::Error;
use baycast_service::readiness::OccurrenceKind;
use baycast_service::records::{
    DeliveriesShown, Delivery, DeliveryState, IssuedWebhook, Replayed, Webhook, WebhookState,
    usual_best_by_days, usual_moved_days,
};

use super::incoming::Incoming;
use super::word::word;
use crate::proto;

word!(WebhookState, proto::WebhookState { Active Disabled });
word!(OccurrenceKind, proto::OccurrenceKind {
    StageEntered WindowMoved WindowOpened BestByNear TooHot TooWet ProbeSuspect SanitisationEvidenceMet
});
word!(DeliveryState, proto::DeliveryState { Waiting Delivered Dead });
word!(DeliveriesShown, proto::DeliveriesShown { All Waiting Delivered Dead });

/// A caller's webhook, or everything in it that cannot be read. What the service sets is not a caller's to say.
pub fn webhook(message: Option<proto::Webhook>) -> Result<Webhook, Error> {
    Incoming::required(message, "webhook", |message, at, incoming| {
        let proto::Webhook {
            id,
            url,
            kinds,
            moved_days,
            best_by_days,
            state,
            disabled_at: _,
            disabled_because: _,
            created_at: _,
            created_by: _,
            etag,
        } = message;
        let list = at.member("kinds");
        let kind = |(index, wire)| incoming.word(wire, list.element(index));
        let kinds = kinds.into_iter().enumerate().filter_map(kind).collect();
        let state = incoming.optional_word(state, at.member("state")).unwrap_or_default();
        Webhook {
            id,
            url,
            kinds,
            moved_days: moved_days.unwrap_or_else(usual_moved_days),
            best_by_days: best_by_days.unwrap_or_else(usual_best_by_days),
            state,
            disabled_at: None,
            disabled_because: None,
            created_at: None,
            created_by: String::new(),
            etag,
        }
    })
}

impl From<Webhook> for proto::Webhook {
    fn from(webhook: Webhook) -> Self {
        let Webhook {
            id,
            url,
            kinds,
            moved_days,
            best_by_days,
            state,
            disabled_at,
            disabled_because,
            created_at,
            created_by,
            etag,
        } = webhook;
        Self {
            id,
            url,
            kinds: kinds.into_iter().map(|kind| proto::OccurrenceKind::from(kind).into()).collect(),
            moved_days: Some(moved_days),
            best_by_days: Some(best_by_days),
            state: proto::WebhookState::from(state).into(),
            disabled_at: disabled_at.map(|at| at.to_string()),
            disabled_because,
            created_at: created_at.map(|at| at.to_string()),
            created_by,
            etag,
        }
    }
}

impl From<IssuedWebhook> for proto::IssuedWebhook {
    fn from(IssuedWebhook { webhook, secret }: IssuedWebhook) -> Self {
        Self { webhook: Some(webhook.into()), secret }
    }
}

impl From<Delivery> for proto::Delivery {
    fn from(delivery: Delivery) -> Self {
        let Delivery {
            id,
            kind,
            batch,
            state,
            attempts,
            next_at,
            last_outcome,
            created_at,
            delivered_at,
            body,
        } = delivery;
        Self {
            id,
            kind,
            batch,
            state: proto::DeliveryState::from(state).into(),
            attempts,
            next_at: next_at.map(|at| at.to_string()),
            last_outcome,
            created_at: created_at.to_string(),
            delivered_at: delivered_at.map(|at| at.to_string()),
            body,
        }
    }
}

impl From<Replayed> for proto::ReplayDeliveriesResponse {
    fn from(Replayed { replayed }: Replayed) -> Self {
        Self { replayed }
    }
}
