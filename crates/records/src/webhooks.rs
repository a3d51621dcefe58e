//! Webhooks: addresses that a farm's news is sent to, and the secrets that it is signed with.
//!
//! A secret signs, so it has to be kept as it is, where an API key is kept as its hash. It is shown once, when it is made.

use std::fmt;

use jiff::Timestamp;

use crate::error::{Clash, Error, Result, Thing};
use crate::farms;
use crate::instant::to_microsecond;
use crate::page::{Page, PageRequest};
use crate::records::Records;
use crate::secret::{base64, random};
use crate::stamp::Stamp;
use crate::store::Session;
use crate::value::{Row, to_json, values};
use crate::version::changed;

/// What the text of every secret begins with, as Standard Webhooks has it.
const PREFIX: &str = "whsec_";

/// Most webhooks of a farm: each of them is told of each change.
pub const MOST_WEBHOOKS: usize = 20;

/// What a caller says of a webhook.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WebhookDraft {
    /// Where it is.
    pub url: String,
    /// The kinds of news that it is told; all where there is none.
    pub kinds: Vec<String>,
    /// Days that a window must have moved by to be told of.
    pub moved_days: u32,
    /// Days before its best-by day that a window is told of.
    pub best_by_days: u32,
}

/// A webhook as it is kept: not its secret.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Webhook {
    /// The farm it belongs to.
    pub farm: String,
    /// Its id.
    pub id: String,
    /// What was said of it.
    pub draft: WebhookDraft,
    /// Grows with every change.
    pub version: i64,
    /// When it was created.
    pub created_at: Timestamp,
    /// The id of the API key it was created with.
    pub created_by: String,
    /// Since when nothing is sent to it.
    pub disabled_at: Option<Timestamp>,
    /// Why, where it was not a caller who disabled it.
    pub disabled_because: Option<String>,
}

/// A webhook with the secret that was just made for it.
#[derive(Clone)]
pub struct IssuedWebhook {
    /// The webhook.
    pub webhook: Webhook,
    /// What signs from now on: `whsec_` and 32 random bytes in Base64.
    pub secret: String,
}

impl fmt::Debug for IssuedWebhook {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("IssuedWebhook").field("webhook", &self.webhook).finish_non_exhaustive()
    }
}

/// Reads `farm_id, id, url, kinds, moved_days, best_by_days, version, created_at, created_by, disabled_at,
/// disabled_because`.
pub(crate) fn webhook(row: &mut Row) -> Result<Webhook> {
    Ok(Webhook {
        farm: row.text()?,
        id: row.text()?,
        draft: WebhookDraft {
            url: row.text()?,
            kinds: row.json()?,
            moved_days: days(row)?,
            best_by_days: days(row)?,
        },
        version: row.int()?,
        created_at: row.instant()?,
        created_by: row.text()?,
        disabled_at: row.instant_or_none()?,
        disabled_because: row.text_or_none()?,
    })
}

fn days(row: &mut Row) -> Result<u32> {
    row.days_or_none()?.ok_or_else(|| Error::corrupt("nothing where days belong"))
}

fn new_secret() -> Result<String> {
    Ok(format!("{PREFIX}{}", base64(&random::<32>()?)))
}

impl Records {
    /// Adds a webhook to a farm, with a secret that is in the answer and shown never again.
    pub async fn create_webhook(
        &self,
        farm: &str,
        draft: &WebhookDraft,
        stamp: &Stamp,
    ) -> Result<IssuedWebhook> {
        let (id, secret) = (format!("wh_{}", hex::encode(random::<8>()?)), new_secret()?);
        let mut session = self.write().await?;
        farms::load(session.as_mut(), farm).await?;
        // The farm's row keeps others from counting the same ones.
        let sql = "SELECT b.id FROM farms b WHERE b.id = $1 {lock}";
        session.run(sql, values![farm]).await?;
        let there = session.run("SELECT id FROM webhooks WHERE farm_id = $1", values![farm]).await?.len();
        if there >= MOST_WEBHOOKS {
            return Err(Error::clash(Clash::TooMany { what: Thing::Webhook, most: MOST_WEBHOOKS }));
        }
        session
            .run(
                "INSERT INTO webhooks (farm_id, id, url, kinds, moved_days, best_by_days, secret, version, \
                 created_at, created_by) VALUES ($1, $2, $3, $4, $5, $6, $7, 1, $8, $9)",
                values![
                    farm,
                    &id,
                    &draft.url,
                    to_json(&draft.kinds)?,
                    i64::from(draft.moved_days),
                    i64::from(draft.best_by_days),
                    &secret,
                    stamp.at,
                    &stamp.by
                ],
            )
            .await?;
        session.commit().await?;
        let webhook = Webhook {
            farm: farm.into(),
            id,
            draft: draft.clone(),
            version: 1,
            created_at: stamp.at,
            created_by: stamp.by.clone(),
            disabled_at: None,
            disabled_because: None,
        };
        Ok(IssuedWebhook { webhook, secret })
    }

    /// One webhook.
    pub async fn webhook(&self, farm: &str, id: &str) -> Result<Webhook> {
        load(self.read().await?.as_mut(), farm, id).await
    }

    /// The farm's webhooks by id.
    pub async fn webhooks(&self, farm: &str, request: &PageRequest) -> Result<Page<Webhook>> {
        let list = format!("webhooks/{farm}");
        let after: String = request.after(&list, String::new())?;
        let mut session = self.read().await?;
        let mut rows = session
            .run(
                "SELECT farm_id, id, url, kinds, moved_days, best_by_days, version, created_at, created_by, \
                 disabled_at, disabled_because FROM webhooks WHERE farm_id = $1 AND id > $2 ORDER BY id LIMIT $3",
                values![farm, after, request.limit()],
            )
            .await?;
        if rows.is_empty() {
            farms::load(session.as_mut(), farm).await?;
        }
        let webhooks = rows.iter_mut().map(webhook).collect::<Result<_>>()?;
        request.page(&list, webhooks, |own: &Webhook| own.id.clone())
    }

    /// Replaces what was said of a webhook and disables it at a time or enables it (`None`), if it still has version
    /// `expected`. One that is disabled already stays so since then.
    pub async fn update_webhook(
        &self,
        farm: &str,
        id: &str,
        expected: i64,
        draft: &WebhookDraft,
        disabled_at: Option<Timestamp>,
    ) -> Result<Webhook> {
        let mut session = self.write().await?;
        let rows = session
            .run(
                "UPDATE webhooks SET url = $4, kinds = $5, moved_days = $6, best_by_days = $7, \
                 version = version + 1, \
                 disabled_because = CASE WHEN $8 IS NULL THEN NULL ELSE disabled_because END, \
                 disabled_at = CASE WHEN $8 IS NULL THEN NULL ELSE COALESCE(disabled_at, $8) END \
                 WHERE farm_id = $1 AND id = $2 AND version = $3 \
                 RETURNING farm_id, id, url, kinds, moved_days, best_by_days, version, created_at, created_by, \
                 disabled_at, disabled_because",
                values![
                    farm,
                    id,
                    expected,
                    &draft.url,
                    to_json(&draft.kinds)?,
                    i64::from(draft.moved_days),
                    i64::from(draft.best_by_days),
                    disabled_at.map(to_microsecond)
                ],
            )
            .await?;
        let current = ("SELECT version FROM webhooks WHERE farm_id = $1 AND id = $2", values![farm, id]);
        let missing = Error::missing(Thing::Webhook, id);
        let mut row = changed(session.as_mut(), rows, expected, current, missing).await?;
        let webhook = webhook(&mut row)?;
        session.commit().await?;
        Ok(webhook)
    }

    /// Makes a new secret. The one before signs beside it until `overlap_until`.
    pub async fn rotate_webhook_secret(
        &self,
        farm: &str,
        id: &str,
        overlap_until: Timestamp,
    ) -> Result<IssuedWebhook> {
        let secret = new_secret()?;
        let mut session = self.write().await?;
        let rows = session
            .run(
                "UPDATE webhooks SET previous_secret = secret, previous_until = $4, secret = $3, \
                 version = version + 1 WHERE farm_id = $1 AND id = $2 \
                 RETURNING farm_id, id, url, kinds, moved_days, best_by_days, version, created_at, created_by, \
                 disabled_at, disabled_because",
                values![farm, id, &secret, to_microsecond(overlap_until)],
            )
            .await?;
        let mut row = rows.into_iter().next().ok_or_else(|| Error::missing(Thing::Webhook, id))?;
        let webhook = webhook(&mut row)?;
        session.commit().await?;
        Ok(IssuedWebhook { webhook, secret })
    }

    /// Deletes a webhook with its deliveries and what it was told, if it still has version `expected`; as it was.
    pub async fn delete_webhook(&self, farm: &str, id: &str, expected: i64) -> Result<Webhook> {
        let mut session = self.write().await?;
        let sql = "SELECT b.id FROM webhooks b WHERE b.farm_id = $1 AND b.id = $2 {lock}";
        session.run(sql, values![farm, id]).await?;
        let webhook = load(session.as_mut(), farm, id).await?;
        if webhook.version != expected {
            return Err(Error::Stale { given: expected, current: webhook.version });
        }
        for sql in [
            "DELETE FROM deliveries WHERE farm_id = $1 AND webhook_id = $2",
            "DELETE FROM webhook_told WHERE farm_id = $1 AND webhook_id = $2",
            "DELETE FROM webhooks WHERE farm_id = $1 AND id = $2",
        ] {
            session.run(sql, values![farm, id]).await?;
        }
        session.commit().await?;
        Ok(webhook)
    }
}

/// The webhook, inside a session.
pub(crate) async fn load(session: &mut dyn Session, farm: &str, id: &str) -> Result<Webhook> {
    let mut rows = session
        .run(
            "SELECT farm_id, id, url, kinds, moved_days, best_by_days, version, created_at, created_by, \
             disabled_at, disabled_because FROM webhooks WHERE farm_id = $1 AND id = $2",
            values![farm, id],
        )
        .await?;
    rows.first_mut().map(webhook).transpose()?.ok_or_else(|| Error::missing(Thing::Webhook, id))
}
