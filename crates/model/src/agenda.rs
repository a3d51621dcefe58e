//! What happens to a batch, in order of time and ready to integrate.

use crate::bay::Bay;
use crate::heap::Material;
use crate::weather::Weather;

/// Something that changes the heap, ready to apply.
#[derive(Clone, Debug, PartialEq)]
pub enum Change {
    /// Material laid on.
    Add(Material),
    /// Material filled up to a share of the bay's height: the amount is what is missing.
    FillTo {
        /// Share of the height.
        fraction: f64,
        /// One loose cubic metre of it.
        per_m3: Material,
    },
    /// Turned within the bay.
    Turn,
    /// Moved into another bay, by index.
    MoveTo(usize),
    /// Another batch's heap, from its own course up to then.
    Merge {
        /// Index into the agenda's sources.
        source: usize,
        /// Whether both are turned together.
        mixed: bool,
    },
    /// Cover on or off.
    Cover(bool),
    /// Water, litres.
    Water(f64),
    /// Firmed.
    Firm,
    /// Volume taken, m³; all where `None`.
    Withdraw(Option<f64>),
    /// Moisture seen: wet-basis fraction and its standard error.
    SeeMoisture {
        /// Seen.
        fraction: f64,
        /// Standard error.
        error: f64,
    },
}

/// A change and its day.
#[derive(Clone, Debug, PartialEq)]
pub struct Dated {
    /// Days since 1970.
    pub day: f64,
    /// The change.
    pub change: Change,
}

/// All that the integration of one batch needs.
#[derive(Clone, Debug, PartialEq)]
pub struct Agenda {
    /// The batch's name.
    pub batch: String,
    /// Bays by index; the first is where it starts.
    pub bays: Vec<Bay>,
    /// Weather.
    pub weather: Weather,
    /// Changes in order of time.
    pub changes: Vec<Dated>,
    /// Merged batches, each cut off at its merge.
    pub sources: Vec<Agenda>,
}

impl Agenda {
    /// The bay that the batch stands in at `day`, by index.
    #[must_use]
    pub fn bay_at(&self, day: f64) -> usize {
        let moves = self.changes.iter().take_while(|dated| dated.day <= day);
        moves.fold(0, |bay, dated| if let Change::MoveTo(to) = dated.change { to } else { bay })
    }

    /// Day up to which a run of this agenda is one of `other` too: none where anything but the weather differs.
    pub(crate) fn alike_until(&self, other: &Self) -> f64 {
        let Self { batch: _, bays, weather, changes, sources } = self;
        if *bays != other.bays || *changes != other.changes || sources.len() != other.sources.len() {
            return f64::NEG_INFINITY;
        }
        let sources = sources.iter().zip(&other.sources).map(|(own, its)| own.alike_until(its));
        sources.fold(weather.alike_until(&other.weather), f64::min)
    }

    /// Whether a run of this agenda up to `day` is one of `other` too.
    pub(crate) fn same_until(&self, other: &Self, day: f64) -> bool {
        let known = |agenda: &Self| agenda.changes.partition_point(|dated| dated.day <= day);
        let (own, its) = (known(self), known(other));
        let merged =
            self.changes[..own].iter().filter(|dated| matches!(dated.change, Change::Merge { .. })).count();
        own == its
            && self.changes[..own] == other.changes[..its]
            && self.bays == other.bays
            && self.weather.alike_until(&other.weather) >= day
            && self
                .sources
                .iter()
                .zip(&other.sources)
                .take(merged)
                .all(|(own, its)| own.alike_until(its) >= day)
    }

    /// Bytes that it takes, names and bays left out.
    pub(crate) fn bytes(&self) -> usize {
        let sources: usize = self.sources.iter().map(Self::bytes).sum();
        size_of::<Self>() + self.weather.bytes() + self.changes.capacity() * size_of::<Dated>() + sources
    }
}
