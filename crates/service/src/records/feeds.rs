//! Feed addresses: private, read-only, one farm each, and revocable.
//!
//! Who holds the address needs no key. A token is looked up at most once a second, so a revocation is felt within one.

use std::sync::{Arc, PoisonError, RwLock};
use std::time::Duration;

use baycast_records::{Reach, Scope};
use foldhash::HashMap;
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use tokio::time::Instant;

use crate::error::Error;
use crate::page::Page;
use crate::records::caller::Caller;
use crate::records::{paging, refusal};
use crate::service::Service;

/// How long what was found of a token holds.
const HOLDS: Duration = Duration::from_secs(1);

/// Most tokens of which anything is remembered.
const MOST_REMEMBERED: usize = 4096;

/// A feed address as it is kept: not its token.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Feed {
    /// Its id within the farm.
    pub id: String,
    /// What people call it.
    pub name: String,
    /// When it was created.
    #[cfg_attr(feature = "schema", schema(value_type = String, format = DateTime))]
    pub created_at: Timestamp,
    /// The id of the API key that it was created with.
    pub created_by: String,
    /// When it was revoked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, format = DateTime))]
    pub revoked_at: Option<Timestamp>,
    /// When it was last used, to the hour.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, format = DateTime))]
    pub last_used_at: Option<Timestamp>,
}

/// A feed address to create.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = CreateFeedRequest))]
#[serde(deny_unknown_fields)]
pub struct FeedDraft {
    /// What people call it: who it is for, so that it is known which to revoke.
    #[serde(default)]
    pub name: String,
}

/// A feed address and its token.
#[derive(Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = CreateFeedResponse))]
pub struct IssuedFeed {
    /// The feed address.
    pub feed: Feed,
    /// Its token; shown this once.
    pub token: String,
    /// What the feed's paths begin with: `readiness.csv` is below it, and so on.
    pub path: String,
}

impl std::fmt::Debug for IssuedFeed {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("IssuedFeed").field("feed", &self.feed).finish_non_exhaustive()
    }
}

impl From<baycast_records::Feed> for Feed {
    fn from(own: baycast_records::Feed) -> Self {
        let baycast_records::Feed { farm: _, id, name, created_at, created_by, revoked_at, last_used_at } =
            own;
        Self { id, name, created_at, created_by, revoked_at, last_used_at }
    }
}

/// A token's SHA-256, under which it is remembered.
type Hash = [u8; 32];

/// What was found of tokens lately.
#[derive(Debug, Default)]
pub(super) struct Remembered(RwLock<HashMap<Hash, Arc<Token>>>);

/// Whom a feed address lets in, who may read one farm and nothing else.
#[derive(Debug)]
pub struct FeedReader {
    /// The caller.
    pub caller: Caller,
    /// The farm's id.
    pub farm: String,
}

/// What was found of one token.
#[derive(Debug, Default)]
struct Token {
    /// Whom it lets in, and when it was looked up.
    found: RwLock<Option<(Instant, Arc<FeedReader>)>>,
    /// Held by whoever looks it up, so that those who ask meanwhile need not.
    looking: tokio::sync::Mutex<()>,
}

impl Token {
    /// What holds still.
    fn known(&self) -> Option<Arc<FeedReader>> {
        let found = self.found.read().unwrap_or_else(PoisonError::into_inner);
        let (since, reader) = found.as_ref()?;
        (since.elapsed() < HOLDS).then(|| reader.clone())
    }
}

impl Remembered {
    /// The place of the token with this hash. Where there are too many places all are given up: each costs one look.
    fn place(&self, hash: Hash) -> Arc<Token> {
        let places = self.0.read().unwrap_or_else(PoisonError::into_inner);
        if let Some(place) = places.get(&hash) {
            return place.clone();
        }
        drop(places);
        let mut places = self.0.write().unwrap_or_else(PoisonError::into_inner);
        if places.len() >= MOST_REMEMBERED {
            places.clear();
        }
        places.entry(hash).or_default().clone()
    }

    /// Gives up the place of a token that is none: guesses take no room.
    fn forget(&self, hash: &Hash) {
        self.0.write().unwrap_or_else(PoisonError::into_inner).remove(hash);
    }
}

impl Service {
    /// Creates a feed address for a farm. Its token is in the answer and nowhere else.
    pub async fn create_feed(
        &self,
        caller: &Caller,
        farm: &str,
        draft: &FeedDraft,
    ) -> Result<IssuedFeed, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Write)?;
        let issued = store.records.create_feed(farm, &draft.name, caller.id(), store.now()).await;
        let baycast_records::IssuedFeed { feed, token } = issued.map_err(refusal::of)?;
        let path = format!("/feeds/{token}");
        Ok(IssuedFeed { feed: feed.into(), token, path })
    }

    /// A farm's feed addresses by id, revoked ones too.
    pub async fn list_feeds(
        &self,
        caller: &Caller,
        farm: &str,
        page_size: Option<i64>,
        page_token: &str,
    ) -> Result<Page<Feed>, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Read)?;
        let request = paging::request(page_size, page_token)?;
        store.records.feeds(farm, &request).await.map(paging::page).map_err(refusal::of)
    }

    /// Revokes a feed address for good; within a second it opens nothing. Revoking it again changes nothing.
    pub async fn revoke_feed(&self, caller: &Caller, farm: &str, feed: &str) -> Result<Feed, Error> {
        let store = self.store()?;
        caller.may(farm, Scope::Write)?;
        store.records.revoke_feed(farm, feed, store.now()).await.map(Feed::from).map_err(refusal::of)
    }

    /// Whom the token of a feed address lets in.
    ///
    /// One that is unknown and one that is revoked are told apart by nothing; neither is named in the error.
    pub async fn feed_reader(&self, token: &str) -> Result<Arc<FeedReader>, Error> {
        let reader = self.reader(token).await?;
        self.count(reader.caller.id())?;
        Ok(reader)
    }

    /// Whom the token lets in, however often they come.
    async fn reader(&self, token: &str) -> Result<Arc<FeedReader>, Error> {
        let store = self.store()?;
        let hash = Sha256::digest(token).into();
        let place = store.feeds.place(hash);
        if let Some(known) = place.known() {
            return Ok(known);
        }
        let _looking = place.looking.lock().await;
        if let Some(known) = place.known() {
            return Ok(known);
        }
        let since = Instant::now();
        let found = store.records.feed_of(token, store.now()).await.map_err(|error| match error {
            baycast_records::Error::NotFound { .. } => {
                store.feeds.forget(&hash);
                Error::NotFound { what: "feed", name: "of this address".to_owned() }
            }
            other => refusal::of(other),
        })?;
        let caller = Caller::new(&found.id, Scope::Read, Reach::Farms(vec![found.farm.clone()]));
        let reader = Arc::new(FeedReader { caller, farm: found.farm });
        *place.found.write().unwrap_or_else(PoisonError::into_inner) = Some((since, reader.clone()));
        Ok(reader)
    }
}
