//! API keys: who may do what with which farms.

use baycast_model::problem::Problems;
use baycast_records::{Reach, Scope};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::error::Error;
use crate::page::Page;
use crate::records::caller::Caller;
use crate::records::{paging, refusal};
use crate::service::Service;

/// What a key may do. Each may do what those before it may.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum KeyScope {
    /// Read.
    Read,
    /// Record events and change farms, bays, feedstocks and batches.
    Write,
    /// Archive farms; with every farm in reach also create farms and keys.
    Admin,
}

/// For which farms a key is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum KeyReach {
    /// Every farm, those to come included.
    All,
    /// Those named.
    Farms,
}

/// An API key as it is kept: not its text.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ApiKey {
    /// Its id, which stands beside everything recorded with it.
    pub id: String,
    /// What people call it.
    pub name: String,
    /// What it may do.
    pub scope: KeyScope,
    /// For which farms.
    pub reach: KeyReach,
    /// The farms that it is for; empty where it is for all.
    pub farms: Vec<String>,
    /// When it was created.
    #[cfg_attr(feature = "schema", schema(value_type = String, format = DateTime))]
    pub created_at: Timestamp,
    /// When it was revoked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, format = DateTime))]
    pub revoked_at: Option<Timestamp>,
    /// When it was last used, to the hour.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, format = DateTime))]
    pub last_used_at: Option<Timestamp>,
}

/// A key to create.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = CreateKeyRequest))]
#[serde(deny_unknown_fields)]
pub struct KeyDraft {
    /// What people call it.
    #[serde(default)]
    pub name: String,
    /// What it may do.
    pub scope: KeyScope,
    /// For which farms.
    pub reach: KeyReach,
    /// The farms that it is for, where they are named.
    #[serde(default)]
    pub farms: Vec<String>,
}

/// A key and its text.
#[derive(Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = CreateKeyResponse))]
pub struct IssuedKey {
    /// The key.
    pub key: ApiKey,
    /// What its holder sends; shown this once.
    pub text: String,
}

impl std::fmt::Debug for IssuedKey {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("IssuedKey").field("key", &self.key).finish_non_exhaustive()
    }
}

impl From<baycast_records::ApiKey> for ApiKey {
    fn from(own: baycast_records::ApiKey) -> Self {
        let baycast_records::ApiKey { id, name, scope, reach, created_at, revoked_at, last_used_at } = own;
        let scope = match scope {
            Scope::Read => KeyScope::Read,
            Scope::Write => KeyScope::Write,
            Scope::Admin => KeyScope::Admin,
        };
        let (reach, farms) = match reach {
            Reach::All => (KeyReach::All, Vec::new()),
            Reach::Farms(farms) => (KeyReach::Farms, farms),
        };
        Self { id, name, scope, reach, farms, created_at, revoked_at, last_used_at }
    }
}

impl KeyDraft {
    /// The scope in the records' word.
    fn scope(&self) -> Scope {
        match self.scope {
            KeyScope::Read => Scope::Read,
            KeyScope::Write => Scope::Write,
            KeyScope::Admin => Scope::Admin,
        }
    }

    /// The reach, where what it says of farms fits it.
    fn reach(&self) -> Result<Reach, Error> {
        match (self.reach, self.farms.as_slice()) {
            (KeyReach::All, []) => Ok(Reach::All),
            (KeyReach::Farms, [_, ..]) => Ok(Reach::Farms(self.farms.clone())),
            (KeyReach::All, _) => Err(farms(self.farms.len(), "none, where the reach is all")),
            (KeyReach::Farms, _) => Err(farms(0, "one or more, where the reach is farms")),
        }
    }
}

/// The error of farms that do not fit the reach.
fn farms(given: usize, accepted: &str) -> Error {
    let mut problems = Problems::default();
    problems.add("/farms", format!("an array of {given}"), accepted);
    Error::Invalid(problems)
}

impl Service {
    /// Creates a key. Its text is in the answer and nowhere else.
    pub async fn create_key(&self, caller: &Caller, draft: &KeyDraft) -> Result<IssuedKey, Error> {
        let store = self.store()?;
        caller.administers_all()?;
        let issued = store.records.create_key(&draft.name, draft.scope(), draft.reach()?, store.now()).await;
        let baycast_records::IssuedKey { key, text } = issued.map_err(refusal::of)?;
        Ok(IssuedKey { key: key.into(), text })
    }

    /// All keys by id, revoked ones too.
    pub async fn list_keys(
        &self,
        caller: &Caller,
        page_size: Option<i64>,
        page_token: &str,
    ) -> Result<Page<ApiKey>, Error> {
        let store = self.store()?;
        caller.administers_all()?;
        let request = paging::request(page_size, page_token)?;
        store.records.keys(&request).await.map(paging::page).map_err(refusal::of)
    }

    /// Revokes a key for good. Revoking it again changes nothing.
    pub async fn revoke_key(&self, caller: &Caller, key: &str) -> Result<ApiKey, Error> {
        let store = self.store()?;
        caller.administers_all()?;
        store.records.revoke_key(key, store.now()).await.map(ApiKey::from).map_err(refusal::of)
    }
}
