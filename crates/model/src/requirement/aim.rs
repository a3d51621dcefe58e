//! Which C:N to aim at, for compost that is to be ready in time.

use std::cmp::Reverse;

use jiff::civil::Date;

use crate::estimator::EstimateError;
use crate::recipe::stock::Stock;
use crate::recipe::{MixStanding, Recipe, Targets, told};
use crate::requirement::batch::Batch;
use crate::requirement::latest::{FEW, Searched};
use crate::requirement::need::Need;
use crate::requirement::sizing::{AHEAD_DAYS, Sized};

/// C:N aimed at in turn, from the target down to the least that is taken, in as many steps.
const AIMS: u8 = 4;

/// A C:N, and what comes of it.
pub(super) struct Aimed {
    /// The stock with the C:N that is aimed at.
    pub stock: Stock,
    /// How much of its mix to make.
    pub sized: Sized,
    /// The starts that were looked at.
    pub searched: Searched,
}

/// The C:N to aim at.
///
/// A mix is aimed at its target. Where that is not ready in time in nine cases of ten, as wood often is not whose C:N has far
/// to fall, one with more nitrogen is tried, down to the least that is taken and as long as nothing else leaves its
/// range; if none is, that which comes closest.
pub(super) fn aimed(need: &Need, stock: &Stock, earliest: Date) -> Result<Aimed, EstimateError> {
    let targets = stock.targets;
    let mut closest: Option<(Ranked, usize, Aimed)> = None;
    for step in 0..=AIMS {
        let share = f64::from(step) / f64::from(AIMS);
        let c_to_n = targets.c_to_n - share * (targets.c_to_n - targets.min_c_to_n);
        let stock = Stock { targets: Targets { c_to_n, ..targets }, ..stock.clone() };
        let sized = Sized::new(need, &stock, earliest)?;
        let missed = missed(&told(&stock, &sized.mix));
        if closest.as_ref().is_some_and(|(_, misses, ..)| missed > *misses) {
            break;
        }
        let mix = sized.in_one_bay();
        let batch = Batch { need, stock: &stock, mix: &mix };
        let searched = Searched::new(&batch, earliest)?;
        let (likely, prudent) = (searched.roughly(0.5), searched.roughly(0.9));
        let soonest =
            if likely.is_some() { None } else { batch.started(earliest, FEW, AHEAD_DAYS)?.opens().p50 };
        let ranked = (prudent, likely, soonest.map(Reverse));
        let done = prudent.is_some();
        if closest.as_ref().is_none_or(|(best, ..)| ranked > *best) {
            closest = Some((ranked, missed, Aimed { stock, sized, searched }));
        }
        if done {
            break;
        }
    }
    let (_, _, aimed) = closest.expect("the target itself is tried");
    Ok(aimed)
}

/// How many measures of a mix are out of their ranges.
fn missed(recipe: &Recipe) -> usize {
    recipe.qualities.iter().filter(|quality| quality.standing != MixStanding::Within).count()
}

/// A later prudent start is better, then a later likely one, then one that is ready sooner.
type Ranked = (Option<Date>, Option<Date>, Option<Reverse<Date>>);
