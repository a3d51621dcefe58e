//! Feed addresses: tokens that open one farm's readiness to reading, and nothing else.
//!
//! They are shown once and stored as their SHA-256, for the reasons that API keys are (`keys`). Whoever has the address has
//! the feed, so that programs which know no headers can read it: a calendar, a spreadsheet, a feed reader.

use jiff::Timestamp;
use sha2::{Digest, Sha256};

use crate::error::{Error, Result, Thing};
use crate::farms;
use crate::instant::{to_hour, to_microsecond};
use crate::names::check_shown;
use crate::page::{Page, PageRequest};
use crate::records::Records;
use crate::secret::random;
use crate::value::{Row, values};

/// What every token begins with, so that one is known when it is found where it should not be.
const PREFIX: &str = "bcf_";

/// A feed address as it is kept: not its token.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Feed {
    /// The farm that it opens.
    pub farm: String,
    /// Its id within the farm.
    pub id: String,
    /// What people call it.
    pub name: String,
    /// When it was created.
    pub created_at: Timestamp,
    /// The id of the API key that it was created with.
    pub created_by: String,
    /// When it was revoked.
    pub revoked_at: Option<Timestamp>,
    /// When it was last used, to the hour.
    pub last_used_at: Option<Timestamp>,
}

/// A feed address just created, with its token, which is not kept.
#[derive(Clone)]
pub struct IssuedFeed {
    /// The feed address.
    pub feed: Feed,
    /// What stands in the address.
    pub token: String,
}

/// Reads `farm_id, id, name, created_at, created_by, revoked_at, last_used_at`.
fn feed(mut row: Row) -> Result<Feed> {
    Ok(Feed {
        farm: row.text()?,
        id: row.text()?,
        name: row.text()?,
        created_at: row.instant()?,
        created_by: row.text()?,
        revoked_at: row.instant_or_none()?,
        last_used_at: row.instant_or_none()?,
    })
}

impl Records {
    /// Creates a feed address for a farm. Its token, of 160 random bits, is in the answer and nowhere else.
    pub async fn create_feed(&self, farm: &str, name: &str, by: &str, now: Timestamp) -> Result<IssuedFeed> {
        check_shown("name", name)?;
        let token = format!("{PREFIX}{}", hex::encode(random::<20>()?));
        let feed = Feed {
            farm: farm.to_owned(),
            id: format!("feed_{}", hex::encode(random::<8>()?)),
            name: name.to_owned(),
            created_at: to_microsecond(now),
            created_by: by.to_owned(),
            revoked_at: None,
            last_used_at: None,
        };
        let mut session = self.write().await?;
        farms::load(session.as_mut(), farm).await?;
        let Feed { farm, id, name, created_at, created_by, .. } = &feed;
        let hash = hex::encode(Sha256::digest(&token));
        session
            .run(
                "INSERT INTO feeds (farm_id, id, name, hash, created_at, created_by) VALUES ($1, $2, $3, $4, $5, $6)",
                values![farm, id, name, hash, *created_at, created_by],
            )
            .await?;
        session.commit().await?;
        Ok(IssuedFeed { feed, token })
    }

    /// The feed address that `token` stands in, with its last use noted. One that is unknown and one that is revoked are
    /// told apart by nothing.
    pub async fn feed_of(&self, token: &str, now: Timestamp) -> Result<Feed> {
        let hash = hex::encode(Sha256::digest(token));
        let rows = self
            .read()
            .await?
            .run(
                "SELECT farm_id, id, name, created_at, created_by, revoked_at, last_used_at FROM feeds \
                 WHERE hash = $1 AND revoked_at IS NULL",
                values![hash],
            )
            .await?;
        let row = rows.into_iter().next().ok_or_else(|| Error::missing(Thing::Feed, ""))?;
        let mut own = feed(row)?;
        let hour = to_hour(now);
        if own.last_used_at.is_none_or(|last| last < hour) {
            match self.note_reading(&own, hour).await {
                Ok(()) => own.last_used_at = Some(hour),
                // Reading goes on where nothing can be written.
                Err(Error::Full { .. } | Error::ReadOnly { .. } | Error::Unavailable { .. }) => {}
                Err(error) => return Err(error),
            }
        }
        Ok(own)
    }

    async fn note_reading(&self, feed: &Feed, hour: Timestamp) -> Result<()> {
        let mut session = self.write().await?;
        let sql = "UPDATE feeds SET last_used_at = $3 WHERE farm_id = $1 AND id = $2";
        session.run(sql, values![&feed.farm, &feed.id, hour]).await?;
        session.commit().await
    }

    /// A farm's feed addresses by id, revoked ones too.
    pub async fn feeds(&self, farm: &str, request: &PageRequest) -> Result<Page<Feed>> {
        let list = format!("feeds/{farm}");
        let after: String = request.after(&list, String::new())?;
        let mut session = self.read().await?;
        farms::load(session.as_mut(), farm).await?;
        let rows = session
            .run(
                "SELECT farm_id, id, name, created_at, created_by, revoked_at, last_used_at FROM feeds \
                 WHERE farm_id = $1 AND id > $2 ORDER BY id LIMIT $3",
                values![farm, after, request.limit()],
            )
            .await?;
        let feeds = rows.into_iter().map(feed).collect::<Result<_>>()?;
        request.page(&list, feeds, |feed: &Feed| feed.id.clone())
    }

    /// Revokes a feed address for good. Revoking it again changes nothing.
    pub async fn revoke_feed(&self, farm: &str, id: &str, now: Timestamp) -> Result<Feed> {
        let mut session = self.write().await?;
        farms::load(session.as_mut(), farm).await?;
        let rows = session
            .run(
                "UPDATE feeds SET revoked_at = COALESCE(revoked_at, $3) WHERE farm_id = $1 AND id = $2 \
                 RETURNING farm_id, id, name, created_at, created_by, revoked_at, last_used_at",
                values![farm, id, to_microsecond(now)],
            )
            .await?;
        let row = rows.into_iter().next().ok_or_else(|| Error::missing(Thing::Feed, id))?;
        let own = feed(row)?;
        session.commit().await?;
        Ok(own)
    }
}
