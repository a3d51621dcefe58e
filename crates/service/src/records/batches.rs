//! Batches: what is composted together, and how its estimate is asked for.

use baycast_model::history::History;
use baycast_model::window::Criteria;
use baycast_records::{BatchDraft, Scope};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::error::Error;
use crate::page::Page;
use crate::records::caller::Caller;
use crate::records::state::ArchiveState;
use crate::records::{etag, paging, refusal, repeat, values};
use crate::service::Service;

/// A batch of a farm.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Batch {
    /// Its id, given by whoever creates it, 1 to 128 characters.
    #[cfg_attr(feature = "schema", schema(min_length = 1, max_length = 128))]
    pub id: String,
    /// What people call it.
    #[serde(default)]
    pub name: String,
    /// Id of the bay that it starts in.
    pub start_bay: String,
    /// How far past today to look, 1 to 730 days; 365 where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 1, maximum = 730))]
    pub horizon_days: Option<u32>,
    /// Days between two points of the forecast, 1 to 90; 7 where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 1, maximum = 90))]
    pub forecast_step_days: Option<u32>,
    /// Own criteria in place of the default ones of a use.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub criteria: Vec<Criteria>,
    /// How many events were ever recorded; said by the service alone.
    #[serde(default)]
    pub event_version: u64,
    /// Id of the last one of them; said by the service alone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub last_event: Option<String>,
    /// Changes with every change; not read from a caller's body over REST, where `If-Match` carries it.
    #[serde(default)]
    pub etag: String,
    /// When it was put away; set by archiving alone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, format = DateTime))]
    pub archived: Option<Timestamp>,
}

/// Which batches to list.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum BatchesShown {
    /// Those in use.
    #[default]
    Active,
    /// Those put away too.
    All,
}

impl From<baycast_records::Batch> for Batch {
    fn from(own: baycast_records::Batch) -> Self {
        let baycast_records::Batch {
            farm: _,
            id,
            name,
            start_bay,
            horizon_days,
            forecast_step_days,
            criteria,
            event_version,
            last_event,
            version,
            archived,
        } = own;
        Self {
            id,
            name,
            start_bay,
            horizon_days,
            forecast_step_days,
            criteria,
            event_version: event_version.cast_unsigned(),
            last_event: last_event.map(|id| id.to_string()),
            etag: etag::of(version),
            archived,
        }
    }
}

/// What is kept of what a caller says, if its values are in range.
fn draft(batch: &Batch) -> Result<BatchDraft, Error> {
    let Batch {
        id: _,
        name,
        start_bay,
        horizon_days,
        forecast_step_days,
        criteria,
        event_version: _,
        last_event: _,
        etag: _,
        archived: _,
    } = batch.clone();
    let fill = |history: &mut History| {
        history.horizon_days = horizon_days;
        history.forecast_step_days = forecast_step_days;
        history.criteria.clone_from(&criteria);
    };
    values::out_of_range(fill, "", "")?;
    Ok(BatchDraft { name, start_bay, horizon_days, forecast_step_days, criteria })
}

impl Service {
    /// Adds a batch to a farm. The same again changes nothing and is answered alike.
    pub async fn create_batch(&self, caller: &Caller, farm: &str, batch: &Batch) -> Result<Batch, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Write)?;
        let draft = draft(batch)?;
        let outcome = store.records.create_batch(farm, &batch.id, &draft).await;
        let same = |kept: &baycast_records::Batch| kept.archived.is_none() && kept.draft() == draft;
        repeat::created(outcome, store.records.batch(farm, &batch.id), same).await.map(Batch::from)
    }

    /// One batch.
    pub async fn get_batch(&self, caller: &Caller, farm: &str, batch: &str) -> Result<Batch, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Read)?;
        store.records.batch(farm, batch).await.map(Batch::from).map_err(refusal::of)
    }

    /// A farm's batches by id.
    pub async fn list_batches(
        &self,
        caller: &Caller,
        farm: &str,
        shown: BatchesShown,
        page_size: Option<i64>,
        page_token: &str,
    ) -> Result<Page<Batch>, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Read)?;
        let request = paging::request(page_size, page_token)?;
        let found = store.records.batches(farm, shown == BatchesShown::All, &request).await;
        found.map(paging::page).map_err(refusal::of)
    }

    /// Replaces what is said of a batch, if its etag still holds. Its events are not touched.
    pub async fn update_batch(&self, caller: &Caller, farm: &str, batch: &Batch) -> Result<Batch, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Write)?;
        let expected = etag::version(&batch.etag);
        let kept = store.records.update_batch(farm, &batch.id, expected, &draft(batch)?).await;
        kept.map(Batch::from).map_err(refusal::of)
    }

    /// Puts a batch away, or brings it back, if `etag` still holds. One that is put away takes no events.
    pub async fn archive_batch(
        &self,
        caller: &Caller,
        farm: &str,
        batch: &str,
        etag: &str,
        state: ArchiveState,
    ) -> Result<Batch, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Write)?;
        let since = state.since(store.now());
        let kept = store.records.archive_batch(farm, batch, etag::version(etag), since).await;
        kept.map(Batch::from).map_err(refusal::of)
    }
}
