//! Histories as messages of gRPC.

use baycast_grpc::proto::{Addition, Bay, Construction, Event, History, Site, Wall, event::Detail};

/// A batch in a pallet bay of 1.1 m³ at 52° N.
pub fn pallet(batch: &str, as_of: &str, events: Vec<Event>) -> History {
    History {
        batch: batch.to_owned(),
        as_of: Some(as_of.to_owned()),
        site: Some(Site { latitude_deg: Some(52.0), ..Site::default() }),
        bay: Some(Bay {
            id: "pallet-1".to_owned(),
            length_m: Some(1.0),
            width_m: Some(1.0),
            height_m: Some(1.1),
            wall: Some(Wall { construction: Construction::CardboardLined.into(), layers: Vec::new() }),
            ..Bay::default()
        }),
        events,
        ..History::default()
    }
}

/// What was done or seen at a time.
pub fn event(at: &str, detail: Detail) -> Event {
    Event { at: at.to_owned(), id: None, detail: Some(detail) }
}

/// So much of a material.
pub fn addition(feedstock: &str, mass_kg: f64) -> Detail {
    Detail::Addition(Addition {
        feedstock: feedstock.to_owned(),
        mass_kg: Some(mass_kg),
        ..Addition::default()
    })
}
