//! Batches: what is composted together, and how its estimate is asked for.

use baycast_model::window::Criteria;
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::changes::Change;
use crate::error::{Clash, Error, Result, Thing};
use crate::event_id::EventId;
use crate::farms;
use crate::instant::to_microsecond;
use crate::names::{check, check_shown};
use crate::outbox;
use crate::page::{Page, PageRequest};
use crate::records::Records;
use crate::store::{Session, Table};
use crate::value::{Kind, Row, to_json, values};
use crate::version::changed;

/// A batch as it is kept.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Batch {
    /// The farm it belongs to.
    pub farm: String,
    /// Its id, given by whoever created it.
    pub id: String,
    /// What people call it.
    pub name: String,
    /// The bay it starts in.
    pub start_bay: String,
    /// How far past today to look, days; the model's own where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub horizon_days: Option<u32>,
    /// Days between two points of the forecast; the model's own where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub forecast_step_days: Option<u32>,
    /// Own criteria in place of the default ones of a use.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub criteria: Vec<Criteria>,
    /// How many events were ever recorded, superseded ones and retractions included.
    pub event_version: i64,
    /// The last one of them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub last_event: Option<EventId>,
    /// Grows with every change of the batch itself, not with its events.
    pub version: i64,
    /// When it was put away.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub archived: Option<Timestamp>,
}

/// What a caller says of a batch.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct BatchDraft {
    /// What people call it.
    pub name: String,
    /// The bay it starts in.
    pub start_bay: String,
    /// How far past today to look, days.
    pub horizon_days: Option<u32>,
    /// Days between two points of the forecast.
    pub forecast_step_days: Option<u32>,
    /// Own criteria.
    pub criteria: Vec<Criteria>,
}

impl Batch {
    /// What was said of it.
    #[must_use]
    pub fn draft(&self) -> BatchDraft {
        let Self { name, start_bay, horizon_days, forecast_step_days, criteria, .. } = self.clone();
        BatchDraft { name, start_bay, horizon_days, forecast_step_days, criteria }
    }
}

/// Reads a row of the columns in the order of the table.
pub(crate) fn batch(mut row: Row) -> Result<Batch> {
    Ok(Batch {
        farm: row.text()?,
        id: row.text()?,
        name: row.text()?,
        start_bay: row.text()?,
        horizon_days: row.days_or_none()?,
        forecast_step_days: row.days_or_none()?,
        criteria: row.json()?,
        event_version: row.int()?,
        last_event: row.text_or_none()?.map(|id| id.parse()).transpose()?,
        version: row.int()?,
        archived: row.instant_or_none()?,
    })
}

/// The batch, inside a session.
pub(crate) async fn load(session: &mut dyn Session, farm: &str, id: &str) -> Result<Batch> {
    let rows = session
        .run(
            "SELECT farm_id, id, name, start_bay, horizon_days, forecast_step_days, criteria, event_version, \
             last_event_id, version, archived_at FROM batches WHERE farm_id = $1 AND id = $2",
            values![farm, id],
        )
        .await?;
    rows.into_iter().next().map(batch).transpose()?.ok_or_else(|| Error::missing(Thing::Batch, id))
}

/// Puts batches in as they are; how many were new.
pub(crate) async fn insert(session: &mut dyn Session, batches: &[Batch]) -> Result<usize> {
    let mut rows = Vec::new();
    for own in batches {
        check("id", &own.id)?;
        rows.push(values![
            &own.farm,
            &own.id,
            &own.name,
            &own.start_bay,
            own.horizon_days,
            own.forecast_step_days,
            to_json(&own.criteria)?,
            own.event_version,
            own.last_event.map(|id| id.to_string()),
            own.version,
            own.archived
        ]);
    }
    let columns = &[
        ("farm_id", Kind::Text),
        ("id", Kind::Text),
        ("name", Kind::Text),
        ("start_bay", Kind::Text),
        ("horizon_days", Kind::Int),
        ("forecast_step_days", Kind::Int),
        ("criteria", Kind::Text),
        ("event_version", Kind::Int),
        ("last_event_id", Kind::Text),
        ("version", Kind::Int),
        ("archived_at", Kind::Text),
    ];
    let added = session
        .run_rows(
            "INSERT INTO batches (farm_id, id, name, start_bay, horizon_days, forecast_step_days, criteria, \
             event_version, last_event_id, version, archived_at) \
             SELECT k.farm_id, k.id, k.name, k.start_bay, k.horizon_days, k.forecast_step_days, k.criteria, \
             k.event_version, k.last_event_id, k.version, k.archived_at FROM {rows} WHERE true \
             ON CONFLICT DO NOTHING RETURNING version",
            Table::new(columns, rows),
        )
        .await?;
    Ok(added.len())
}

/// Checks a draft against the farm: it is there and not put away, and so is the bay.
async fn check_draft(session: &mut dyn Session, farm: &str, draft: &BatchDraft) -> Result<()> {
    check_shown("name", &draft.name)?;
    let found = farms::load(session, farm).await?;
    if found.archived.is_some() {
        return Err(Error::clash(Clash::Archived { what: Thing::Farm, name: farm.into() }));
    }
    let sql = "SELECT id FROM bays WHERE farm_id = $1 AND id = $2";
    if session.run(sql, values![farm, &draft.start_bay]).await?.is_empty() {
        return Err(Error::missing(Thing::Bay, &draft.start_bay));
    }
    Ok(())
}

impl Records {
    /// Adds a batch.
    pub async fn create_batch(&self, farm: &str, id: &str, draft: &BatchDraft) -> Result<Batch> {
        check("id", id)?;
        let BatchDraft { name, start_bay, horizon_days, forecast_step_days, criteria } = draft.clone();
        let record = Batch {
            farm: farm.into(),
            id: id.into(),
            name,
            start_bay,
            horizon_days,
            forecast_step_days,
            criteria,
            event_version: 0,
            last_event: None,
            version: 1,
            archived: None,
        };
        let mut session = self.write().await?;
        check_draft(session.as_mut(), farm, draft).await?;
        if insert(session.as_mut(), std::slice::from_ref(&record)).await? == 0 {
            return Err(Error::clash(Clash::Exists { what: Thing::Batch, name: id.into() }));
        }
        tell(session.as_mut(), farm, id).await?;
        session.commit().await?;
        Ok(record)
    }

    /// One batch.
    pub async fn batch(&self, farm: &str, id: &str) -> Result<Batch> {
        load(self.read().await?.as_mut(), farm, id).await
    }

    /// The farm's batches by id, those put away only where asked for.
    pub async fn batches(
        &self,
        farm: &str,
        with_archived: bool,
        request: &PageRequest,
    ) -> Result<Page<Batch>> {
        let list = format!("batches/{with_archived}/{farm}");
        let after: String = request.after(&list, String::new())?;
        let mut session = self.read().await?;
        let rows = session
            .run(
                "SELECT farm_id, id, name, start_bay, horizon_days, forecast_step_days, criteria, \
                 event_version, last_event_id, version, archived_at FROM batches \
                 WHERE farm_id = $1 AND id > $2 AND (archived_at IS NULL OR $3 = 1) ORDER BY id LIMIT $4",
                values![farm, after, i64::from(with_archived), request.limit()],
            )
            .await?;
        if rows.is_empty() {
            farms::load(session.as_mut(), farm).await?;
        }
        let batches = rows.into_iter().map(batch).collect::<Result<_>>()?;
        request.page(&list, batches, |own: &Batch| own.id.clone())
    }

    /// Replaces what was said of a batch, if it still has version `expected`.
    pub async fn update_batch(
        &self,
        farm: &str,
        id: &str,
        expected: i64,
        draft: &BatchDraft,
    ) -> Result<Batch> {
        let mut session = self.write().await?;
        check_draft(session.as_mut(), farm, draft).await?;
        let rows = session
            .run(
                "UPDATE batches SET name = $4, start_bay = $5, horizon_days = $6, forecast_step_days = $7, \
                 criteria = $8, version = version + 1 WHERE farm_id = $1 AND id = $2 AND version = $3 \
                 RETURNING farm_id, id, name, start_bay, horizon_days, forecast_step_days, criteria, \
                 event_version, last_event_id, version, archived_at",
                values![
                    farm,
                    id,
                    expected,
                    &draft.name,
                    &draft.start_bay,
                    draft.horizon_days,
                    draft.forecast_step_days,
                    to_json(&draft.criteria)?
                ],
            )
            .await?;
        finish_update(session, farm, id, expected, rows).await
    }

    /// Puts a batch away at a time, or brings it back (`None`), if it still has version `expected`. A batch put away takes
    /// no more events.
    pub async fn archive_batch(
        &self,
        farm: &str,
        id: &str,
        expected: i64,
        at: Option<Timestamp>,
    ) -> Result<Batch> {
        let mut session = self.write().await?;
        let rows = session
            .run(
                "UPDATE batches SET archived_at = $4, version = version + 1 \
                 WHERE farm_id = $1 AND id = $2 AND version = $3 \
                 RETURNING farm_id, id, name, start_bay, horizon_days, forecast_step_days, criteria, \
                 event_version, last_event_id, version, archived_at",
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
) -> Result<Batch> {
    let current = ("SELECT version FROM batches WHERE farm_id = $1 AND id = $2", values![farm, id]);
    let missing = Error::missing(Thing::Batch, id);
    let row = changed(session.as_mut(), rows, expected, current, missing).await?;
    let record = batch(row)?;
    tell(session.as_mut(), farm, id).await?;
    session.commit().await?;
    Ok(record)
}

/// Tells of a change of the batch itself, and has its readiness worked out.
async fn tell(session: &mut dyn Session, farm: &str, id: &str) -> Result<()> {
    outbox::note(session, farm, id).await?;
    session.announce(vec![Change::Batch { farm: farm.into(), batch: id.into() }]).await
}
