//! Bays and their walls.

use baycast_model::bay::{Base, Bay, Construction, Layer, Top, Wall};
use baycast_service::pointer::Pointer;

use super::incoming::Incoming;
use super::word::word;
use crate::proto;

word!(Construction, proto::Construction {
    ThinPlastic SlattedTimber TimberBoards CardboardLined StrawBale Block OpenHeap
});
word!(Base, proto::Base { Soil Slab });
word!(Top, proto::Top { Open Roofed Lidded });

/// A bay, as far as it can be read.
pub fn bay(message: proto::Bay, at: Pointer<'_>, incoming: &mut Incoming) -> Bay {
    let proto::Bay { id, length_m, width_m, height_m, wall: sides, base, top } = message;
    let sides = incoming.message(sides, at.member("wall"));
    Bay {
        id,
        length_m: incoming.number(length_m, at.member("length_m")),
        width_m: incoming.number(width_m, at.member("width_m")),
        height_m: incoming.number(height_m, at.member("height_m")),
        wall: sides.map(|sides| wall(sides, at.member("wall"), incoming)).unwrap_or_default(),
        base: incoming.optional_word(base, at.member("base")).unwrap_or_default(),
        top: incoming.optional_word(top, at.member("top")).unwrap_or_default(),
    }
}

/// A wall.
fn wall(message: proto::Wall, at: Pointer<'_>, incoming: &mut Incoming) -> Wall {
    let proto::Wall { construction, layers } = message;
    let construction = incoming.word(construction, at.member("construction")).unwrap_or_default();
    let list = at.member("layers");
    let layers = layers.into_iter().enumerate();
    Wall {
        construction,
        layers: layers.map(|(index, one)| layer(one, list.element(index), incoming)).collect(),
    }
}

/// A layer of a wall.
fn layer(message: proto::Layer, at: Pointer<'_>, incoming: &mut Incoming) -> Layer {
    let proto::Layer { thickness_m, conductivity_w_m_k } = message;
    Layer {
        thickness_m: incoming.number(thickness_m, at.member("thickness_m")),
        conductivity_w_m_k: incoming.number(conductivity_w_m_k, at.member("conductivity_w_m_k")),
    }
}
