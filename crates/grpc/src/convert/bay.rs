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

/// What stands for a bay that is absent, which is a problem noted already.
pub fn nothing() -> Bay {
    Bay {
        id: String::new(),
        length_m: f64::NAN,
        width_m: f64::NAN,
        height_m: f64::NAN,
        wall: Wall::default(),
        base: Base::default(),
        top: Top::default(),
    }
}

impl From<Bay> for proto::Bay {
    fn from(Bay { id, length_m, width_m, height_m, wall, base, top }: Bay) -> Self {
        Self {
            id,
            length_m: Some(length_m),
            width_m: Some(width_m),
            height_m: Some(height_m),
            wall: Some(wall.into()),
            base: proto::Base::from(base).into(),
            top: proto::Top::from(top).into(),
        }
    }
}

impl From<Wall> for proto::Wall {
    fn from(Wall { construction, layers }: Wall) -> Self {
        let layer = |Layer { thickness_m, conductivity_w_m_k }| proto::Layer {
            thickness_m: Some(thickness_m),
            conductivity_w_m_k: Some(conductivity_w_m_k),
        };
        Self {
            construction: proto::Construction::from(construction).into(),
            layers: layers.into_iter().map(layer).collect(),
        }
    }
}
