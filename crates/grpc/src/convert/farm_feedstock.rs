//! Feedstocks of a farm, in both directions.

use baycast_service::Error;
use baycast_service::records::FarmFeedstock;

use super::feedstock::feedstock;
use super::incoming::Incoming;
use crate::proto;

/// A caller's feedstock, or everything in it that cannot be read. When it was put away is not a caller's to say.
pub fn farm_feedstock(message: Option<proto::FarmFeedstock>) -> Result<FarmFeedstock, Error> {
    Incoming::required(message, "feedstock", |message, at, incoming| {
        let proto::FarmFeedstock { feedstock: own, etag, archived: _ } = message;
        // One that is absent is a problem noted, and what is read in its place is never looked at.
        let own = incoming.message(own, at.member("feedstock")).unwrap_or_default();
        FarmFeedstock { feedstock: feedstock(own, at.member("feedstock"), incoming), etag, archived: None }
    })
}

impl From<FarmFeedstock> for proto::FarmFeedstock {
    fn from(FarmFeedstock { feedstock, etag, archived }: FarmFeedstock) -> Self {
        Self { feedstock: Some(feedstock.into()), etag, archived: archived.map(|at| at.to_string()) }
    }
}
