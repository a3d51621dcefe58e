//! Farms, in both directions.

use baycast_service::Error;
use baycast_service::records::Farm;

use super::incoming::Incoming;
use super::site::{nowhere, site};
use crate::proto;

/// A caller's farm, or everything in it that cannot be read. When it was put away is not a caller's to say.
pub fn farm(message: Option<proto::Farm>) -> Result<Farm, Error> {
    Incoming::required(message, "farm", |message, at, incoming| {
        let proto::Farm { id, name, site: place, time_zone, barrow_m3, etag, archived: _ } = message;
        let place = incoming.message(place, at.member("site"));
        let place = place.map_or_else(nowhere, |place| site(place, at.member("site"), incoming));
        Farm { id, name, site: place, time_zone, barrow_m3, etag, archived: None }
    })
}

impl From<Farm> for proto::Farm {
    fn from(Farm { id, name, site, time_zone, barrow_m3, etag, archived }: Farm) -> Self {
        let archived = archived.map(|at| at.to_string());
        Self { id, name, site: Some(site.into()), time_zone, barrow_m3, etag, archived }
    }
}
