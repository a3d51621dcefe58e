//! Deliveries: seen and replayed by administrators, claimed and settled by whoever delivers them.

use std::time::Duration;

use baycast_records::{ClaimedDelivery, DeliveryState as Kept, Scope, Settled};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::error::Error;
use crate::page::Page;
use crate::records::caller::Caller;
use crate::records::{paging, refusal};
use crate::service::Service;

/// How long whoever delivers has a message for itself: longer than an attempt may take, so that only one who was stopped
/// loses it.
pub const DELIVERY_LEASE: Duration = Duration::from_mins(1);

/// A message to a webhook.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Delivery {
    /// Its id: that of the CloudEvent, and the `webhook-id` of every attempt.
    pub id: String,
    /// The kind of news, or `test`.
    pub kind: String,
    /// The batch that it is about; absent for a test.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub batch: Option<String>,
    /// What became of it so far.
    pub state: DeliveryState,
    /// Attempts begun since it was put in, or replayed.
    pub attempts: u32,
    /// When it is due, if it waits.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, format = DateTime))]
    pub next_at: Option<Timestamp>,
    /// What came of the last attempt, in a few words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last_outcome: Option<String>,
    /// When it was put in.
    #[cfg_attr(feature = "schema", schema(value_type = String, format = DateTime))]
    pub created_at: Timestamp,
    /// When the webhook took it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, format = DateTime))]
    pub delivered_at: Option<Timestamp>,
    /// What is sent, the JSON text of a CloudEvent; left out of lists.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub body: Option<String>,
}

/// What became of a message.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum DeliveryState {
    /// To be tried, for the first time or again.
    Waiting,
    /// The webhook has it.
    Delivered,
    /// Given up; it can be replayed.
    Dead,
}

/// Which deliveries to list.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum DeliveriesShown {
    /// All that are kept.
    #[default]
    All,
    /// Those that wait.
    Waiting,
    /// Those that arrived.
    Delivered,
    /// Those that were given up.
    Dead,
}

/// How many messages wait once more.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = ReplayDeliveriesResponse))]
pub struct Replayed {
    /// How many.
    pub replayed: u32,
}

/// What became of an attempt.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Attempted {
    /// The webhook took the message.
    Taken,
    /// It did not; another attempt follows after this.
    AgainIn(Duration),
    /// It did not, and that was the last attempt.
    GivenUp,
    /// It said that it is gone: nothing more is sent to it.
    Gone,
}

impl From<DeliveriesShown> for Option<Kept> {
    fn from(shown: DeliveriesShown) -> Self {
        match shown {
            DeliveriesShown::All => None,
            DeliveriesShown::Waiting => Some(Kept::Waiting),
            DeliveriesShown::Delivered => Some(Kept::Delivered),
            DeliveriesShown::Dead => Some(Kept::Dead),
        }
    }
}

impl From<baycast_records::Delivery> for Delivery {
    fn from(own: baycast_records::Delivery) -> Self {
        let baycast_records::Delivery {
            webhook: _,
            id,
            batch,
            kind,
            body,
            state,
            attempts,
            next_at,
            outcome: last_outcome,
            created_at,
            delivered_at,
        } = own;
        let state = match state {
            Kept::Waiting => DeliveryState::Waiting,
            Kept::Delivered => DeliveryState::Delivered,
            Kept::Dead => DeliveryState::Dead,
        };
        let next_at = (state == DeliveryState::Waiting).then_some(next_at);
        let id = id.to_string();
        Self { id, kind, batch, state, attempts, next_at, last_outcome, created_at, delivered_at, body }
    }
}

impl Service {
    /// A webhook's deliveries, the newest first.
    pub async fn list_deliveries(
        &self,
        caller: &Caller,
        farm: &str,
        webhook: &str,
        shown: DeliveriesShown,
        page_size: Option<i64>,
        page_token: &str,
    ) -> Result<Page<Delivery>, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Admin)?;
        let request = paging::request(page_size, page_token)?;
        let found = store.records.deliveries(farm, webhook, shown.into(), &request).await;
        found.map(paging::page).map_err(refusal::of)
    }

    /// One delivery with what is sent.
    pub async fn get_delivery(
        &self,
        caller: &Caller,
        farm: &str,
        webhook: &str,
        delivery: &str,
    ) -> Result<Delivery, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Admin)?;
        let found = store.records.delivery(farm, webhook, id(delivery)?).await;
        found.map(Delivery::from).map_err(refusal::of)
    }

    /// Has a delivery sent again, at once and under the same id: one that was given up, or was delivered and lost. One that
    /// waits already is brought forward.
    pub async fn replay_delivery(
        &self,
        caller: &Caller,
        farm: &str,
        webhook: &str,
        delivery: &str,
    ) -> Result<Delivery, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Admin)?;
        let replayed = store.records.replay_delivery(farm, webhook, id(delivery)?, store.now()).await;
        replayed.map(Delivery::from).map_err(refusal::of)
    }

    /// Has all of a webhook's deliveries that were given up sent again.
    pub async fn replay_deliveries(
        &self,
        caller: &Caller,
        farm: &str,
        webhook: &str,
    ) -> Result<Replayed, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Admin)?;
        let replayed = store.records.replay_deliveries(farm, webhook, store.now()).await;
        let replayed = u32::try_from(replayed.map_err(refusal::of)?).unwrap_or(u32::MAX);
        Ok(Replayed { replayed })
    }

    /// How long until the next delivery is due that nobody has under way; nothing where none waits. No attempt follows another
    /// later than after `longest`: what would was put off before a clock was set back, and is due.
    pub async fn next_delivery_in(&self, longest: Duration) -> Result<Option<Duration>, Error> {
        let store = self.store()?;
        let now = store.now();
        let due = store
            .records
            .next_delivery_at(now, after(now, DELIVERY_LEASE), after(now, longest))
            .await
            .map_err(refusal::of)?;
        Ok(due.map(|due| Duration::try_from(due.duration_since(now)).unwrap_or_default()))
    }

    /// Takes at most `most` deliveries that are due, one of a webhook, for [`DELIVERY_LEASE`]; `longest` as it is for
    /// [`Service::next_delivery_in`].
    pub async fn claim_deliveries(
        &self,
        most: u32,
        longest: Duration,
    ) -> Result<Vec<ClaimedDelivery>, Error> {
        let store = self.store()?;
        let now = store.now();
        store
            .records
            .claim_deliveries(most, now, after(now, DELIVERY_LEASE), after(now, longest))
            .await
            .map_err(refusal::of)
    }

    /// Notes what became of a claimed attempt; whether it was still the one under way.
    pub async fn settle_delivery(
        &self,
        claim: &ClaimedDelivery,
        attempted: Attempted,
        outcome: &str,
    ) -> Result<bool, Error> {
        let store = self.store()?;
        let now = store.now();
        let settled = match attempted {
            Attempted::Taken => Settled::Delivered,
            Attempted::AgainIn(wait) => Settled::Again(now.saturating_add(wait).unwrap_or(now)),
            Attempted::GivenUp => Settled::Dead,
            Attempted::Gone => Settled::Gone,
        };
        store.records.settle_delivery(claim, settled, outcome, now).await.map_err(refusal::of)
    }
}

/// So long after a time.
fn after(now: Timestamp, time: Duration) -> Timestamp {
    now.saturating_add(time).unwrap_or(Timestamp::MAX)
}

/// A delivery's id. Text that is none names nothing.
fn id(text: &str) -> Result<baycast_records::EventId, Error> {
    text.parse().map_err(|_| Error::NotFound { what: "delivery", name: text.to_owned() })
}
