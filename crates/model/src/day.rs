//! The members on one day.

use crate::course::Snapshot;
use crate::ensemble::Member;
use crate::estimate::Spread;
use crate::history::Zone;
use crate::weighted::spread;

/// Members that have a heap on a day, with their heaps.
pub(crate) struct Day<'a> {
    at: f64,
    heaps: Vec<(Snapshot, &'a Member)>,
}

impl<'a> Day<'a> {
    /// The members on `day`.
    pub(crate) fn new(members: &'a [Member], day: f64) -> Self {
        let heaps = members.iter().filter_map(|member| Some((member.course.at(day)?, member))).collect();
        Self { at: day, heaps }
    }

    /// A quantity over the members, `None` where none has a heap.
    pub(crate) fn spread(&self, of: impl Fn(&Snapshot) -> f64) -> Option<Spread> {
        self.spread_of(|snapshot, _| [of(snapshot)])
    }

    /// A zone's temperature, °C: the members', each with its error.
    pub(crate) fn temperature(&self, zone: Zone) -> Option<Spread> {
        self.spread_of(|snapshot, member| {
            let (error, deviation) = member.judged.zone(zone).error_c(self.at);
            let expected = snapshot.heap.zone(zone).temperature_c + error;
            member.fifths.map(|z| expected + z * deviation)
        })
    }

    /// The maturity index.
    pub(crate) fn maturity_index(&self) -> Option<Spread> {
        self.spread_of(|snapshot, member| [member.maturity_index(snapshot.heap.degraded_fraction())])
    }

    /// The volume, m³: the members', each with its error.
    pub(crate) fn volume_m3(&self) -> Option<Spread> {
        self.spread_of(|snapshot, member| {
            let (factor, deviation) = member.judged.volume.at(self.at);
            member.fifths.map(|z| snapshot.heap.volume_m3() * (factor + z * deviation).exp())
        })
    }

    /// Equally likely values of each member.
    fn spread_of<const N: usize>(&self, of: impl Fn(&Snapshot, &Member) -> [f64; N]) -> Option<Spread> {
        let values: Vec<_> = self
            .heaps
            .iter()
            .flat_map(|(snapshot, member)| of(snapshot, member).map(|value| (value, member.weight)))
            .collect();
        (!values.is_empty()).then(|| spread(&values))
    }
}
