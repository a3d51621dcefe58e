//! Farms: a place, its weather and its clock.

use baycast_model::site::Site;
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::changes::Change;
use crate::error::{Clash, Error, Result, Thing};
use crate::instant::to_microsecond;
use crate::keys::Reach;
use crate::names::{check, check_shown};
use crate::page::{Page, PageRequest};
use crate::records::Records;
use crate::store::{Session, Table};
use crate::value::{Kind, Row, to_json, values};
use crate::version::changed;

/// A farm as it is kept.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Farm {
    /// Its id, given by whoever created it.
    pub id: String,
    /// What people call it.
    pub name: String,
    /// Place and weather.
    pub site: Site,
    /// IANA name of its time zone.
    pub time_zone: String,
    /// One barrow load, m³; the model's own where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub barrow_m3: Option<f64>,
    /// Grows with every change of the farm, its bays or feedstocks: part of each of its histories' versions.
    pub surroundings: i64,
    /// Grows with every change of the farm itself.
    pub version: i64,
    /// When it was put away.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub archived: Option<Timestamp>,
}

/// What a caller says of a farm.
#[derive(Clone, Debug, PartialEq)]
pub struct FarmDraft {
    /// What people call it.
    pub name: String,
    /// Place and weather.
    pub site: Site,
    /// IANA name of its time zone.
    pub time_zone: String,
    /// One barrow load, m³.
    pub barrow_m3: Option<f64>,
}

impl Farm {
    /// What was said of it.
    #[must_use]
    pub fn draft(&self) -> FarmDraft {
        let Self { name, site, time_zone, barrow_m3, .. } = self.clone();
        FarmDraft { name, site, time_zone, barrow_m3 }
    }
}

impl FarmDraft {
    fn check(&self) -> Result<()> {
        check_shown("name", &self.name)?;
        check("time_zone", &self.time_zone)
    }
}

/// Reads `id, name, site, time_zone, barrow_m3, surroundings, version, archived_at`.
fn farm(mut row: Row) -> Result<Farm> {
    Ok(Farm {
        id: row.text()?,
        name: row.text()?,
        site: row.json()?,
        time_zone: row.text()?,
        barrow_m3: row.real_or_none()?,
        surroundings: row.int()?,
        version: row.int()?,
        archived: row.instant_or_none()?,
    })
}

/// The farm, inside a session.
pub(crate) async fn load(session: &mut dyn Session, id: &str) -> Result<Farm> {
    let rows = session
        .run(
            "SELECT id, name, site, time_zone, barrow_m3, surroundings, version, archived_at FROM farms \
             WHERE id = $1",
            values![id],
        )
        .await?;
    rows.into_iter().next().map(farm).transpose()?.ok_or_else(|| Error::missing(Thing::Farm, id))
}

/// The farm of this id where there is one, or all farms.
pub(crate) async fn some(session: &mut dyn Session, id: Option<&str>) -> Result<Vec<Farm>> {
    let rows = session
        .run(
            "SELECT id, name, site, time_zone, barrow_m3, surroundings, version, archived_at FROM farms \
             WHERE $1 = 1 OR id = $2 ORDER BY id",
            values![i64::from(id.is_none()), id.unwrap_or_default()],
        )
        .await?;
    rows.into_iter().map(farm).collect()
}

/// Counts a change of what all batches of the farm depend on, keeps other writers out, and tells of it.
pub(crate) async fn touch(session: &mut dyn Session, id: &str) -> Result<()> {
    let rows = session
        .run(
            "UPDATE farms SET surroundings = surroundings + 1 WHERE id = $1 RETURNING archived_at",
            values![id],
        )
        .await?;
    let mut row = rows.into_iter().next().ok_or_else(|| Error::missing(Thing::Farm, id))?;
    if row.text_or_none()?.is_some() {
        return Err(Error::clash(Clash::Archived { what: Thing::Farm, name: id.into() }));
    }
    session.announce(vec![Change::Surroundings { farm: id.into() }]).await
}

/// Puts farms in as they are.
pub(crate) async fn insert(session: &mut dyn Session, farm: &Farm) -> Result<()> {
    let row = values![
        &farm.id,
        &farm.name,
        to_json(&farm.site)?,
        &farm.time_zone,
        farm.barrow_m3,
        farm.surroundings,
        farm.version,
        farm.archived
    ];
    let added = session
        .run(
            "INSERT INTO farms (id, name, site, time_zone, barrow_m3, surroundings, version, archived_at) \
             VALUES ($1, $2, $3, $4, $5, $6, $7, $8) ON CONFLICT DO NOTHING RETURNING version",
            row,
        )
        .await?;
    if added.is_empty() {
        return Err(Error::clash(Clash::Exists { what: Thing::Farm, name: farm.id.clone() }));
    }
    Ok(())
}

impl Records {
    /// Adds a farm.
    pub async fn create_farm(&self, id: &str, draft: &FarmDraft) -> Result<Farm> {
        check("id", id)?;
        draft.check()?;
        let FarmDraft { name, site, time_zone, barrow_m3 } = draft.clone();
        let farm = Farm {
            id: id.into(),
            name,
            site,
            time_zone,
            barrow_m3,
            surroundings: 1,
            version: 1,
            archived: None,
        };
        let mut session = self.write().await?;
        insert(session.as_mut(), &farm).await?;
        session.commit().await?;
        Ok(farm)
    }

    /// One farm.
    pub async fn farm(&self, id: &str) -> Result<Farm> {
        load(self.read().await?.as_mut(), id).await
    }

    /// The farms within `reach`, by id.
    pub async fn farms(&self, reach: &Reach, request: &PageRequest) -> Result<Page<Farm>> {
        let after: String = request.after("farms", String::new())?;
        let mut session = self.read().await?;
        let rows = match reach {
            Reach::All => {
                session
                    .run(
                        "SELECT id, name, site, time_zone, barrow_m3, surroundings, version, archived_at \
                         FROM farms WHERE id > $1 ORDER BY id LIMIT $2",
                        values![after, request.limit()],
                    )
                    .await?
            }
            Reach::Farms(ids) => {
                let mut ids: Vec<&String> = ids.iter().filter(|id| **id > after).collect();
                ids.sort_unstable();
                ids.dedup();
                let rows = ids.into_iter().map(|id| values![id]).collect();
                session
                    .run_rows(
                        "SELECT b.id, b.name, b.site, b.time_zone, b.barrow_m3, b.surroundings, b.version, \
                         b.archived_at FROM {rows} JOIN farms b ON b.id = k.id ORDER BY b.id",
                        Table::new(&[("id", Kind::Text)], rows),
                    )
                    .await?
                    .into_iter()
                    .take(request.limit() as usize)
                    .collect()
            }
        };
        let farms = rows.into_iter().map(farm).collect::<Result<_>>()?;
        request.page("farms", farms, |farm: &Farm| farm.id.clone())
    }

    /// Replaces what was said of a farm, if it still has version `expected`.
    pub async fn update_farm(&self, id: &str, expected: i64, draft: &FarmDraft) -> Result<Farm> {
        draft.check()?;
        let mut session = self.write().await?;
        touch(session.as_mut(), id).await?;
        let rows = session
            .run(
                "UPDATE farms SET name = $3, site = $4, time_zone = $5, barrow_m3 = $6, version = version + 1 \
                 WHERE id = $1 AND version = $2 RETURNING \
                 id, name, site, time_zone, barrow_m3, surroundings, version, archived_at",
                values![
                    id,
                    expected,
                    &draft.name,
                    to_json(&draft.site)?,
                    &draft.time_zone,
                    draft.barrow_m3
                ],
            )
            .await?;
        finish_update(session, id, expected, rows).await
    }

    /// Puts a farm away at a time, or brings it back (`None`), if it still has version `expected`.
    pub async fn archive_farm(&self, id: &str, expected: i64, at: Option<Timestamp>) -> Result<Farm> {
        let mut session = self.write().await?;
        let rows = session
            .run(
                "UPDATE farms SET archived_at = $3, version = version + 1, surroundings = surroundings + 1 \
                 WHERE id = $1 AND version = $2 RETURNING \
                 id, name, site, time_zone, barrow_m3, surroundings, version, archived_at",
                values![id, expected, at.map(to_microsecond)],
            )
            .await?;
        session.announce(vec![Change::Surroundings { farm: id.into() }]).await?;
        finish_update(session, id, expected, rows).await
    }
}

async fn finish_update(
    mut session: Box<dyn Session>,
    id: &str,
    expected: i64,
    rows: Vec<Row>,
) -> Result<Farm> {
    let current = ("SELECT version FROM farms WHERE id = $1", values![id]);
    let missing = Error::missing(Thing::Farm, id);
    let row = changed(session.as_mut(), rows, expected, current, missing).await?;
    let farm = farm(row)?;
    session.commit().await?;
    Ok(farm)
}
