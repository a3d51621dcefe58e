//! One bay's batch of a mix, started on any day: when its window opens and what is there then.

use jiff::ToSpan;
use jiff::civil::Date;

use crate::ensemble::{Member, before_anything_is_seen};
use crate::estimate::Spread;
use crate::estimator::EstimateError;
use crate::history::{Addition, Event, History, Turn};
use crate::moment::{Moment, last_moment};
use crate::recipe::proportions::Proportions;
use crate::recipe::stock::Stock;
use crate::requirement::need::Need;
use crate::timeline::Timeline;
use crate::weighted::{quantile, spread};
use crate::window::{Criteria, Criterion, DateSpread, HOLDING_DAYS, Opening};

/// A batch in one bay, of which only the start is open.
pub(super) struct Batch<'a> {
    /// What is needed.
    pub need: &'a Need,
    /// What it is made from.
    pub stock: &'a Stock,
    /// What goes into the bay.
    pub mix: &'a Proportions,
}

/// What becomes of a batch, heap by heap.
pub(super) struct Outcome {
    openings: Vec<(Opening, Member)>,
}

/// Wettest that an addition may be, wet basis.
const WETTEST: f64 = 0.98;

impl Batch<'_> {
    /// What becomes of it when started on `start`, in the first `members` plausible heaps, `days` ahead.
    pub fn started(&self, start: Date, members: usize, days: i32) -> Result<Outcome, EstimateError> {
        let history = self.history(start, days);
        let timeline = Timeline::new(&history, start)?;
        let criteria: Criteria = self.need.wanted.for_use.default_criteria();
        let filled = Moment::Date(start.saturating_add(self.need.wanted.filling_days().days())).days();
        let openings = before_anything_is_seen(&timeline, members)?
            .into_iter()
            .map(|member| (criteria.opening(&member.views(&member.course, filled, timeline.until)), member));
        Ok(Outcome { openings: openings.collect() })
    }

    /// How probable it is that it has opened by the day of need when started on `start`.
    pub fn in_time(&self, start: Date, members: usize) -> Result<f64, EstimateError> {
        let by = self.need.wanted.by;
        let ahead = start.until(by).map_or(0, |span| span.get_days()) + HOLDING_DAYS;
        Ok(self.started(start, members, ahead)?.opened_by(by))
    }

    /// Its history: the parts as they go in, wetted alike, and the turn.
    fn history(&self, start: Date, days: i32) -> History {
        let wanted = &self.need.wanted;
        let parts = wanted.fillings().count() as f64;
        let materials = self.stock.materials.iter().zip(&self.mix.kg);
        let dry_kg: f64 = materials.clone().map(|(own, kg)| own.per_kg.matter.dry_kg() * kg).sum();
        let additions: Vec<Addition> = materials
            .filter(|(_, kg)| **kg > 0.0)
            .map(|(own, kg)| {
                let (dry, wet) = (own.per_kg.matter.dry_kg() * kg, own.per_kg.matter.water_kg * kg);
                let wet = wet + self.mix.water_kg * dry / dry_kg;
                let volume_m3 = own.per_kg.loose_m3 * kg / parts;
                Addition {
                    feedstock: own.feedstock.id.clone(),
                    mass_kg: own.weighed.then(|| (dry + wet) / parts),
                    volume_m3: (!own.weighed).then_some(volume_m3),
                    moisture_fraction: Some((wet / (dry + wet)).min(WETTEST)),
                    preparation: own.preparation,
                    ..Addition::default()
                }
            })
            .collect();
        let fillings = wanted.fillings().flat_map(|after| {
            let at = Moment::Date(start.saturating_add(after));
            additions.iter().map(move |addition| Event { addition: Some(addition.clone()), ..Event::at(at) })
        });
        let turned = Moment::Date(start.saturating_add(wanted.turn_days().days()));
        let turn = Event { turn: Some(Turn::default()), ..Event::at(turned) };
        History {
            batch: "batch".into(),
            as_of: Some(Moment::Date(start)),
            site: self.need.site.clone(),
            bay: self.need.bay.clone(),
            other_bays: Vec::new(),
            feedstocks: self.stock.own.clone(),
            barrow_m3: None,
            events: fillings.chain([turn]).collect(),
            sources: Vec::new(),
            criteria: Vec::new(),
            horizon_days: Some(days.clamp(1, 730).unsigned_abs()),
            forecast_step_days: None,
            ready_by: Vec::new(),
            compare_futures: false,
            lesson: None,
        }
    }
}

impl Outcome {
    /// How probable it is that it has opened by the end of a day.
    pub fn opened_by(&self, day: Date) -> f64 {
        let by = last_moment(day);
        let opened = self.openings.iter().filter(|(opening, _)| opening.day <= by);
        opened.map(|(_, member)| member.weight).sum::<f64>().min(1.0)
    }

    /// When it opens.
    pub fn opens(&self) -> DateSpread {
        DateSpread::of(
            &self.openings.iter().map(|(own, member)| (own.day, member.weight)).collect::<Vec<_>>(),
        )
    }

    /// When further shrinkage has cost the set share of its volume.
    pub fn best_by(&self) -> DateSpread {
        let ends = self.openings.iter().map(|(own, member)| (own.best_by, member.weight));
        DateSpread::of(&ends.collect::<Vec<_>>())
    }

    /// The criterion that it waits for most often.
    pub fn binding(&self) -> Criterion {
        let openings: Vec<_> = self.openings.iter().map(|(own, member)| (*own, member.weight)).collect();
        Criterion::binding(&openings)
    }

    /// Middle volume at opening of those that open, m³; none where none does.
    pub fn middle_m3(&self) -> Option<f64> {
        let opened = self.openings.iter().filter(|(own, _)| own.day.is_finite());
        let volumes: Vec<_> = opened.map(|(own, member)| (own.volume_m3, member.weight)).collect();
        (!volumes.is_empty()).then(|| quantile(&volumes, 0.5))
    }

    /// Volume at opening of those that open, each with its error, m³; none where none does.
    pub fn volume_m3(&self) -> Option<Spread> {
        let opened = self.openings.iter().filter(|(own, _)| own.day.is_finite());
        let volumes: Vec<_> = opened
            .flat_map(|(own, member)| {
                let (factor, deviation) = member.judged.volume.at(own.day);
                member.fifths.map(|z| (own.volume_m3 * (factor + z * deviation).exp(), member.weight))
            })
            .collect();
        (!volumes.is_empty()).then(|| spread(&volumes))
    }
}
