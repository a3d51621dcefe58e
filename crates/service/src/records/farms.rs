//! Farms: a place, its weather and its clock.

use baycast_model::site::Site;
use baycast_records::{FarmDraft, Scope};
use jiff::Timestamp;
use jiff::tz::TimeZone;
use serde::{Deserialize, Serialize};

use crate::error::Error;
use crate::page::Page;
use crate::records::caller::Caller;
use crate::records::state::ArchiveState;
use crate::records::{etag, paging, refusal, repeat, values};
use crate::service::Service;

/// A farm: a place, its weather and its clock.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Farm {
    /// Its id, given by whoever creates it, 1 to 128 characters.
    #[cfg_attr(feature = "schema", schema(min_length = 1, max_length = 128))]
    pub id: String,
    /// What people call it.
    #[serde(default)]
    pub name: String,
    /// Place and weather.
    pub site: Site,
    /// IANA name of its time zone.
    pub time_zone: String,
    /// One barrow load, 0.01 to 0.5 m³; 0.085 where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 0.01, maximum = 0.5))]
    pub barrow_m3: Option<f64>,
    /// Changes with every change; not read from a caller's body over REST, where `If-Match` carries it.
    #[serde(default)]
    pub etag: String,
    /// When it was put away; set by archiving alone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, format = DateTime))]
    pub archived: Option<Timestamp>,
}

impl From<baycast_records::Farm> for Farm {
    fn from(own: baycast_records::Farm) -> Self {
        let baycast_records::Farm {
            id,
            name,
            site,
            time_zone,
            barrow_m3,
            surroundings: _,
            version,
            archived,
        } = own;
        Self { id, name, site, time_zone, barrow_m3, etag: etag::of(version), archived }
    }
}

/// What is kept of what a caller says, if its values are in range.
fn draft(farm: &Farm) -> Result<FarmDraft, Error> {
    let Farm { id: _, name, site, time_zone, barrow_m3, etag: _, archived: _ } = farm.clone();
    let fill = |history: &mut baycast_model::history::History| {
        history.site = site.clone();
        history.barrow_m3 = barrow_m3;
    };
    let mut problems = values::problems(fill, "", "");
    if TimeZone::get(&time_zone).is_err() {
        let given = baycast_model::check::quoted(&time_zone);
        problems.add("/time_zone", given, "the IANA name of a time zone, such as Europe/London");
    }
    problems.into_result().map_err(Error::Invalid)?;
    Ok(FarmDraft { name, site, time_zone, barrow_m3 })
}

impl Service {
    /// Adds a farm. The same again changes nothing and is answered alike.
    pub async fn create_farm(&self, caller: &Caller, farm: &Farm) -> Result<Farm, Error> {
        let store = self.store()?;
        caller.administers_all()?;
        let draft = draft(farm)?;
        let outcome = store.records.create_farm(&farm.id, &draft).await;
        let same = |kept: &baycast_records::Farm| kept.archived.is_none() && kept.draft() == draft;
        repeat::created(outcome, store.records.farm(&farm.id), same).await.map(Farm::from)
    }

    /// One farm.
    pub async fn get_farm(&self, caller: &Caller, farm: &str) -> Result<Farm, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Read)?;
        store.records.farm(farm).await.map(Farm::from).map_err(refusal::of)
    }

    /// The farms within the caller's reach, by id.
    pub async fn list_farms(
        &self,
        caller: &Caller,
        page_size: Option<i64>,
        page_token: &str,
    ) -> Result<Page<Farm>, Error> {
        let store = self.store()?;
        let request = paging::request(page_size, page_token)?;
        store.records.farms(caller.reach(), &request).await.map(paging::page).map_err(refusal::of)
    }

    /// Replaces what is said of a farm, if its etag still holds.
    pub async fn update_farm(&self, caller: &Caller, farm: &Farm) -> Result<Farm, Error> {
        let store = self.store()?;
        caller.may(&farm.id, Scope::Write)?;
        let kept = store.records.update_farm(&farm.id, etag::version(&farm.etag), &draft(farm)?).await;
        kept.map(Farm::from).map_err(refusal::of)
    }

    /// Puts a farm away, or brings it back, if `etag` still holds.
    pub async fn archive_farm(
        &self,
        caller: &Caller,
        farm: &str,
        etag: &str,
        state: ArchiveState,
    ) -> Result<Farm, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Admin)?;
        let since = state.since(store.now());
        let kept = store.records.archive_farm(farm, etag::version(etag), since).await;
        kept.map(Farm::from).map_err(refusal::of)
    }
}
