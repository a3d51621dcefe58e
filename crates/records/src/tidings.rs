//! What webhooks are told of a batch, put in by the transaction that publishes it.

use jiff::Timestamp;

use crate::deliveries::{self, NewDelivery};
use crate::error::Result;
use crate::records::Records;
use crate::store::{Session, Table};
use crate::value::{Kind, values};
use crate::webhooks::{Webhook, webhook};

/// A webhook that is not disabled, with what it was told of a batch last.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Listener {
    /// The webhook.
    pub webhook: Webhook,
    /// What it was told, as it was given to [`Tidings::told`]; nothing where it was told nothing of the batch.
    pub told: Option<String>,
}

/// What a batch's new readiness is to webhooks.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Tidings {
    /// The messages.
    pub deliveries: Vec<NewDelivery>,
    /// By its id, what each webhook knows from now on: text that is handed back as it is.
    pub told: Vec<(String, String)>,
}

/// Puts the messages in and notes what each webhook was told. A webhook that is there no more is passed over.
pub(crate) async fn insert(
    session: &mut dyn Session,
    farm: &str,
    batch: &str,
    tidings: &Tidings,
    now: Timestamp,
) -> Result<()> {
    deliveries::insert(session, farm, &tidings.deliveries, now).await?;
    if tidings.told.is_empty() {
        return Ok(());
    }
    let rows = tidings.told.iter().map(|(webhook, told)| values![farm, webhook, batch, told]).collect();
    let columns = &[
        ("farm_id", Kind::Text),
        ("webhook_id", Kind::Text),
        ("batch_id", Kind::Text),
        ("told", Kind::Text),
    ];
    session
        .run_rows(
            "INSERT INTO webhook_told (farm_id, webhook_id, batch_id, told) \
             SELECT b.farm_id, b.id, k.batch_id, k.told FROM {rows} \
             JOIN webhooks b ON b.farm_id = k.farm_id AND b.id = k.webhook_id WHERE true {lock} \
             ON CONFLICT (farm_id, webhook_id, batch_id) DO UPDATE SET told = excluded.told",
            Table::new(columns, rows),
        )
        .await?;
    Ok(())
}

impl Records {
    /// Who is to be told of a batch: the farm's webhooks that are not disabled, by id.
    pub async fn listeners(&self, farm: &str, batch: &str) -> Result<Vec<Listener>> {
        let mut rows = self
            .read()
            .await?
            .run(
                "SELECT b.farm_id, b.id, b.url, b.kinds, b.moved_days, b.best_by_days, b.version, b.created_at, \
                 b.created_by, b.disabled_at, b.disabled_because, t.told FROM webhooks b \
                 LEFT JOIN webhook_told t ON t.farm_id = b.farm_id AND t.webhook_id = b.id AND t.batch_id = $2 \
                 WHERE b.farm_id = $1 AND b.disabled_at IS NULL ORDER BY b.id",
                values![farm, batch],
            )
            .await?;
        rows.iter_mut()
            .map(|row| Ok(Listener { webhook: webhook(row)?, told: row.text_or_none()? }))
            .collect()
    }
}
