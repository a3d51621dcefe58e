//! Feed addresses, on the way out.

use baycast_service::records::Feed;

use crate::proto;

impl From<Feed> for proto::Feed {
    fn from(feed: Feed) -> Self {
        let Feed { id, name, created_at, created_by, revoked_at, last_used_at } = feed;
        Self {
            id,
            name,
            created_at: created_at.to_string(),
            created_by,
            revoked_at: revoked_at.map(|at| at.to_string()),
            last_used_at: last_used_at.map(|at| at.to_string()),
        }
    }
}
