//! A farm's own feedstocks, and its own values for those of the default table.

use baycast_model::feedstock::Feedstock;
use baycast_records::{FeedstockRecord, Scope};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::error::Error;
use crate::page::Page;
use crate::records::caller::Caller;
use crate::records::state::ArchiveState;
use crate::records::{etag, paging, refusal, repeat, values};
use crate::service::Service;

/// A farm's own feedstock, or own values for one of the default table.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct FarmFeedstock {
    /// The feedstock; its id names it on the farm.
    pub feedstock: Feedstock,
    /// Changes with every change; not read from a caller's body over REST, where `If-Match` carries it.
    #[serde(default)]
    pub etag: String,
    /// When it was put away; set by archiving alone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, format = DateTime))]
    pub archived: Option<Timestamp>,
}

impl From<FeedstockRecord> for FarmFeedstock {
    fn from(own: FeedstockRecord) -> Self {
        let FeedstockRecord { farm: _, feedstock, version, archived } = own;
        Self { feedstock, etag: etag::of(version), archived }
    }
}

/// Refuses a feedstock whose values are out of range.
fn check(own: &FarmFeedstock) -> Result<(), Error> {
    values::out_of_range(
        |history| history.feedstocks = vec![own.feedstock.clone()],
        "/feedstocks/0",
        "/feedstock",
    )
}

impl Service {
    /// Adds a farm's own feedstock. The same again changes nothing and is answered alike.
    pub async fn create_farm_feedstock(
        &self,
        caller: &Caller,
        farm: &str,
        own: &FarmFeedstock,
    ) -> Result<FarmFeedstock, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Write)?;
        check(own)?;
        let outcome = store.records.create_feedstock(farm, &own.feedstock).await;
        let same = |kept: &FeedstockRecord| kept.archived.is_none() && kept.feedstock == own.feedstock;
        let there = store.records.feedstock(farm, &own.feedstock.id);
        repeat::created(outcome, there, same).await.map(FarmFeedstock::from)
    }

    /// One of a farm's own feedstocks.
    pub async fn get_farm_feedstock(
        &self,
        caller: &Caller,
        farm: &str,
        feedstock: &str,
    ) -> Result<FarmFeedstock, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Read)?;
        store.records.feedstock(farm, feedstock).await.map(FarmFeedstock::from).map_err(refusal::of)
    }

    /// A farm's own feedstocks by id.
    pub async fn list_farm_feedstocks(
        &self,
        caller: &Caller,
        farm: &str,
        page_size: Option<i64>,
        page_token: &str,
    ) -> Result<Page<FarmFeedstock>, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Read)?;
        let request = paging::request(page_size, page_token)?;
        store.records.feedstocks(farm, &request).await.map(paging::page).map_err(refusal::of)
    }

    /// Replaces a farm's own feedstock, if its etag still holds.
    pub async fn update_farm_feedstock(
        &self,
        caller: &Caller,
        farm: &str,
        own: &FarmFeedstock,
    ) -> Result<FarmFeedstock, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Write)?;
        check(own)?;
        let kept = store.records.update_feedstock(farm, etag::version(&own.etag), &own.feedstock).await;
        kept.map(FarmFeedstock::from).map_err(refusal::of)
    }

    /// Puts a farm's own feedstock away, or brings it back, if `etag` still holds.
    pub async fn archive_farm_feedstock(
        &self,
        caller: &Caller,
        farm: &str,
        feedstock: &str,
        etag: &str,
        state: ArchiveState,
    ) -> Result<FarmFeedstock, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Write)?;
        let since = state.since(store.now());
        let kept = store.records.archive_feedstock(farm, feedstock, etag::version(etag), since).await;
        kept.map(FarmFeedstock::from).map_err(refusal::of)
    }
}
