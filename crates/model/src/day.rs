//! The members on one day.

use crate::course::Snapshot;
use crate::discrepancy::{Discrepancy, Readings};
use crate::ensemble::Member;
use crate::estimate::Spread;
use crate::history::Zone;
use crate::weighted::spread;

/// Members that have a heap on a day, with their heaps.
pub(crate) struct Day<'a> {
    at: f64,
    readings: &'a Readings,
    heaps: Vec<(Snapshot, &'a Member)>,
}

impl<'a> Day<'a> {
    /// The members on `day`, given the readings that count.
    pub(crate) fn new(members: &'a [Member], readings: &'a Readings, day: f64) -> Self {
        let heaps = members.iter().filter_map(|member| Some((member.course.at(day)?, member))).collect();
        Self { at: day, readings, heaps }
    }

    /// A quantity over the members, `None` where none has a heap.
    pub(crate) fn spread(&self, of: impl Fn(&Snapshot) -> f64) -> Option<Spread> {
        let values: Vec<_> =
            self.heaps.iter().map(|(snapshot, member)| (of(snapshot), member.weight)).collect();
        (!values.is_empty()).then(|| spread(&values))
    }

    /// A zone's temperature: the members', each with its error, given the nearest reading.
    pub(crate) fn temperature(&self, zone: Zone) -> Option<Spread> {
        let discrepancy = Discrepancy::new(self.readings, zone, self.at);
        let values: Vec<_> = self
            .heaps
            .iter()
            .flat_map(|(snapshot, member)| {
                let modelled_c = snapshot.heap.zone(zone).temperature_c;
                let likely_c = discrepancy.temperatures(&member.residuals_c, modelled_c);
                likely_c.map(|celsius| (celsius, member.weight))
            })
            .collect();
        (!values.is_empty()).then(|| spread(&values))
    }
}
