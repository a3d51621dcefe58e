//! What finished batches taught, kept at hand until their histories change.

use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};

use baycast_model::history::History;
use baycast_model::lesson::Lesson;
use baycast_model::pooling::Taught;
use baycast_records::{EarlierBatch, HistoryVersion};
use jiff::civil::Date;

use crate::error::Error;
use crate::limits::Limits;
use crate::records::refusal;
use crate::records::store::Store;
use crate::weight;

/// Most batches whose teachings are kept at hand.
const MOST_KEPT: usize = 4096;

/// What finished batches taught, for as long as they are the same. The one unused for longest gives way.
#[derive(Debug, Default)]
pub struct Lessons(Mutex<Shelf>);

#[derive(Debug, Default)]
struct Shelf {
    /// By farm and batch.
    slots: HashMap<(String, String), Slot>,
    /// Counts uses.
    uses: u64,
}

#[derive(Debug)]
struct Slot {
    version: HistoryVersion,
    taught: Option<Taught>,
    last_use: u64,
}

/// A finished batch of which it is known what it taught, or its history.
#[derive(Debug)]
pub(super) enum Past {
    /// What it taught, if anything.
    Known(Option<Taught>),
    /// What it was, of which it is still to be found out.
    Read(Box<History>),
}

impl Lessons {
    /// What a batch taught, if that is at hand.
    fn get(&self, farm: &str, earlier: &EarlierBatch) -> Option<Option<Taught>> {
        let mut shelf = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        shelf.uses += 1;
        let use_now = shelf.uses;
        let slot = shelf.slots.get_mut(&(farm.to_owned(), earlier.batch.clone()))?;
        slot.last_use = use_now;
        (slot.version == earlier.version).then_some(slot.taught)
    }

    /// Keeps what a batch taught, in place of what it taught with another history.
    fn put(&self, farm: &str, earlier: EarlierBatch, taught: Option<Taught>) {
        let mut shelf = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let Shelf { slots, uses } = &mut *shelf;
        *uses += 1;
        let EarlierBatch { batch, version } = earlier;
        let key = (farm.to_owned(), batch);
        if slots.len() >= MOST_KEPT
            && !slots.contains_key(&key)
            && let Some(oldest) = slots.iter().min_by_key(|(_, slot)| slot.last_use)
        {
            let oldest = oldest.0.clone();
            slots.remove(&oldest);
        }
        slots.insert(key, Slot { version, taught, last_use: *uses });
    }

    /// The lesson of finished batches as it was to be had on a day: what was seen later was not known then. A batch that
    /// cannot be estimated teaches nothing.
    pub(super) fn lesson(
        &self,
        farm: &str,
        past: Vec<(EarlierBatch, Past)>,
        day: Date,
        limits: &Limits,
    ) -> Option<Lesson> {
        let mut finished = Vec::new();
        for (earlier, past) in past {
            let name = earlier.batch.clone();
            let taught = match past {
                Past::Known(taught) => taught,
                Past::Read(history) => {
                    let fits = weight::check(&history, limits).is_ok();
                    let taught = fits.then(|| Taught::by(&history).ok().flatten()).flatten();
                    self.put(farm, earlier, taught);
                    taught
                }
            };
            finished.extend(taught.filter(|taught| taught.until <= day).map(|taught| (name, taught)));
        }
        Lesson::of(&finished)
    }
}

impl Store {
    /// Reads the histories of those finished batches of which it is not at hand what they taught.
    pub(super) async fn past(
        &self,
        farm: &str,
        earlier: Vec<EarlierBatch>,
    ) -> Result<Vec<(EarlierBatch, Past)>, Error> {
        let mut past = Vec::new();
        for own in earlier {
            past.push(if let Some(taught) = self.lessons.get(farm, &own) {
                (own, Past::Known(taught))
            } else {
                // More may have been recorded since it was found.
                let (history, version) = self.records.history(farm, &own.batch).await.map_err(refusal::of)?;
                (EarlierBatch { version, ..own }, Past::Read(Box::new(history)))
            });
        }
        Ok(past)
    }
}
