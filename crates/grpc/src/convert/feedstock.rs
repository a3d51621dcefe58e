//! Materials, in both directions.

use baycast_model::feedstock::{Feedstock, Structure, ValueSource};
use baycast_service::pointer::Pointer;

use super::incoming::Incoming;
use super::word::word;
use crate::proto;

word!(Structure, proto::Structure { Porous Mixed Matting });

/// A caller's material, as far as it can be read.
pub fn feedstock(message: proto::Feedstock, at: Pointer<'_>, incoming: &mut Incoming) -> Feedstock {
    let proto::Feedstock {
        id,
        name,
        moisture_fraction,
        nitrogen_fraction,
        c_to_n,
        ash_fraction,
        bulk_density_kg_m3,
        fast_fraction,
        slow_fraction,
        structure,
        note,
        sources,
    } = message;
    Feedstock {
        id,
        name,
        moisture_fraction: incoming.number(moisture_fraction, at.member("moisture_fraction")),
        nitrogen_fraction: incoming.number(nitrogen_fraction, at.member("nitrogen_fraction")),
        c_to_n: incoming.number(c_to_n, at.member("c_to_n")),
        ash_fraction: incoming.number(ash_fraction, at.member("ash_fraction")),
        bulk_density_kg_m3: incoming.number(bulk_density_kg_m3, at.member("bulk_density_kg_m3")),
        fast_fraction: incoming.number(fast_fraction, at.member("fast_fraction")),
        slow_fraction: incoming.number(slow_fraction, at.member("slow_fraction")),
        structure: incoming.optional_word(structure, at.member("structure")).unwrap_or_default(),
        note,
        sources: sources
            .into_iter()
            .map(|proto::ValueSource { field, citation, checked }| ValueSource { field, citation, checked })
            .collect(),
    }
}

impl From<Feedstock> for proto::Feedstock {
    fn from(feedstock: Feedstock) -> Self {
        let Feedstock {
            id,
            name,
            moisture_fraction,
            nitrogen_fraction,
            c_to_n,
            ash_fraction,
            bulk_density_kg_m3,
            fast_fraction,
            slow_fraction,
            structure,
            note,
            sources,
        } = feedstock;
        Self {
            id,
            name,
            moisture_fraction: Some(moisture_fraction),
            nitrogen_fraction: Some(nitrogen_fraction),
            c_to_n: Some(c_to_n),
            ash_fraction: Some(ash_fraction),
            bulk_density_kg_m3: Some(bulk_density_kg_m3),
            fast_fraction: Some(fast_fraction),
            slow_fraction: Some(slow_fraction),
            structure: proto::Structure::from(structure).into(),
            note,
            sources: sources
                .into_iter()
                .map(|ValueSource { field, citation, checked }| proto::ValueSource {
                    field,
                    citation,
                    checked,
                })
                .collect(),
        }
    }
}
