//! What finished batches taught, kept at hand until their histories change.

use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};

use baycast_model::history::History;
use baycast_model::lesson::Lesson;
use baycast_model::pooling::Taught;
use baycast_records::EarlierBatch;
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
    /// Of its history.
    version: String,
    taught: Option<Taught>,
    last_use: u64,
}

/// A finished batch of which it is known what it taught, or its history.
#[derive(Debug, PartialEq)]
pub(super) enum Past {
    /// What it taught, if anything.
    Known(Option<Taught>),
    /// What it was, of which it is still to be found out.
    Read(Box<History>),
}

impl Lessons {
    /// What a batch taught, if that is at hand.
    fn get(&self, farm: &str, batch: &str, version: &str) -> Option<Past> {
        let mut shelf = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        shelf.uses += 1;
        let use_now = shelf.uses;
        let slot = shelf.slots.get_mut(&(farm.to_owned(), batch.to_owned()))?;
        slot.last_use = use_now;
        (slot.version == version).then_some(Past::Known(slot.taught))
    }

    /// Keeps what a batch taught, in place of what it taught with another history.
    fn put(&self, farm: &str, batch: &str, version: &str, taught: Option<Taught>) {
        let mut shelf = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let Shelf { slots, uses } = &mut *shelf;
        *uses += 1;
        let key = (farm.to_owned(), batch.to_owned());
        if slots.len() >= MOST_KEPT
            && !slots.contains_key(&key)
            && let Some(oldest) = slots.iter().min_by_key(|(_, slot)| slot.last_use)
        {
            let oldest = oldest.0.clone();
            slots.remove(&oldest);
        }
        slots.insert(key, Slot { version: version.to_owned(), taught, last_use: *uses });
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
        for (EarlierBatch { batch, version }, past) in past {
            let taught = match past {
                Past::Known(taught) => taught,
                Past::Read(history) => {
                    let fits = weight::check(&history, limits).is_ok();
                    let taught = fits.then(|| Taught::by(&history).ok().flatten()).flatten();
                    self.put(farm, &batch, version.as_str(), taught);
                    taught
                }
            };
            finished.extend(taught.filter(|taught| taught.until <= day).map(|taught| (batch, taught)));
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
            past.push(if let Some(known) = self.lessons.get(farm, &own.batch, own.version.as_str()) {
                (own, known)
            } else {
                // More may have been recorded since it was found.
                let (history, version) = self.records.history(farm, &own.batch).await.map_err(refusal::of)?;
                (EarlierBatch { version, ..own }, Past::Read(Box::new(history)))
            });
        }
        Ok(past)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_batch_taught_is_at_hand_for_its_history_alone_and_within_a_bound() {
        let text = br#"{"batch":"b","site":{"latitude_deg":52},"bay":{"id":"1","length_m":1,"width_m":1,"height_m":1,
            "wall":{"construction":"block"}},"events":[{"at":"2026-06-01","addition":{"feedstock":"grass_mowings","mass_kg":200}},
            {"at":"2026-06-09","reading":{"temperature_c":50}}]}"#;
        let history = crate::parse::history(text).expect("a history");
        let taught = Taught::by(&history).expect("an estimate");
        assert!(taught.is_some());
        let lessons = Lessons::default();
        lessons.put("f", "b", "1/1.2", taught);
        assert_eq!(lessons.get("f", "b", "1/1.2"), Some(Past::Known(taught)));
        lessons.put("f", "b", "1/1.3", None);
        assert_eq!(
            lessons.get("f", "b", "1/1.3"),
            Some(Past::Known(None)),
            "that it taught nothing is known as well"
        );
        assert_eq!(lessons.get("f", "b", "1/1.2"), None);
        assert_eq!(lessons.get("g", "b", "1/1.3"), None);

        for number in 0..MOST_KEPT {
            lessons.put("f", &format!("b{number}"), "1/1.2", taught);
            assert!(lessons.get("f", "b", "1/1.3").is_some(), "used after each other one");
        }
        assert_eq!(lessons.0.lock().expect("no thread panicked").slots.len(), MOST_KEPT);
        assert_eq!(lessons.get("f", "b0", "1/1.2"), None, "the one unused for longest gave way");
    }
}
