//! What was learned of a heap, on the way out.

use baycast_model::learned::{Factor, Input, Learned, Look, Moved, NextLook, Trust};

use super::estimate::all;
use super::word::word;
use crate::proto;

word!(Trust, proto::Trust { MaterialsOnly FewReadings Readings ReadingsDisagree });
word!(Input, proto::Input { CoreReadings EdgeReadings MoistureNotes LevelSightings EarlierBatches });
word!(Look, proto::Look { CoreReading EdgeReading Moisture Level });

impl From<Learned> for proto::Learned {
    fn from(learned: Learned) -> Self {
        let Learned { trust, reason, observations, factors, probe_bias_c, volume_factor, moved, next_look } =
            learned;
        Self {
            trust: proto::Trust::from(trust).into(),
            reason,
            observations,
            factors: all(factors),
            probe_bias_c: Some(probe_bias_c.into()),
            volume_factor: Some(volume_factor.into()),
            moved: all(moved),
            next_look: next_look.map(Into::into),
        }
    }
}

impl From<Factor> for proto::Factor {
    fn from(Factor { unknown, before, after }: Factor) -> Self {
        Self {
            unknown: proto::Unknown::from(unknown).into(),
            before: Some(before.into()),
            after: Some(after.into()),
        }
    }
}

impl From<Moved> for proto::Moved {
    fn from(Moved { by, count, later_days }: Moved) -> Self {
        Self { by: proto::Input::from(by).into(), count, later_days }
    }
}

impl From<NextLook> for proto::NextLook {
    fn from(NextLook { at, on, range_now_days, range_then_days }: NextLook) -> Self {
        Self { at: proto::Look::from(at).into(), on: on.to_string(), range_now_days, range_then_days }
    }
}
