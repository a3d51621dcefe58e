//! Events on the way out.

use baycast_model::history::{
    Addition, Cover, Event, Firming, Level, Merge, MoistureNote, Move, Reading, Turn, Watering, Withdrawal,
};

use crate::proto::{self, event::Detail};

impl From<Event> for proto::Event {
    /// The event with the detail that it has: what is recorded has exactly one.
    fn from(event: Event) -> Self {
        let Event {
            at,
            id,
            addition,
            reading,
            moisture,
            level,
            turn,
            moved,
            merge,
            cover,
            watering,
            firming,
            withdrawal,
        } = event;
        let detail = addition
            .map(|addition| Detail::Addition(addition.into()))
            .or_else(|| reading.map(|reading| Detail::Reading(reading.into())))
            .or_else(|| moisture.map(|moisture| Detail::Moisture(moisture.into())))
            .or_else(|| {
                level.map(|Level { fill_fraction }| {
                    Detail::Level(proto::Level { fill_fraction: Some(fill_fraction) })
                })
            })
            .or_else(|| turn.map(|Turn {}| Detail::Turn(proto::Turn {})))
            .or_else(|| moved.map(|Move { to_bay }| Detail::Move(proto::Move { to_bay })))
            .or_else(|| merge.map(|merge| Detail::Merge(merge.into())))
            .or_else(|| cover.map(|cover| Detail::Cover(cover.into())))
            .or_else(|| {
                watering.map(|Watering { litres }| Detail::Watering(proto::Watering { litres: Some(litres) }))
            })
            .or_else(|| firming.map(|Firming {}| Detail::Firming(proto::Firming {})))
            .or_else(|| {
                withdrawal.map(|Withdrawal { volume_m3 }| Detail::Withdrawal(proto::Withdrawal { volume_m3 }))
            });
        Self { at: at.to_string(), id, detail }
    }
}

impl From<Addition> for proto::Addition {
    fn from(addition: Addition) -> Self {
        let Addition {
            feedstock,
            mass_kg,
            volume_m3,
            barrows,
            filled_to_fraction,
            moisture_fraction,
            temperature_c,
            preparation,
        } = addition;
        Self {
            feedstock,
            mass_kg,
            volume_m3,
            barrows,
            filled_to_fraction,
            moisture_fraction,
            temperature_c,
            preparation: proto::Preparation::from(preparation).into(),
        }
    }
}

impl From<Reading> for proto::Reading {
    fn from(Reading { temperature_c, temperature_f, depth_m, zone, ambient_c }: Reading) -> Self {
        let zone = zone.map_or(proto::Zone::Unspecified, Into::into).into();
        Self { temperature_c, temperature_f, depth_m, zone, ambient_c }
    }
}

impl From<MoistureNote> for proto::MoistureNote {
    fn from(MoistureNote { percent, squeeze }: MoistureNote) -> Self {
        Self { percent, squeeze: squeeze.map_or(proto::Squeeze::Unspecified, Into::into).into() }
    }
}

impl From<Merge> for proto::Merge {
    fn from(Merge { source, placement }: Merge) -> Self {
        Self { source, placement: proto::Placement::from(placement).into() }
    }
}

impl From<Cover> for proto::Cover {
    fn from(Cover { state }: Cover) -> Self {
        Self { state: proto::CoverState::from(state).into() }
    }
}
