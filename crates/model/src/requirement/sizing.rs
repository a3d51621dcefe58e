//! How much to mix, and into how many bays, for a volume of compost.

use jiff::civil::Date;

use crate::ensemble::MEMBERS;
use crate::estimator::EstimateError;
use crate::recipe::proportions::{Proportions, best};
use crate::recipe::stock::Stock;
use crate::requirement::batch::Batch;
use crate::requirement::need::Need;

/// A mix for all bays.
pub(super) struct Sized {
    /// All that goes in.
    pub mix: Proportions,
    /// Into how many bays alike.
    pub bays: u32,
}

/// What remains at opening of what goes in loose, before any batch was looked at. Estimate.
const REMAINING: f64 = 0.35;
/// Rounds in which the amount is brought to what is needed.
const ROUNDS: usize = 4;
/// Share by which the middle volume at opening may miss what is needed.
const NEAR: f64 = 0.01;
/// Days ahead that a batch is followed.
pub(super) const AHEAD_DAYS: i32 = 730;

impl Sized {
    /// What goes into one bay.
    pub fn in_one_bay(&self) -> Proportions {
        self.mix.times(1.0 / f64::from(self.bays))
    }

    /// The amount of which the middle volume at opening is what is needed, for a start on the earliest day: what is left then
    /// hangs on how far it has broken down, hardly on the season.
    ///
    /// A bay is not filled over its brim; what does not go into one goes into several alike.
    pub fn new(need: &Need, stock: &Stock, earliest: Date) -> Result<Self, EstimateError> {
        let wanted = need.wanted.volume_m3;
        let mut sized = Self::of(need, stock, wanted / REMAINING);
        for _ in 0..ROUNDS {
            let mix = sized.in_one_bay();
            let batch = Batch { need, stock, mix: &mix };
            let left_m3 = batch.started(earliest, MEMBERS, AHEAD_DAYS)?.middle_m3();
            let Some(left_m3) = left_m3.map(|one| one * f64::from(sized.bays)) else { break };
            if (left_m3 / wanted - 1.0).abs() < NEAR {
                break;
            }
            sized = Self::of(need, stock, stock.mix(&sized.mix).loose_m3 * wanted / left_m3);
        }
        Ok(sized)
    }

    /// The best mix of a loose volume: of what is on hand as far as it goes, beyond that in the proportions that are best.
    fn of(need: &Need, stock: &Stock, volume_m3: f64) -> Self {
        let (least, most) = stock.volumes_m3();
        let mix = if volume_m3 <= most {
            best(&Stock { volume_m3: Some(volume_m3.max(least)), ..stock.clone() })
        } else {
            let mix = best(stock);
            mix.times(volume_m3 / stock.mix(&mix).loose_m3)
        };
        let bays = (stock.mix(&mix).loose_m3 / need.bay.capacity_m3() - 1e-9).ceil().max(1.0);
        Self { mix, bays: bays as u32 }
    }
}
