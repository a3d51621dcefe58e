//! Bays of a farm, in both directions.

use baycast_service::Error;
use baycast_service::records::FarmBay;

use super::bay::{bay, nothing};
use super::incoming::Incoming;
use crate::proto;

/// A caller's bay, or everything in it that cannot be read. When it was put away is not a caller's to say.
pub fn farm_bay(message: Option<proto::FarmBay>) -> Result<FarmBay, Error> {
    Incoming::required(message, "bay", |message, at, incoming| {
        let proto::FarmBay { bay: own, position, etag, archived: _ } = message;
        let own = incoming.message(own, at.member("bay"));
        let own = own.map_or_else(nothing, |own| bay(own, at.member("bay"), incoming));
        FarmBay { bay: own, position, etag, archived: None }
    })
}

impl From<FarmBay> for proto::FarmBay {
    fn from(FarmBay { bay, position, etag, archived }: FarmBay) -> Self {
        Self { bay: Some(bay.into()), position, etag, archived: archived.map(|at| at.to_string()) }
    }
}
