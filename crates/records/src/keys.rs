//! API keys: shown once, stored as their SHA-256.
//!
//! A key is 256 random bits, so there is nothing to guess and nothing for a slow hash to slow down; a fast one lets every
//! request be checked. The row is found by the hash, whose bits a caller cannot steer: how long that takes tells nothing
//! of a key.

use std::collections::HashMap;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use crate::error::{Error, Result, Thing};
use crate::instant::{to_hour, to_microsecond};
use crate::names::check_shown;
use crate::page::{Page, PageRequest};
use crate::records::Records;
use crate::secret::random;
use crate::store::{Session, Table};
use crate::value::{Kind, Row, values};

/// What the text of every key begins with, so that one is known when it is found where it should not be.
const PREFIX: &str = "bck_";

/// What a key may do. Each may do what those before it may.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Scope {
    /// Read.
    Read,
    /// Record events and change bays, feedstocks and batches.
    Write,
    /// Create farms and keys.
    Admin,
}

/// Which farms a key is for.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Reach {
    /// Every farm, those to come included.
    All,
    /// These.
    Farms(Vec<String>),
}

impl Reach {
    /// Whether the farm is among them.
    #[must_use]
    pub fn includes(&self, farm: &str) -> bool {
        match self {
            Self::All => true,
            Self::Farms(farms) => farms.iter().any(|own| own == farm),
        }
    }
}

/// A key as it is kept: not its text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ApiKey {
    /// Its id, which stands beside everything recorded with it.
    pub id: String,
    /// What people call it.
    pub name: String,
    /// What it may do.
    pub scope: Scope,
    /// For which farms.
    pub reach: Reach,
    /// When it was created.
    pub created_at: Timestamp,
    /// When it was revoked.
    pub revoked_at: Option<Timestamp>,
    /// When it was last used, to the hour.
    pub last_used_at: Option<Timestamp>,
}

/// A key just created, with its text, which is not kept.
#[derive(Clone)]
pub struct IssuedKey {
    /// The key.
    pub key: ApiKey,
    /// What the caller sends.
    pub text: String,
}

impl Scope {
    /// The scope in a word.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Read => "read",
            Self::Write => "write",
            Self::Admin => "admin",
        }
    }
}

/// Reads `id, name, scope, reach, created_at, revoked_at, last_used_at`; the farms are still to be filled in.
pub(crate) fn key(mut row: Row) -> Result<ApiKey> {
    let (id, name) = (row.text()?, row.text()?);
    let scope = match row.text()?.as_str() {
        "read" => Scope::Read,
        "write" => Scope::Write,
        "admin" => Scope::Admin,
        other => return Err(Error::corrupt(format!("scope `{other}`"))),
    };
    let reach = match row.text()?.as_str() {
        "all" => Reach::All,
        "farms" => Reach::Farms(Vec::new()),
        other => return Err(Error::corrupt(format!("reach `{other}`"))),
    };
    Ok(ApiKey {
        id,
        name,
        scope,
        reach,
        created_at: row.instant()?,
        revoked_at: row.instant_or_none()?,
        last_used_at: row.instant_or_none()?,
    })
}

/// Reads the farms of those keys that are for some only.
pub(crate) async fn fill_in_farms(
    session: &mut dyn Session,
    keys: impl Iterator<Item = &mut ApiKey>,
) -> Result<()> {
    let mut reaches: HashMap<String, &mut Vec<String>> = keys
        .filter_map(|key| match &mut key.reach {
            Reach::Farms(farms) => Some((key.id.clone(), farms)),
            Reach::All => None,
        })
        .collect();
    if reaches.is_empty() {
        return Ok(());
    }
    let ids = reaches.keys().map(|id| values![id]).collect();
    let rows = session
        .run_rows(
            "SELECT b.key_id, b.farm_id FROM {rows} JOIN api_key_farms b ON b.key_id = k.id ORDER BY b.farm_id",
            Table::new(&[("id", Kind::Text)], ids),
        )
        .await?;
    for mut row in rows {
        if let Some(farms) = reaches.get_mut(&row.text()?) {
            farms.push(row.text()?);
        }
    }
    Ok(())
}

impl Records {
    /// Creates a key. Its text is in the answer and nowhere else.
    pub async fn create_key(
        &self,
        name: &str,
        scope: Scope,
        reach: Reach,
        now: Timestamp,
    ) -> Result<IssuedKey> {
        check_shown("name", name)?;
        let text = format!("{PREFIX}{}", hex::encode(random::<32>()?));
        let id = format!("key_{}", hex::encode(random::<8>()?));
        let mut session = self.write().await?;
        let (kind, farms) = match &reach {
            Reach::All => ("all", &[][..]),
            Reach::Farms(farms) => ("farms", farms.as_slice()),
        };
        let now = to_microsecond(now);
        session
            .run(
                "INSERT INTO api_keys (id, name, hash, scope, reach, created_at) VALUES ($1, $2, $3, $4, $5, $6)",
                values![&id, name, hex::encode(Sha256::digest(&text)), scope.as_str(), kind, now],
            )
            .await?;
        for farm in farms {
            crate::farms::load(session.as_mut(), farm).await?;
        }
        let rows = farms.iter().map(|farm| values![&id, farm]).collect();
        session
            .run_rows(
                "INSERT INTO api_key_farms (key_id, farm_id) SELECT k.key_id, k.farm_id FROM {rows} WHERE true \
                 ON CONFLICT DO NOTHING",
                Table::new(&[("key_id", Kind::Text), ("farm_id", Kind::Text)], rows),
            )
            .await?;
        session.commit().await?;
        let name = name.to_owned();
        let key = ApiKey { id, name, scope, reach, created_at: now, revoked_at: None, last_used_at: None };
        Ok(IssuedKey { key, text })
    }

    /// The key that `text` is, with its last use noted. One that is unknown and one that is revoked are told apart by
    /// nothing.
    pub async fn authenticate(&self, text: &str, now: Timestamp) -> Result<ApiKey> {
        let unknown = || Error::missing(Thing::Key, "");
        let hash = hex::encode(Sha256::digest(text));
        let found = self.door.key(hash).await?;
        let mut key = found.filter(|key| key.revoked_at.is_none()).ok_or_else(unknown)?;
        let hour = to_hour(now);
        if key.last_used_at.is_none_or(|last| last < hour) {
            match self.note_use(&key.id, hour).await {
                Ok(()) => key.last_used_at = Some(hour),
                // Reading goes on where nothing can be written.
                Err(Error::Full { .. } | Error::ReadOnly { .. } | Error::Unavailable { .. }) => {}
                Err(error) => return Err(error),
            }
        }
        Ok(key)
    }

    async fn note_use(&self, id: &str, hour: Timestamp) -> Result<()> {
        let mut session = self.write().await?;
        let sql = "UPDATE api_keys SET last_used_at = $2 WHERE id = $1";
        session.run(sql, values![id, hour]).await?;
        session.commit().await
    }

    /// Whether there are keys, revoked ones included.
    pub async fn has_keys(&self) -> Result<bool> {
        self.door.any().await
    }

    /// Whether there is a key of this id, or a feed address of the farm, that is not revoked.
    pub async fn lets_in(&self, id: &str, farm: &str) -> Result<bool> {
        let sql = "SELECT id FROM api_keys WHERE id = $1 AND revoked_at IS NULL \
                   UNION ALL SELECT id FROM feeds WHERE farm_id = $2 AND id = $1 AND revoked_at IS NULL";
        Ok(!self.read().await?.run(sql, values![id, farm]).await?.is_empty())
    }

    /// All keys by id, revoked ones too.
    pub async fn keys(&self, request: &PageRequest) -> Result<Page<ApiKey>> {
        let after: String = request.after("keys", String::new())?;
        let mut session = self.read().await?;
        let rows = session
            .run(
                "SELECT id, name, scope, reach, created_at, revoked_at, last_used_at FROM api_keys \
                 WHERE id > $1 ORDER BY id LIMIT $2",
                values![after, request.limit()],
            )
            .await?;
        let mut keys = rows.into_iter().map(key).collect::<Result<Vec<_>>>()?;
        fill_in_farms(session.as_mut(), keys.iter_mut()).await?;
        request.page("keys", keys, |key: &ApiKey| key.id.clone())
    }

    /// Revokes a key for good. Revoking it again changes nothing.
    pub async fn revoke_key(&self, id: &str, now: Timestamp) -> Result<ApiKey> {
        let mut session = self.write().await?;
        let rows = session
            .run(
                "UPDATE api_keys SET revoked_at = COALESCE(revoked_at, $2) WHERE id = $1 \
                 RETURNING id, name, scope, reach, created_at, revoked_at, last_used_at",
                values![id, to_microsecond(now)],
            )
            .await?;
        let row = rows.into_iter().next().ok_or_else(|| Error::missing(Thing::Key, id))?;
        let mut key = key(row)?;
        fill_in_farms(session.as_mut(), std::iter::once(&mut key)).await?;
        session.commit().await?;
        Ok(key)
    }
}
