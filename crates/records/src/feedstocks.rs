//! A farm's own feedstocks, and its own values for those of the default table.

use baycast_model::feedstock::Feedstock;
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::error::{Clash, Error, Result, Thing};
use crate::farms::{self, touch};
use crate::instant::to_microsecond;
use crate::names::check;
use crate::page::{Page, PageRequest};
use crate::records::Records;
use crate::store::{Session, Table};
use crate::value::{Kind, Row, to_json, values};
use crate::version::changed;

/// A feedstock as it is kept.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FeedstockRecord {
    /// The farm it belongs to.
    pub farm: String,
    /// The feedstock; its id is the record's.
    pub feedstock: Feedstock,
    /// Grows with every change.
    pub version: i64,
    /// When it was put away.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub archived: Option<Timestamp>,
}

/// Reads `farm_id, feedstock, version, archived_at`.
pub(crate) fn feedstock(mut row: Row) -> Result<FeedstockRecord> {
    Ok(FeedstockRecord {
        farm: row.text()?,
        feedstock: row.json()?,
        version: row.int()?,
        archived: row.instant_or_none()?,
    })
}

/// Puts feedstocks in as they are; how many were new.
pub(crate) async fn insert(session: &mut dyn Session, feedstocks: &[FeedstockRecord]) -> Result<usize> {
    let mut rows = Vec::new();
    for own in feedstocks {
        check("id", &own.feedstock.id)?;
        rows.push(values![&own.farm, &own.feedstock.id, to_json(&own.feedstock)?, own.version, own.archived]);
    }
    let columns = &[
        ("farm_id", Kind::Text),
        ("id", Kind::Text),
        ("feedstock", Kind::Text),
        ("version", Kind::Int),
        ("archived_at", Kind::Text),
    ];
    let added = session
        .run_rows(
            "INSERT INTO feedstocks (farm_id, id, feedstock, version, archived_at) \
             SELECT k.farm_id, k.id, k.feedstock, k.version, k.archived_at FROM {rows} WHERE true \
             ON CONFLICT DO NOTHING RETURNING version",
            Table::new(columns, rows),
        )
        .await?;
    Ok(added.len())
}

impl Records {
    /// Adds a feedstock.
    pub async fn create_feedstock(&self, farm: &str, own: &Feedstock) -> Result<FeedstockRecord> {
        let record =
            FeedstockRecord { farm: farm.into(), feedstock: own.clone(), version: 1, archived: None };
        let mut session = self.write().await?;
        touch(session.as_mut(), farm).await?;
        if insert(session.as_mut(), std::slice::from_ref(&record)).await? == 0 {
            return Err(Error::clash(Clash::Exists { what: Thing::Feedstock, name: own.id.clone() }));
        }
        session.commit().await?;
        Ok(record)
    }

    /// One feedstock.
    pub async fn feedstock(&self, farm: &str, id: &str) -> Result<FeedstockRecord> {
        let rows = self
            .read()
            .await?
            .run(
                "SELECT farm_id, feedstock, version, archived_at FROM feedstocks WHERE farm_id = $1 AND id = $2",
                values![farm, id],
            )
            .await?;
        rows.into_iter()
            .next()
            .map(feedstock)
            .transpose()?
            .ok_or_else(|| Error::missing(Thing::Feedstock, id))
    }

    /// The farm's feedstocks by id.
    pub async fn feedstocks(&self, farm: &str, request: &PageRequest) -> Result<Page<FeedstockRecord>> {
        let list = format!("feedstocks/{farm}");
        let id: String = request.after(&list, String::new())?;
        let mut session = self.read().await?;
        let rows = session
            .run(
                "SELECT farm_id, feedstock, version, archived_at FROM feedstocks \
                 WHERE farm_id = $1 AND id > $2 ORDER BY id LIMIT $3",
                values![farm, id, request.limit()],
            )
            .await?;
        if rows.is_empty() {
            farms::load(session.as_mut(), farm).await?;
        }
        let feedstocks = rows.into_iter().map(feedstock).collect::<Result<_>>()?;
        request.page(&list, feedstocks, |own: &FeedstockRecord| own.feedstock.id.clone())
    }

    /// Replaces a feedstock, if it still has version `expected`.
    pub async fn update_feedstock(
        &self,
        farm: &str,
        expected: i64,
        own: &Feedstock,
    ) -> Result<FeedstockRecord> {
        let mut session = self.write().await?;
        touch(session.as_mut(), farm).await?;
        let rows = session
            .run(
                "UPDATE feedstocks SET feedstock = $4, version = version + 1 \
                 WHERE farm_id = $1 AND id = $2 AND version = $3 \
                 RETURNING farm_id, feedstock, version, archived_at",
                values![farm, &own.id, expected, to_json(own)?],
            )
            .await?;
        finish_update(session, farm, &own.id, expected, rows).await
    }

    /// Puts a feedstock away at a time, or brings it back (`None`), if it still has version `expected`.
    pub async fn archive_feedstock(
        &self,
        farm: &str,
        id: &str,
        expected: i64,
        at: Option<Timestamp>,
    ) -> Result<FeedstockRecord> {
        let mut session = self.write().await?;
        touch(session.as_mut(), farm).await?;
        let rows = session
            .run(
                "UPDATE feedstocks SET archived_at = $4, version = version + 1 \
                 WHERE farm_id = $1 AND id = $2 AND version = $3 \
                 RETURNING farm_id, feedstock, version, archived_at",
                values![farm, id, expected, at.map(to_microsecond)],
            )
            .await?;
        finish_update(session, farm, id, expected, rows).await
    }
}

async fn finish_update(
    mut session: Box<dyn Session>,
    farm: &str,
    id: &str,
    expected: i64,
    rows: Vec<Row>,
) -> Result<FeedstockRecord> {
    let current = ("SELECT version FROM feedstocks WHERE farm_id = $1 AND id = $2", values![farm, id]);
    let missing = Error::missing(Thing::Feedstock, id);
    let row = changed(session.as_mut(), rows, expected, current, missing).await?;
    let record = feedstock(row)?;
    session.commit().await?;
    Ok(record)
}
