//! The latest start for which a batch is ready in time.

use jiff::ToSpan;
use jiff::civil::Date;

use crate::ensemble::MEMBERS;
use crate::estimator::EstimateError;
use crate::requirement::batch::Batch;

/// Heaps looked at in the first search.
pub(super) const FEW: usize = 12;
/// Days between two starts that are looked at, at least, and most starts that few heaps are looked at for.
const STEP_DAYS: i32 = 7;
const LOOKS: i32 = 26;
/// Days later than the few heaps have it at which the search with all of them begins.
const LATER_DAYS: i32 = 21;

/// Starts that were looked at with few heaps, the latest first, with how probable each has it to be in time.
pub(super) struct Searched {
    earliest: Date,
    latest: Date,
    looks: Vec<(Date, f64)>,
}

impl Searched {
    /// Looks at starts a week apart or, where that is too many, more, from the last that could do to the first on which nine in ten are in time.
    ///
    /// An earlier start is not always ready earlier: what starts in the cold may lie until spring. So starts are looked at in
    /// turn from the last on, and only within one step by halves.
    pub fn new(batch: &Batch<'_>, earliest: Date) -> Result<Self, EstimateError> {
        let wanted = &batch.need.wanted;
        let latest = wanted.by.saturating_sub((wanted.filling_days() + 1).days()).max(earliest);
        let weeks = earliest.until(latest).map_or(0, |span| span.get_days()) / STEP_DAYS;
        let step = (STEP_DAYS * (1 + weeks / LOOKS)).days();
        let mut looks = Vec::new();
        let mut start = latest;
        loop {
            let sure = batch.in_time(start, FEW)?;
            looks.push((start, sure));
            if sure >= 0.9 || start <= earliest {
                return Ok(Self { earliest, latest, looks });
            }
            start = start.saturating_sub(step).max(earliest);
        }
    }

    /// The latest start by the few heaps, or none.
    pub fn roughly(&self, sure: f64) -> Option<Date> {
        self.looks.iter().find(|(_, own)| *own >= sure).map(|(start, _)| *start)
    }

    /// The latest start of the same batch with all heaps, to the day, or none.
    pub fn latest(&self, batch: &Batch<'_>, sure: f64) -> Result<Option<Date>, EstimateError> {
        let rough = self.roughly(sure).unwrap_or(self.earliest);
        let enough = |start: Date| Ok::<_, EstimateError>(batch.in_time(start, MEMBERS)? >= sure);
        let mut start = rough.saturating_add(LATER_DAYS.days()).min(self.latest);
        let mut too_late = start;
        if enough(start)? {
            // The few heaps were too slow: later ones do as well.
            while start < self.latest {
                too_late = start.saturating_add(STEP_DAYS.days()).min(self.latest);
                if !enough(too_late)? {
                    break;
                }
                start = too_late;
            }
        } else {
            loop {
                if start <= self.earliest {
                    return Ok(None);
                }
                too_late = start;
                start = start.saturating_sub(STEP_DAYS.days()).max(self.earliest);
                if enough(start)? {
                    break;
                }
            }
        }
        // Within a week, by halves.
        loop {
            let days = start.until(too_late).map_or(0, |span| span.get_days());
            if days <= 1 {
                return Ok(Some(start));
            }
            let middle = start.saturating_add((days / 2).days());
            if enough(middle)? {
                start = middle;
            } else {
                too_late = middle;
            }
        }
    }
}
