//! What estimates of stored batches worked out, kept within a bound of bytes until the batch is asked for again.
//!
//! Nothing here decides what may be used again: the model does, and gives the same answer whatever it is handed.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use baycast_model::Checkpoint;

/// The last checkpoint of each batch. The ones unused for longest give way.
#[derive(Debug)]
pub struct Checkpoints {
    most_bytes: usize,
    shelf: Mutex<Shelf>,
}

#[derive(Debug, Default)]
struct Shelf {
    /// By farm and batch.
    slots: HashMap<(String, String), Slot>,
    bytes: usize,
    /// Counts uses.
    uses: u64,
}

#[derive(Debug)]
struct Slot {
    checkpoint: Arc<Checkpoint>,
    bytes: usize,
    last_use: u64,
}

impl Checkpoints {
    /// Room for so many bytes.
    pub(super) fn new(most_bytes: usize) -> Self {
        Self { most_bytes, shelf: Mutex::default() }
    }

    /// The last one of a batch, if it is still there.
    pub(super) fn get(&self, farm: &str, batch: &str) -> Option<Arc<Checkpoint>> {
        let mut shelf = self.shelf.lock().unwrap_or_else(PoisonError::into_inner);
        shelf.uses += 1;
        let use_now = shelf.uses;
        let slot = shelf.slots.get_mut(&(farm.to_owned(), batch.to_owned()))?;
        slot.last_use = use_now;
        Some(slot.checkpoint.clone())
    }

    /// Keeps one in place of the batch's last; one too large for all the room there is is not kept.
    pub(super) fn put(&self, farm: &str, batch: &str, checkpoint: Checkpoint) {
        let bytes = checkpoint.bytes();
        let mut shelf = self.shelf.lock().unwrap_or_else(PoisonError::into_inner);
        let mut gone: Vec<Option<Slot>> = Vec::new();
        gone.push(shelf.remove(&(farm.to_owned(), batch.to_owned())));
        if bytes <= self.most_bytes {
            while shelf.bytes + bytes > self.most_bytes {
                let oldest = shelf.slots.iter().min_by_key(|(_, slot)| slot.last_use);
                let Some(oldest) = oldest.map(|(batch, _)| batch.clone()) else { break };
                gone.push(shelf.remove(&oldest));
            }
            shelf.uses += 1;
            let slot = Slot { checkpoint: Arc::new(checkpoint), bytes, last_use: shelf.uses };
            shelf.bytes += bytes;
            shelf.slots.insert((farm.to_owned(), batch.to_owned()), slot);
        }
        drop(shelf);
        // Thousands of pieces are given back to the machine, while others may go on.
        drop(gone);
    }
}

impl Shelf {
    fn remove(&mut self, batch: &(String, String)) -> Option<Slot> {
        let slot = self.slots.remove(batch)?;
        self.bytes -= slot.bytes;
        Some(slot)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn checkpoint() -> Checkpoint {
        let text = br#"{"batch":"b","site":{"latitude_deg":52},"bay":{"id":"1","length_m":1,"width_m":1,"height_m":1,
            "wall":{"construction":"block"}},"events":[{"at":"2026-06-01","addition":{"feedstock":"grass_mowings","mass_kg":200}}]}"#;
        let history = crate::parse::history(text).expect("a history");
        let day = jiff::civil::date(2026, 7, 1);
        baycast_model::estimate_from(&history, day, None).expect("an estimate").1
    }

    #[test]
    fn there_is_room_for_so_many_bytes_and_the_one_unused_for_longest_gives_way() {
        // A copy has no room to spare, so all copies of it are of one size.
        let one = checkpoint().clone();
        let bytes = one.bytes();
        let kept = Checkpoints::new(3 * bytes);
        for batch in ["a", "b", "c"] {
            kept.put("farm", batch, one.clone());
        }
        assert!(kept.get("farm", "a").is_some());
        kept.put("farm", "d", one.clone());
        assert!(kept.get("farm", "b").is_none(), "unused for longest");
        for batch in ["a", "c", "d"] {
            assert!(kept.get("farm", batch).is_some(), "{batch}");
        }
        assert!(kept.get("another farm", "a").is_none());
        kept.put("farm", "d", one.clone());
        assert_eq!(kept.shelf.lock().expect("no thread panicked").bytes, 3 * bytes);

        let small = Checkpoints::new(bytes - 1);
        small.put("farm", "a", one);
        assert!(small.get("farm", "a").is_none(), "larger than all the room");
    }
}
