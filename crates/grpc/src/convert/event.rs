//! Events and their details.

use baycast_model::history::{
    Addition, Cover, CoverState, Event, Firming, Level, Merge, MoistureNote, Move, Placement, Preparation,
    Reading, Squeeze, Turn, Watering, Withdrawal, Zone,
};
use baycast_model::moment::Moment;
use baycast_service::pointer::Pointer;
use jiff::civil::Date;

use super::incoming::Incoming;
use super::word::word;
use crate::proto::{self, event::Detail};

/// The forms of a moment.
pub const TIME: &str = "a date like 2026-04-30 or a time like 2026-04-30T18:00:00Z";

word!(Preparation, proto::Preparation { AsListed Shredded });
word!(Zone, proto::Zone { Core Edge });
word!(Squeeze, proto::Squeeze { Dry Crumbles Damp Drips });
word!(Placement, proto::Placement { Mixed OnTop });
word!(CoverState, proto::CoverState { On Off });

/// An event, as far as it can be read. One without a detail is read as such, and refused by the model.
pub fn event(message: proto::Event, at: Pointer<'_>, incoming: &mut Incoming) -> Event {
    let proto::Event { at: when, id, detail } = message;
    let when = incoming.parsed(&when, at.member("at"), TIME).unwrap_or(Moment::Date(Date::ZERO));
    let mut event = Event { id, ..Event::at(when) };
    match detail {
        None => {}
        Some(Detail::Addition(detail)) => {
            event.addition = Some(addition(detail, at.member("addition"), incoming));
        }
        Some(Detail::Reading(detail)) => {
            event.reading = Some(reading(&detail, at.member("reading"), incoming));
        }
        Some(Detail::Moisture(detail)) => {
            event.moisture = Some(moisture(&detail, at.member("moisture"), incoming));
        }
        Some(Detail::Level(proto::Level { fill_fraction })) => {
            let fill_fraction = incoming.number(fill_fraction, at.member("level").member("fill_fraction"));
            event.level = Some(Level { fill_fraction });
        }
        Some(Detail::Turn(proto::Turn {})) => event.turn = Some(Turn {}),
        Some(Detail::Move(proto::Move { to_bay })) => event.moved = Some(Move { to_bay }),
        Some(Detail::Merge(proto::Merge { source, placement })) => {
            let placement = incoming.optional_word(placement, at.member("merge").member("placement"));
            event.merge = Some(Merge { source, placement: placement.unwrap_or_default() });
        }
        Some(Detail::Cover(proto::Cover { state })) => {
            event.cover =
                incoming.word(state, at.member("cover").member("state")).map(|state| Cover { state });
        }
        Some(Detail::Watering(proto::Watering { litres })) => {
            let litres = incoming.number(litres, at.member("watering").member("litres"));
            event.watering = Some(Watering { litres });
        }
        Some(Detail::Firming(proto::Firming {})) => event.firming = Some(Firming {}),
        Some(Detail::Withdrawal(proto::Withdrawal { volume_m3 })) => {
            event.withdrawal = Some(Withdrawal { volume_m3 });
        }
    }
    event
}

/// Material put in.
fn addition(message: proto::Addition, at: Pointer<'_>, incoming: &mut Incoming) -> Addition {
    let proto::Addition {
        feedstock,
        mass_kg,
        volume_m3,
        barrows,
        filled_to_fraction,
        moisture_fraction,
        temperature_c,
        preparation,
    } = message;
    let preparation = incoming.optional_word(preparation, at.member("preparation")).unwrap_or_default();
    Addition {
        feedstock,
        mass_kg,
        volume_m3,
        barrows,
        filled_to_fraction,
        moisture_fraction,
        temperature_c,
        preparation,
    }
}

/// A probe reading.
fn reading(message: &proto::Reading, at: Pointer<'_>, incoming: &mut Incoming) -> Reading {
    let proto::Reading { temperature_c, temperature_f, depth_m, zone, ambient_c } = *message;
    let zone = incoming.optional_word(zone, at.member("zone"));
    Reading { temperature_c, temperature_f, depth_m, zone, ambient_c }
}

/// A moisture note.
fn moisture(message: &proto::MoistureNote, at: Pointer<'_>, incoming: &mut Incoming) -> MoistureNote {
    let proto::MoistureNote { percent, squeeze } = *message;
    MoistureNote { percent, squeeze: incoming.optional_word(squeeze, at.member("squeeze")) }
}
