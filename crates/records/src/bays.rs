//! Bays of a farm.

use baycast_model::bay::Bay;
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

/// A bay as it is kept.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BayRecord {
    /// The farm it belongs to.
    pub farm: String,
    /// The bay; its id is the record's.
    pub bay: Bay,
    /// Its place in the farm's order of bays.
    pub position: i64,
    /// Grows with every change.
    pub version: i64,
    /// When it was put away.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub archived: Option<Timestamp>,
}

/// Reads `farm_id, position, bay, version, archived_at`.
pub(crate) fn bay(mut row: Row) -> Result<BayRecord> {
    Ok(BayRecord {
        farm: row.text()?,
        position: row.int()?,
        bay: row.json()?,
        version: row.int()?,
        archived: row.instant_or_none()?,
    })
}

/// Puts bays in as they are; how many were new.
pub(crate) async fn insert(session: &mut dyn Session, bays: &[BayRecord]) -> Result<usize> {
    let mut rows = Vec::new();
    for own in bays {
        check("id", &own.bay.id)?;
        rows.push(values![
            &own.farm,
            &own.bay.id,
            own.position,
            to_json(&own.bay)?,
            own.version,
            own.archived
        ]);
    }
    let columns = &[
        ("farm_id", Kind::Text),
        ("id", Kind::Text),
        ("position", Kind::Int),
        ("bay", Kind::Text),
        ("version", Kind::Int),
        ("archived_at", Kind::Text),
    ];
    let added = session
        .run_rows(
            "INSERT INTO bays (farm_id, id, position, bay, version, archived_at) \
             SELECT k.farm_id, k.id, k.position, k.bay, k.version, k.archived_at FROM {rows} WHERE true \
             ON CONFLICT DO NOTHING RETURNING version",
            Table::new(columns, rows),
        )
        .await?;
    Ok(added.len())
}

impl Records {
    /// Adds a bay at a place in the farm's order.
    pub async fn create_bay(&self, farm: &str, bay: &Bay, position: i64) -> Result<BayRecord> {
        let record = BayRecord { farm: farm.into(), bay: bay.clone(), position, version: 1, archived: None };
        let mut session = self.write().await?;
        touch(session.as_mut(), farm).await?;
        if insert(session.as_mut(), std::slice::from_ref(&record)).await? == 0 {
            return Err(Error::clash(Clash::Exists { what: Thing::Bay, name: bay.id.clone() }));
        }
        session.commit().await?;
        Ok(record)
    }

    /// One bay.
    pub async fn bay(&self, farm: &str, id: &str) -> Result<BayRecord> {
        let rows = self
            .read()
            .await?
            .run(
                "SELECT farm_id, position, bay, version, archived_at FROM bays WHERE farm_id = $1 AND id = $2",
                values![farm, id],
            )
            .await?;
        rows.into_iter().next().map(bay).transpose()?.ok_or_else(|| Error::missing(Thing::Bay, id))
    }

    /// The farm's bays in its own order.
    pub async fn bays(&self, farm: &str, request: &PageRequest) -> Result<Page<BayRecord>> {
        let list = format!("bays/{farm}");
        let (position, id): (i64, String) = request.after(&list, (i64::MIN, String::new()))?;
        let mut session = self.read().await?;
        let rows = session
            .run(
                "SELECT farm_id, position, bay, version, archived_at FROM bays \
                 WHERE farm_id = $1 AND (position, id) > ($2, $3) ORDER BY position, id LIMIT $4",
                values![farm, position, id, request.limit()],
            )
            .await?;
        if rows.is_empty() {
            farms::load(session.as_mut(), farm).await?;
        }
        let bays = rows.into_iter().map(bay).collect::<Result<_>>()?;
        request.page(&list, bays, |own: &BayRecord| (own.position, own.bay.id.clone()))
    }

    /// Replaces a bay and its place, if it still has version `expected`.
    pub async fn update_bay(&self, farm: &str, expected: i64, own: &Bay, position: i64) -> Result<BayRecord> {
        let mut session = self.write().await?;
        touch(session.as_mut(), farm).await?;
        let rows = session
            .run(
                "UPDATE bays SET position = $4, bay = $5, version = version + 1 \
                 WHERE farm_id = $1 AND id = $2 AND version = $3 \
                 RETURNING farm_id, position, bay, version, archived_at",
                values![farm, &own.id, expected, position, to_json(own)?],
            )
            .await?;
        finish_update(session, farm, &own.id, expected, rows).await
    }

    /// Puts a bay away at a time, or brings it back (`None`), if it still has version `expected`.
    pub async fn archive_bay(
        &self,
        farm: &str,
        id: &str,
        expected: i64,
        at: Option<Timestamp>,
    ) -> Result<BayRecord> {
        let mut session = self.write().await?;
        touch(session.as_mut(), farm).await?;
        let rows = session
            .run(
                "UPDATE bays SET archived_at = $4, version = version + 1 \
                 WHERE farm_id = $1 AND id = $2 AND version = $3 \
                 RETURNING farm_id, position, bay, version, archived_at",
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
) -> Result<BayRecord> {
    let current = ("SELECT version FROM bays WHERE farm_id = $1 AND id = $2", values![farm, id]);
    let missing = Error::missing(Thing::Bay, id);
    let row = changed(session.as_mut(), rows, expected, current, missing).await?;
    let record = bay(row)?;
    session.commit().await?;
    Ok(record)
}
