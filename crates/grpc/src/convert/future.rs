//! What could be done about a heap, on the way out.

use baycast_model::futures::{Future, SeedsLeft, Step};

use super::word::word;
use crate::proto;

word!(Step, proto::Step { Leave TurnNow TurnInTwoWeeks AddWood Cover });

impl From<Future> for proto::Future {
    fn from(Future { step, on, opens, earlier_days, volume_m3, seeds }: Future) -> Self {
        Self {
            step: proto::Step::from(step).into(),
            on: on.to_string(),
            opens: Some(opens.into()),
            earlier_days: earlier_days.map(Into::into),
            volume_m3: Some(volume_m3.into()),
            seeds: Some(seeds.into()),
        }
    }
}

impl From<SeedsLeft> for proto::SeedsLeft {
    fn from(SeedsLeft { soft_fraction, medium_fraction, hard_fraction }: SeedsLeft) -> Self {
        Self { soft_fraction, medium_fraction, hard_fraction }
    }
}
