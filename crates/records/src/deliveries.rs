//! Deliveries: messages to webhooks that wait, were delivered, or were given up.
//!
//! A message is put in by the transaction that makes it true, and taken by whoever delivers it under a lease: one that a
//! killed process held is there for others once its lease is over. A webhook has one delivery under way at a time. What
//! became of an attempt is noted by its number, so that whoever held on too long changes nothing.

use std::collections::HashMap;
use std::fmt;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::error::{Error, Result, Thing};
use crate::event_id::EventId;
use crate::instant::{no_later_than, to_microsecond};
use crate::page::{Page, PageRequest};
use crate::records::Records;
use crate::store::{Session, Table};
use crate::value::{Kind, Row, values};
use crate::webhooks::load;

/// What became of a delivery so far.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum DeliveryState {
    /// To be tried, for the first time or again.
    Waiting,
    /// The webhook has it.
    Delivered,
    /// Given up; it can be replayed.
    Dead,
}

impl DeliveryState {
    /// The state in a word.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Waiting => "waiting",
            Self::Delivered => "delivered",
            Self::Dead => "dead",
        }
    }

    fn parse(text: &str) -> Result<Self> {
        match text {
            "waiting" => Ok(Self::Waiting),
            "delivered" => Ok(Self::Delivered),
            "dead" => Ok(Self::Dead),
            other => Err(Error::corrupt(format!("state `{other}`"))),
        }
    }
}

/// A message to put in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewDelivery {
    /// The webhook.
    pub webhook: String,
    /// Its id, which stands in the body: the same through all attempts.
    pub id: EventId,
    /// The batch that it is about, if any.
    pub batch: Option<String>,
    /// The kind of news.
    pub kind: String,
    /// What is sent, byte for byte.
    pub body: String,
}

/// A message as it is kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Delivery {
    /// The webhook.
    pub webhook: String,
    /// Its id.
    pub id: EventId,
    /// The batch that it is about, if any.
    pub batch: Option<String>,
    /// The kind of news.
    pub kind: String,
    /// What is sent; left out of lists.
    pub body: Option<String>,
    /// What became of it so far.
    pub state: DeliveryState,
    /// Attempts begun since it was put in, or replayed.
    pub attempts: u32,
    /// When it is due, if it waits.
    pub next_at: Timestamp,
    /// What came of the last attempt.
    pub outcome: Option<String>,
    /// When it was put in.
    pub created_at: Timestamp,
    /// When the webhook took it.
    pub delivered_at: Option<Timestamp>,
}

/// A message to be delivered now, by whoever claimed it.
#[derive(Clone)]
pub struct ClaimedDelivery {
    /// The farm.
    pub farm: String,
    /// The webhook.
    pub webhook: String,
    /// Where it is.
    pub url: String,
    /// The secrets that sign: the newest, then the one before while it still does.
    pub secrets: Vec<String>,
    /// The message's id.
    pub id: EventId,
    /// What is sent.
    pub body: String,
    /// The number of this attempt, from 1.
    pub attempt: u32,
}

impl fmt::Debug for ClaimedDelivery {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { farm, webhook, id, attempt, .. } = self;
        let mut shown = f.debug_struct("ClaimedDelivery");
        shown.field("farm", farm).field("webhook", webhook).field("id", id).field("attempt", attempt);
        shown.finish_non_exhaustive()
    }
}

/// What became of an attempt.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Settled {
    /// The webhook took it.
    Delivered,
    /// It is to be tried again, then.
    Again(Timestamp),
    /// It is given up.
    Dead,
    /// It is given up, and the webhook disabled: it said that it is gone.
    Gone,
}

/// Reads `webhook_id, id, batch_id, kind, body, state, attempts, next_at, outcome, created_at, delivered_at`.
fn delivery(mut row: Row) -> Result<Delivery> {
    Ok(Delivery {
        webhook: row.text()?,
        id: row.text()?.parse()?,
        batch: row.text_or_none()?,
        kind: row.text()?,
        body: row.text_or_none()?,
        state: DeliveryState::parse(&row.text()?)?,
        attempts: u32::try_from(row.int()?).map_err(Error::corrupt)?,
        next_at: row.instant()?,
        outcome: row.text_or_none()?,
        created_at: row.instant()?,
        delivered_at: row.instant_or_none()?,
    })
}

/// Puts messages in, due at once. One for a webhook that is there no more is dropped.
pub(crate) async fn insert(
    session: &mut dyn Session,
    farm: &str,
    deliveries: &[NewDelivery],
    now: Timestamp,
) -> Result<usize> {
    if deliveries.is_empty() {
        return Ok(0);
    }
    let now = to_microsecond(now);
    let rows = deliveries
        .iter()
        .map(|own| {
            let id = own.id.to_string();
            values![farm, &own.webhook, id, own.batch.as_ref(), &own.kind, &own.body, now]
        })
        .collect();
    let columns = &[
        ("farm_id", Kind::Text),
        ("webhook_id", Kind::Text),
        ("id", Kind::Text),
        ("batch_id", Kind::Text),
        ("kind", Kind::Text),
        ("body", Kind::Text),
        ("now", Kind::Text),
    ];
    let added = session
        .run_rows(
            "INSERT INTO deliveries (farm_id, webhook_id, id, batch_id, kind, body, state, attempts, next_at, \
             created_at) SELECT b.farm_id, b.id, k.id, k.batch_id, k.kind, k.body, 'waiting', 0, k.now, k.now \
             FROM {rows} JOIN webhooks b ON b.farm_id = k.farm_id AND b.id = k.webhook_id WHERE true {lock} \
             RETURNING id",
            Table::new(columns, rows),
        )
        .await?;
    Ok(added.len())
}

impl Records {
    /// Puts one message in, for a webhook that is there.
    pub async fn queue_delivery(&self, farm: &str, new: NewDelivery, now: Timestamp) -> Result<Delivery> {
        let mut session = self.write().await?;
        if insert(session.as_mut(), farm, std::slice::from_ref(&new), now).await? == 0 {
            return Err(Error::missing(Thing::Webhook, &new.webhook));
        }
        session.commit().await?;
        self.delivery(farm, &new.webhook, new.id).await
    }

    /// One delivery with what is sent.
    pub async fn delivery(&self, farm: &str, webhook: &str, id: EventId) -> Result<Delivery> {
        let mut session = self.read().await?;
        let rows = session
            .run(
                "SELECT webhook_id, id, batch_id, kind, body, state, attempts, next_at, outcome, created_at, \
                 delivered_at FROM deliveries WHERE farm_id = $1 AND webhook_id = $2 AND id = $3",
                values![farm, webhook, id.to_string()],
            )
            .await?;
        let found = rows.into_iter().next().map(delivery).transpose()?;
        found.ok_or_else(|| Error::missing(Thing::Delivery, id.to_string()))
    }

    /// A webhook's deliveries, in one state or in any, the newest first.
    pub async fn deliveries(
        &self,
        farm: &str,
        webhook: &str,
        state: Option<DeliveryState>,
        request: &PageRequest,
    ) -> Result<Page<Delivery>> {
        let word = state.map(|state| state.as_str().to_owned());
        let list = format!("deliveries/{farm}/{webhook}/{}", word.as_deref().unwrap_or_default());
        // Greater than any id.
        let before: String = request.after(&list, "g".to_owned())?;
        let mut session = self.read().await?;
        let rows = session
            .run(
                "SELECT webhook_id, id, batch_id, kind, NULL, state, attempts, next_at, outcome, created_at, \
                 delivered_at FROM deliveries WHERE farm_id = $1 AND webhook_id = $2 AND id < $3 \
                 AND state = COALESCE($4, state) ORDER BY id DESC LIMIT $5",
                values![farm, webhook, before, word, request.limit()],
            )
            .await?;
        if rows.is_empty() {
            load(session.as_mut(), farm, webhook).await?;
        }
        let deliveries = rows.into_iter().map(delivery).collect::<Result<_>>()?;
        request.page(&list, deliveries, |own: &Delivery| own.id.to_string())
    }

    /// When the next delivery is due, where a webhook that is not disabled and has none under way waits for one that would be
    /// held until `leased_until`. One that was never tried, or would wait beyond `latest`, is due at once: it was put in, or
    /// tried, before a clock was set back.
    pub async fn next_delivery_at(
        &self,
        now: Timestamp,
        leased_until: Timestamp,
        latest: Timestamp,
    ) -> Result<Option<Timestamp>> {
        let (now, leased_until) = (to_microsecond(now), to_microsecond(leased_until));
        let rows = self
            .read()
            .await?
            .run(
                "SELECT CASE WHEN d.next_at > $1 AND (d.attempts = 0 OR d.leased_until > $2 OR d.next_at > $3) THEN $1 ELSE d.next_at END AS due \
                 FROM deliveries d JOIN webhooks b ON b.farm_id = d.farm_id AND b.id = d.webhook_id \
                 WHERE d.state = 'waiting' AND b.disabled_at IS NULL AND NOT EXISTS (SELECT 1 FROM deliveries o \
                 WHERE o.farm_id = d.farm_id AND o.webhook_id = d.webhook_id AND o.leased_until > $1 \
                 AND o.leased_until <= $2) ORDER BY due LIMIT 1",
                values![now, no_later_than(now, leased_until), to_microsecond(latest)],
            )
            .await?;
        rows.into_iter().next().map(|mut row| row.instant()).transpose()
    }

    /// Takes at most `most` deliveries that are due, one of a webhook, and holds them until `leased_until`; the longest due
    /// first. Those of a webhook that has one under way, here or elsewhere, wait. A lease that reaches further than twice as long
    /// was taken before a clock was set back, and is over; `latest` is that of [`Records::next_delivery_at`].
    pub async fn claim_deliveries(
        &self,
        most: u32,
        now: Timestamp,
        leased_until: Timestamp,
        latest: Timestamp,
    ) -> Result<Vec<ClaimedDelivery>> {
        let (now, leased_until) = (to_microsecond(now), to_microsecond(leased_until));
        let latest = to_microsecond(latest);
        let ahead = no_later_than(now, leased_until);
        let mut session = self.write().await?;
        // The webhooks' rows are locked first: who comes second, and only then looks at deliveries, sees the leases.
        let rows = session
            .run(
                "SELECT b.farm_id, b.id, b.url, b.secret, b.previous_secret, b.previous_until \
                 FROM (SELECT w.farm_id, w.webhook_id, MIN(w.next_at) AS due FROM deliveries w \
                 WHERE w.state = 'waiting' AND (w.next_at <= $1 OR w.attempts = 0 OR w.leased_until > $3 \
                 OR w.next_at > $4) \
                 GROUP BY w.farm_id, w.webhook_id) d \
                 JOIN webhooks b ON b.farm_id = d.farm_id AND b.id = d.webhook_id \
                 WHERE b.disabled_at IS NULL AND NOT EXISTS (SELECT 1 FROM deliveries o \
                 WHERE o.farm_id = b.farm_id AND o.webhook_id = b.id AND o.leased_until > $1 \
                 AND o.leased_until <= $3) ORDER BY d.due, b.id LIMIT $2 {skip_locked}",
                values![now, i64::from(most), ahead, latest],
            )
            .await?;
        let mut webhooks = HashMap::new();
        for mut row in rows {
            let (key, url) = ((row.text()?, row.text()?), row.text()?);
            let mut secrets = vec![row.text()?];
            let (previous, until) = (row.text_or_none()?, row.instant_or_none()?);
            secrets.extend(previous.filter(|_| until.is_some_and(|until| until > now)));
            webhooks.insert(key, (url, secrets));
        }
        if webhooks.is_empty() {
            return Ok(Vec::new());
        }
        let rows =
            webhooks.keys().map(|(farm, id)| values![farm, id, now, leased_until, ahead, latest]).collect();
        let columns = &[
            ("farm_id", Kind::Text),
            ("webhook_id", Kind::Text),
            ("now", Kind::Text),
            ("until", Kind::Text),
            ("ahead", Kind::Text),
            ("latest", Kind::Text),
        ];
        let rows = session
            .run_rows(
                "UPDATE deliveries SET attempts = attempts + 1, leased_until = c.until FROM ( \
                 SELECT k.farm_id, k.webhook_id, k.until, (SELECT d.id FROM deliveries d \
                 WHERE d.farm_id = k.farm_id AND d.webhook_id = k.webhook_id AND d.state = 'waiting' \
                 AND (d.next_at <= k.now OR d.attempts = 0 OR d.leased_until > k.ahead OR d.next_at > k.latest) \
                 ORDER BY d.next_at, d.id LIMIT 1) AS id FROM {rows} \
                 WHERE NOT EXISTS (SELECT 1 FROM deliveries o WHERE o.farm_id = k.farm_id \
                 AND o.webhook_id = k.webhook_id AND o.leased_until > k.now AND o.leased_until <= k.ahead)) AS c \
                 WHERE deliveries.farm_id = c.farm_id AND deliveries.webhook_id = c.webhook_id \
                 AND deliveries.id = c.id \
                 RETURNING deliveries.farm_id, deliveries.webhook_id, deliveries.id, body, attempts",
                Table::new(columns, rows),
            )
            .await?;
        let mut claims = Vec::new();
        for mut row in rows {
            let key = (row.text()?, row.text()?);
            let Some((url, secrets)) = webhooks.remove(&key) else { continue };
            let (farm, webhook) = key;
            let (id, body) = (row.text()?.parse()?, row.text()?);
            let attempt = u32::try_from(row.int()?).map_err(Error::corrupt)?;
            claims.push(ClaimedDelivery { farm, webhook, url, secrets, id, body, attempt });
        }
        session.commit().await?;
        Ok(claims)
    }

    /// Notes what became of a claimed attempt; whether it was still the one under way.
    pub async fn settle_delivery(
        &self,
        claim: &ClaimedDelivery,
        settled: Settled,
        outcome: &str,
        now: Timestamp,
    ) -> Result<bool> {
        let now = to_microsecond(now);
        let (state, next_at, delivered_at) = match settled {
            Settled::Delivered => (DeliveryState::Delivered, now, Some(now)),
            Settled::Again(next_at) => (DeliveryState::Waiting, to_microsecond(next_at), None),
            Settled::Dead | Settled::Gone => (DeliveryState::Dead, now, None),
        };
        let mut session = self.write().await?;
        let found = session
            .run(
                "UPDATE deliveries SET state = $5, next_at = $6, delivered_at = $7, outcome = $8, \
                 leased_until = NULL WHERE farm_id = $1 AND webhook_id = $2 AND id = $3 AND attempts = $4 \
                 AND state = 'waiting' RETURNING id",
                values![
                    &claim.farm,
                    &claim.webhook,
                    claim.id.to_string(),
                    i64::from(claim.attempt),
                    state.as_str(),
                    next_at,
                    delivered_at,
                    outcome
                ],
            )
            .await?;
        if settled == Settled::Gone && !found.is_empty() {
            session
                .run(
                    "UPDATE webhooks SET disabled_at = $3, disabled_because = $4, version = version + 1 \
                     WHERE farm_id = $1 AND id = $2 AND disabled_at IS NULL",
                    values![&claim.farm, &claim.webhook, now, outcome],
                )
                .await?;
        }
        session.commit().await?;
        Ok(!found.is_empty())
    }

    /// Has a delivery wait once more, due at once: one that was given up, or was delivered and lost. One that waits already is
    /// only brought forward.
    pub async fn replay_delivery(
        &self,
        farm: &str,
        webhook: &str,
        id: EventId,
        now: Timestamp,
    ) -> Result<Delivery> {
        let mut session = self.write().await?;
        session
            .run(
                "UPDATE deliveries SET attempts = CASE WHEN state = 'waiting' THEN attempts ELSE 0 END, \
                 state = 'waiting', next_at = $4, delivered_at = NULL \
                 WHERE farm_id = $1 AND webhook_id = $2 AND id = $3",
                values![farm, webhook, id.to_string(), to_microsecond(now)],
            )
            .await?;
        session.commit().await?;
        self.delivery(farm, webhook, id).await
    }

    /// Has all of a webhook's deliveries that were given up wait once more; how many there were.
    pub async fn replay_deliveries(&self, farm: &str, webhook: &str, now: Timestamp) -> Result<usize> {
        let mut session = self.write().await?;
        load(session.as_mut(), farm, webhook).await?;
        let replayed = session
            .run(
                "UPDATE deliveries SET state = 'waiting', attempts = 0, next_at = $3 \
                 WHERE farm_id = $1 AND webhook_id = $2 AND state = 'dead' RETURNING id",
                values![farm, webhook, to_microsecond(now)],
            )
            .await?
            .len();
        session.commit().await?;
        Ok(replayed)
    }

    /// Forgets deliveries put in before `delivered` that were delivered, and all put in before `others`; how many.
    pub async fn forget_deliveries(&self, delivered: Timestamp, others: Timestamp) -> Result<usize> {
        let mut session = self.write().await?;
        let gone = session
            .run(
                "DELETE FROM deliveries WHERE created_at < $1 AND (state = 'delivered' OR created_at < $2) \
                 RETURNING id",
                values![to_microsecond(delivered), to_microsecond(others)],
            )
            .await?
            .len();
        session.commit().await?;
        Ok(gone)
    }
}
