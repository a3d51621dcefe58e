//! Webhooks: where a farm's news is sent.
//!
//! A webhook carries a farm's news out for as long as it is there, also when the key that made it is revoked, and its URL and
//! secret are the receiver's: only an administrator of the farm sees or changes one.

use baycast_model::problem::Problems;
use baycast_records::{Scope, WebhookDraft};
use jiff::{SignedDuration, Timestamp};
use serde::{Deserialize, Serialize};

use crate::error::{Conflict, Error};
use crate::page::Page;
use crate::readiness::{Interest, OccurrenceKind};
use crate::records::caller::Caller;
use crate::records::deliveries::Delivery;
use crate::records::{etag, message, paging, refusal};
use crate::service::Service;

/// Days that a window must have moved by where a webhook does not say.
const USUAL_MOVED_DAYS: u32 = 7;

/// Days before a best-by day that it is near where a webhook does not say.
const USUAL_BEST_BY_DAYS: u32 = 14;

/// Hours for which the secret before signs on where a caller does not say.
const USUAL_OVERLAP_HOURS: u32 = 24;

/// Most hours for which it does.
const MOST_OVERLAP_HOURS: u32 = 168;

/// Where a farm's news is sent.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Webhook {
    /// Its id, given by the service.
    #[serde(default)]
    pub id: String,
    /// Where messages are sent: https, to a public address unless the operator allows others.
    pub url: String,
    /// The kinds of news that it is told; all where there is none.
    #[serde(default)]
    pub kinds: Vec<OccurrenceKind>,
    /// Days, 1 to 60, by more than which a window must have moved since it was last told.
    #[serde(default = "usual_moved_days")]
    #[cfg_attr(feature = "schema", schema(minimum = 1, maximum = 60))]
    pub moved_days: u32,
    /// Days, 1 to 90, before its best-by day that a window is told of.
    #[serde(default = "usual_best_by_days")]
    #[cfg_attr(feature = "schema", schema(minimum = 1, maximum = 90))]
    pub best_by_days: u32,
    /// Whether messages are sent to it.
    #[serde(default)]
    pub state: WebhookState,
    /// Since when none is; set by the service.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, format = DateTime))]
    pub disabled_at: Option<Timestamp>,
    /// Why, where it was not a caller who disabled it; set by the service.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub disabled_because: Option<String>,
    /// When it was created; set by the service.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, format = DateTime))]
    pub created_at: Option<Timestamp>,
    /// The id of the API key it was created with; set by the service.
    #[serde(default)]
    pub created_by: String,
    /// Changes with every change; not read from a caller's body over REST, where `If-Match` carries it.
    #[serde(default)]
    pub etag: String,
}

/// Whether messages are sent to a webhook.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum WebhookState {
    /// They are.
    #[default]
    Active,
    /// None is put in for it, and those that wait go on waiting.
    Disabled,
}

/// A webhook with the secret that was just made for it.
#[derive(Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct IssuedWebhook {
    /// The webhook.
    pub webhook: Webhook,
    /// What its messages are signed with, `whsec_…`; shown this once.
    pub secret: String,
}

impl std::fmt::Debug for IssuedWebhook {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("IssuedWebhook").field("webhook", &self.webhook).finish_non_exhaustive()
    }
}

/// Days of a move where none are said.
pub fn usual_moved_days() -> u32 {
    USUAL_MOVED_DAYS
}

/// Days before a best-by day where none are said.
pub fn usual_best_by_days() -> u32 {
    USUAL_BEST_BY_DAYS
}

impl From<baycast_records::Webhook> for Webhook {
    fn from(own: baycast_records::Webhook) -> Self {
        let baycast_records::Webhook {
            farm: _,
            id,
            draft: WebhookDraft { url, kinds, moved_days, best_by_days },
            version,
            created_at,
            created_by,
            disabled_at,
            disabled_because,
        } = own;
        Self {
            id,
            url,
            kinds: known(&kinds),
            moved_days,
            best_by_days,
            state: if disabled_at.is_none() { WebhookState::Active } else { WebhookState::Disabled },
            disabled_at,
            disabled_because,
            created_at: Some(created_at),
            created_by,
            etag: etag::of(version),
        }
    }
}

impl From<baycast_records::IssuedWebhook> for IssuedWebhook {
    fn from(own: baycast_records::IssuedWebhook) -> Self {
        let baycast_records::IssuedWebhook { webhook, secret } = own;
        Self { webhook: webhook.into(), secret }
    }
}

/// Kinds by their words.
fn known(words: &[String]) -> Vec<OccurrenceKind> {
    OccurrenceKind::ALL.into_iter().filter(|kind| words.iter().any(|word| word == kind.as_str())).collect()
}

/// Whether a webhook of these kinds is told of this one.
pub(super) fn wants(kinds: &[String], kind: OccurrenceKind) -> bool {
    kinds.is_empty() || kinds.iter().any(|word| word == kind.as_str())
}

/// How much of a change is news to a webhook.
pub(super) fn interest(draft: &WebhookDraft) -> Interest {
    Interest { moved_days: draft.moved_days, best_by_days: draft.best_by_days }
}

impl Service {
    /// What is kept of what a caller says, if it can be used.
    fn webhook_draft(&self, webhook: &Webhook) -> Result<WebhookDraft, Error> {
        let mut problems = Problems::default();
        let url = match self.destinations().read(&webhook.url) {
            Ok(destination) => destination.url.to_string(),
            Err(unsendable) => {
                problems.add("/url", unsendable.given, unsendable.accepted);
                String::new()
            }
        };
        problems.range("/moved_days", f64::from(webhook.moved_days), 1.0, 60.0);
        problems.range("/best_by_days", f64::from(webhook.best_by_days), 1.0, 90.0);
        problems.into_result().map_err(Error::Invalid)?;
        let mut kinds = webhook.kinds.clone();
        kinds.sort_unstable();
        kinds.dedup();
        let kinds = kinds.into_iter().map(|kind| kind.as_str().to_owned()).collect();
        Ok(WebhookDraft { url, kinds, moved_days: webhook.moved_days, best_by_days: webhook.best_by_days })
    }

    /// Adds a webhook to a farm. Its secret is in the answer and shown never again.
    pub async fn create_webhook(
        &self,
        caller: &Caller,
        farm: &str,
        webhook: &Webhook,
    ) -> Result<IssuedWebhook, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Admin)?;
        let draft = self.webhook_draft(webhook)?;
        let issued = store.records.create_webhook(farm, &draft, &store.stamp(caller)).await;
        issued.map(IssuedWebhook::from).map_err(refusal::of)
    }

    /// One webhook.
    pub async fn get_webhook(&self, caller: &Caller, farm: &str, webhook: &str) -> Result<Webhook, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Admin)?;
        store.records.webhook(farm, webhook).await.map(Webhook::from).map_err(refusal::of)
    }

    /// A farm's webhooks by id.
    pub async fn list_webhooks(
        &self,
        caller: &Caller,
        farm: &str,
        page_size: Option<i64>,
        page_token: &str,
    ) -> Result<Page<Webhook>, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Admin)?;
        let request = paging::request(page_size, page_token)?;
        store.records.webhooks(farm, &request).await.map(paging::page).map_err(refusal::of)
    }

    /// Replaces what is said of a webhook, if its etag still holds.
    pub async fn update_webhook(
        &self,
        caller: &Caller,
        farm: &str,
        webhook: &Webhook,
    ) -> Result<Webhook, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Admin)?;
        let draft = self.webhook_draft(webhook)?;
        let disabled_at = match webhook.state {
            WebhookState::Active => None,
            WebhookState::Disabled => Some(store.now()),
        };
        let expected = etag::version(&webhook.etag);
        let kept = store.records.update_webhook(farm, &webhook.id, expected, &draft, disabled_at).await;
        kept.map(Webhook::from).map_err(refusal::of)
    }

    /// Deletes a webhook with all that waits for it, if `etag` still holds; as it was.
    pub async fn delete_webhook(
        &self,
        caller: &Caller,
        farm: &str,
        webhook: &str,
        etag: &str,
    ) -> Result<Webhook, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Admin)?;
        let gone = store.records.delete_webhook(farm, webhook, etag::version(etag)).await;
        gone.map(Webhook::from).map_err(refusal::of)
    }

    /// Makes a new secret. The one before signs beside it for so many hours, 0 to 168, a day where not said.
    pub async fn rotate_webhook_secret(
        &self,
        caller: &Caller,
        farm: &str,
        webhook: &str,
        overlap_hours: Option<u32>,
    ) -> Result<IssuedWebhook, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Admin)?;
        let hours = overlap_hours.unwrap_or(USUAL_OVERLAP_HOURS);
        let mut problems = Problems::default();
        problems.range("/overlap_hours", f64::from(hours), 0.0, f64::from(MOST_OVERLAP_HOURS));
        problems.into_result().map_err(Error::Invalid)?;
        let overlap = SignedDuration::from_hours(hours.into());
        let until = store.now().checked_add(overlap).unwrap_or(Timestamp::MAX);
        let issued = store.records.rotate_webhook_secret(farm, webhook, until).await;
        issued.map(IssuedWebhook::from).map_err(refusal::of)
    }

    /// Puts a test message in for a webhook, to be seen arriving.
    pub async fn test_webhook(&self, caller: &Caller, farm: &str, webhook: &str) -> Result<Delivery, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Admin)?;
        let own = store.records.webhook(farm, webhook).await.map_err(refusal::of)?;
        if own.disabled_at.is_some() {
            let detail = format!("the webhook `{webhook}` is disabled");
            return Err(Error::Conflict(Conflict::State { detail }));
        }
        let message = message::test(farm, webhook, store.now())?;
        let put = store.records.queue_delivery(farm, message, store.now()).await;
        put.map(Delivery::from).map_err(refusal::of)
    }
}
