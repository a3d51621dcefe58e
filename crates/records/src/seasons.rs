//! A farm's season, and the plan last made of it. What they say is the service's: here they are text.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use serde_json::Value as Json;

use crate::error::{Clash, Error, Result, Thing};
use crate::farms::{self, Farm};
use crate::instant::to_microsecond;
use crate::records::Records;
use crate::store::Session;
use crate::value::{Row, from_json, to_json, values};

/// A plan as it is kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeptPlan {
    /// What it says, JSON.
    pub plan: String,
    /// What it was made from: while nothing of that changes, it holds.
    pub basis: String,
    /// When it was made.
    pub made_at: Timestamp,
}

/// A farm's season, all of one moment.
#[derive(Clone, Debug, PartialEq)]
pub struct KeptSeason {
    /// The farm.
    pub farm: Farm,
    /// What it says, JSON; none where none is kept.
    pub season: Option<String>,
    /// Grows with every season that is kept for the farm; 0 before the first.
    pub version: i64,
    /// The plan last made of it, or of what it said before.
    pub plan: Option<KeptPlan>,
    /// Differs from then on where anything is recorded of the farm, its bays, feedstocks or batches.
    pub records: String,
}

impl KeptSeason {
    /// Whether another can be kept in place of version `expected`, or where there is none (`None`).
    pub fn gives_way(&self, expected: Option<i64>) -> Result<()> {
        let Farm { id, archived, .. } = &self.farm;
        if archived.is_some() {
            return Err(Error::clash(Clash::Archived { what: Thing::Farm, name: id.clone() }));
        }
        checked(id, expected, self.version, self.season.is_some())
    }
}

/// A season as a line of an export.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct SeasonRecord {
    /// The farm it belongs to.
    pub farm: String,
    season: Json,
    version: i64,
    changed_at: Timestamp,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    plan: Option<PlanRecord>,
}

/// Its plan.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct PlanRecord {
    plan: Json,
    basis: String,
    made_at: Timestamp,
}

/// Reads `plan, plan_basis, plan_made_at`.
fn plan(row: &mut Row) -> Result<Option<KeptPlan>> {
    let (plan, basis, made_at) = (row.text_or_none()?, row.text_or_none()?, row.instant_or_none()?);
    Ok(plan.zip(basis).zip(made_at).map(|((plan, basis), made_at)| KeptPlan { plan, basis, made_at }))
}

/// The season for an export, where there is one.
pub(crate) async fn record(session: &mut dyn Session, farm: &str) -> Result<Option<SeasonRecord>> {
    let rows = session
        .run(
            "SELECT season, version, changed_at, plan, plan_basis, plan_made_at FROM seasons \
             WHERE farm_id = $1 AND season IS NOT NULL",
            values![farm],
        )
        .await?;
    let Some(mut row) = rows.into_iter().next() else { return Ok(None) };
    let (season, version, changed_at) = (row.json()?, row.int()?, row.instant()?);
    let plan = plan(&mut row)?.map(|KeptPlan { plan, basis, made_at }| {
        Ok::<_, Error>(PlanRecord { plan: from_json(&plan)?, basis, made_at })
    });
    Ok(Some(SeasonRecord { farm: farm.to_owned(), season, version, changed_at, plan: plan.transpose()? }))
}

/// Puts a season in as it is.
pub(crate) async fn insert(session: &mut dyn Session, own: &SeasonRecord) -> Result<()> {
    let SeasonRecord { farm, season, version, changed_at, plan } = own;
    let text = plan.as_ref().map(|own| to_json(&own.plan)).transpose()?;
    let (basis, made_at) = plan.as_ref().map(|own| (own.basis.clone(), own.made_at)).unzip();
    session
        .run(
            "INSERT INTO seasons (farm_id, season, version, changed_at, plan, plan_basis, plan_made_at) \
             VALUES ($1, $2, $3, $4, $5, $6, $7)",
            values![farm, to_json(season)?, *version, *changed_at, text, basis, made_at],
        )
        .await?;
    Ok(())
}

/// The version there is, and whether a season is kept; other writers of the farm are kept out.
async fn locked(session: &mut dyn Session, farm: &str) -> Result<(i64, bool)> {
    let sql = "SELECT b.archived_at FROM farms b WHERE b.id = $1 {lock}";
    let rows = session.run(sql, values![farm]).await?;
    let mut row = rows.into_iter().next().ok_or_else(|| Error::missing(Thing::Farm, farm))?;
    if row.text_or_none()?.is_some() {
        return Err(Error::clash(Clash::Archived { what: Thing::Farm, name: farm.into() }));
    }
    let sql = "SELECT version, season FROM seasons WHERE farm_id = $1";
    match session.run(sql, values![farm]).await?.into_iter().next() {
        Some(mut row) => Ok((row.int()?, row.text_or_none()?.is_some())),
        None => Ok((0, false)),
    }
}

/// Whether a change of a season that has version `current`, where one is `kept`, may go on from version `expected`.
fn checked(farm: &str, expected: Option<i64>, current: i64, kept: bool) -> Result<()> {
    match expected {
        None if kept => Err(Error::clash(Clash::Exists { what: Thing::Season, name: farm.into() })),
        Some(_) if !kept => Err(Error::missing(Thing::Season, farm)),
        Some(given) if given != current => Err(Error::Stale { given, current }),
        None | Some(_) => Ok(()),
    }
}

impl Records {
    /// A farm's season, where one is kept.
    pub async fn season(&self, farm: &str) -> Result<KeptSeason> {
        let mut session = self.snapshot().await?;
        let session = session.as_mut();
        let farm = farms::load(session, farm).await?;
        let rows = session
            .run(
                "SELECT season, version, plan, plan_basis, plan_made_at FROM seasons WHERE farm_id = $1",
                values![&farm.id],
            )
            .await?;
        let (season, version, plan) = match rows.into_iter().next() {
            Some(mut row) => (row.text_or_none()?, row.int()?, plan(&mut row)?),
            None => (None, 0, None),
        };
        // Each of these only ever grows.
        let rows = session
            .run(
                "SELECT COUNT(*), CAST(COALESCE(SUM(version), 0) AS BIGINT), \
                 CAST(COALESCE(SUM(event_version), 0) AS BIGINT) FROM batches WHERE farm_id = $1",
                values![&farm.id],
            )
            .await?;
        let mut records = farm.surroundings.to_string();
        for mut row in rows {
            records = format!("{records}.{}.{}.{}", row.int()?, row.int()?, row.int()?);
        }
        Ok(KeptSeason { farm, season, version, plan, records })
    }

    /// Keeps a season, with its plan where there is one already, in place of version `expected`, or where there is none (`None`); its version then.
    pub async fn keep_season(
        &self,
        farm: &str,
        expected: Option<i64>,
        season: &str,
        plan: Option<&KeptPlan>,
        now: Timestamp,
    ) -> Result<i64> {
        let mut session = self.write().await?;
        let (current, kept) = locked(session.as_mut(), farm).await?;
        checked(farm, expected, current, kept)?;
        let version = current + 1;
        session
            .run(
                "INSERT INTO seasons (farm_id, season, version, changed_at, plan, plan_basis, plan_made_at) \
                 VALUES ($1, $2, $3, $4, $5, $6, $7) ON CONFLICT (farm_id) DO UPDATE SET season = $2, \
                 version = $3, changed_at = $4, plan = $5, plan_basis = $6, plan_made_at = $7",
                values![
                    farm,
                    season,
                    version,
                    to_microsecond(now),
                    plan.map(|own| own.plan.clone()),
                    plan.map(|own| own.basis.clone()),
                    plan.map(|own| to_microsecond(own.made_at))
                ],
            )
            .await?;
        session.commit().await?;
        Ok(version)
    }

    /// Keeps a plan of version `version` of a farm's season; whether that is still the one there is.
    pub async fn keep_plan(&self, farm: &str, version: i64, plan: &KeptPlan) -> Result<bool> {
        let KeptPlan { plan, basis, made_at } = plan;
        let mut session = self.write().await?;
        let rows = session
            .run(
                "UPDATE seasons SET plan = $3, plan_basis = $4, plan_made_at = $5 \
                 WHERE farm_id = $1 AND version = $2 AND season IS NOT NULL RETURNING version",
                values![farm, version, plan, basis, to_microsecond(*made_at)],
            )
            .await?;
        session.commit().await?;
        Ok(!rows.is_empty())
    }

    /// Deletes a farm's season with its plan, if it still has version `expected`; what it said. The next one has a later
    /// version, so that no tag ever stands for two.
    pub async fn delete_season(&self, farm: &str, expected: i64) -> Result<String> {
        let mut session = self.write().await?;
        let (current, kept) = locked(session.as_mut(), farm).await?;
        checked(farm, Some(expected), current, kept)?;
        let sql = "SELECT season FROM seasons WHERE farm_id = $1";
        let rows = session.run(sql, values![farm]).await?;
        let mut row = rows.into_iter().next().ok_or_else(|| Error::missing(Thing::Season, farm))?;
        let season = row.text()?;
        session
            .run(
                "UPDATE seasons SET season = NULL, plan = NULL, plan_basis = NULL, plan_made_at = NULL \
                 WHERE farm_id = $1",
                values![farm],
            )
            .await?;
        session.commit().await?;
        Ok(season)
    }
}
