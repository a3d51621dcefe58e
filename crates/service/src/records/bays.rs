//! Bays of a farm.

use baycast_model::bay::Bay;
use baycast_records::{BayRecord, Scope};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::error::Error;
use crate::page::Page;
use crate::records::caller::Caller;
use crate::records::state::ArchiveState;
use crate::records::{etag, paging, refusal, repeat, values};
use crate::service::Service;

/// A bay of a farm.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct FarmBay {
    /// The bay; its id names it on the farm.
    pub bay: Bay,
    /// Its place in the farm's order of bays.
    #[serde(default)]
    #[cfg_attr(feature = "schema", schema(value_type = i64, minimum = 0, maximum = 4_294_967_295_u32))]
    pub position: u32,
    /// Changes with every change; not read from a caller's body over REST, where `If-Match` carries it.
    #[serde(default)]
    pub etag: String,
    /// When it was put away; set by archiving alone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, format = DateTime))]
    pub archived: Option<Timestamp>,
}

impl From<BayRecord> for FarmBay {
    fn from(own: BayRecord) -> Self {
        let BayRecord { farm: _, bay, position, version, archived } = own;
        // Only places that fit are ever written.
        let position = u32::try_from(position).unwrap_or_default();
        Self { bay, position, etag: etag::of(version), archived }
    }
}

/// Refuses a bay whose values are out of range.
fn check(bay: &FarmBay) -> Result<(), Error> {
    values::out_of_range(|history| history.bay = bay.bay.clone(), "/bay", "/bay")
}

impl Service {
    /// Adds a bay to a farm. The same again changes nothing and is answered alike.
    pub async fn create_bay(&self, caller: &Caller, farm: &str, bay: &FarmBay) -> Result<FarmBay, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Write)?;
        check(bay)?;
        let position = bay.position.into();
        let outcome = store.records.create_bay(farm, &bay.bay, position).await;
        let same =
            |kept: &BayRecord| kept.archived.is_none() && kept.bay == bay.bay && kept.position == position;
        repeat::created(outcome, store.records.bay(farm, &bay.bay.id), same).await.map(FarmBay::from)
    }

    /// One bay.
    pub async fn get_bay(&self, caller: &Caller, farm: &str, bay: &str) -> Result<FarmBay, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Read)?;
        store.records.bay(farm, bay).await.map(FarmBay::from).map_err(refusal::of)
    }

    /// A farm's bays in the farm's own order.
    pub async fn list_bays(
        &self,
        caller: &Caller,
        farm: &str,
        page_size: Option<i64>,
        page_token: &str,
    ) -> Result<Page<FarmBay>, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Read)?;
        let request = paging::request(page_size, page_token)?;
        store.records.bays(farm, &request).await.map(paging::page).map_err(refusal::of)
    }

    /// Replaces a bay and its place, if its etag still holds.
    pub async fn update_bay(&self, caller: &Caller, farm: &str, bay: &FarmBay) -> Result<FarmBay, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Write)?;
        check(bay)?;
        let expected = etag::version(&bay.etag);
        let kept = store.records.update_bay(farm, expected, &bay.bay, bay.position.into()).await;
        kept.map(FarmBay::from).map_err(refusal::of)
    }

    /// Puts a bay away, or brings it back, if `etag` still holds.
    pub async fn archive_bay(
        &self,
        caller: &Caller,
        farm: &str,
        bay: &str,
        etag: &str,
        state: ArchiveState,
    ) -> Result<FarmBay, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Write)?;
        let since = state.since(store.now());
        let kept = store.records.archive_bay(farm, bay, etag::version(etag), since).await;
        kept.map(FarmBay::from).map_err(refusal::of)
    }
}
