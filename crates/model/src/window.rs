//! Readiness: when a heap is fit for a use, and until when it is worth keeping.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::bay::Bay;
use crate::course::Course;
use crate::heap::Heap;
use crate::maturity::respiration_mg_co2c_g_vs_day;
use crate::moment::{days_to_date, last_moment};
use crate::parameters::Parameters;
use crate::weighted::quantile;

/// What the compost is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Use {
    /// Laid on the soil between crops; coarse wood welcome.
    Mulch,
    /// Spread on a bed before sowing or planting.
    BedDressing,
    /// In potting and module mixes.
    Potting,
}

/// What a use asks of the heap; all must hold.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Criteria {
    /// The use they are for.
    #[serde(rename = "use")]
    pub for_use: Use,
    /// Least maturity index, 0 to 1.
    #[cfg_attr(feature = "schema", schema(minimum = 0, maximum = 1))]
    pub min_maturity_index: f64,
    /// Most predicted respiration, 0 to 100 mg CO₂-C per g volatile solids and day.
    #[cfg_attr(feature = "schema", schema(minimum = 0, maximum = 100))]
    pub max_respiration_mg_co2c_g_vs_day: f64,
    /// Most that the whole heap may be above the air, 0 to 60 °C.
    #[cfg_attr(feature = "schema", schema(minimum = 0, maximum = 60))]
    pub max_above_air_c: f64,
    /// Most carbon to nitrogen, 5 to 100.
    #[cfg_attr(feature = "schema", schema(minimum = 5, maximum = 100))]
    pub max_c_to_n: f64,
    /// Least moisture, wet basis 0 to 1.
    #[cfg_attr(feature = "schema", schema(minimum = 0, maximum = 1))]
    pub min_moisture_fraction: f64,
    /// Most moisture, wet basis 0 to 1.
    #[cfg_attr(feature = "schema", schema(minimum = 0, maximum = 1))]
    pub max_moisture_fraction: f64,
    /// Share of the volume at opening whose loss ends the window, 0.01 to 0.9.
    #[cfg_attr(feature = "schema", schema(minimum = 0.01, maximum = 0.9))]
    pub max_shrinkage_fraction: f64,
}

/// The criterion that is met last.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Criterion {
    /// Share of the degradable matter that is gone.
    MaturityIndex,
    /// Predicted respiration.
    Respiration,
    /// Still warmer than the air.
    AboveAir,
    /// Carbon to nitrogen.
    CToN,
    /// Too dry.
    TooDry,
    /// Too wet.
    TooWet,
}

/// A date with its range. A bound is absent where the day lies beyond the horizon.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct DateSpread {
    /// One in ten is earlier.
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, format = Date))]
    pub p10: Option<Date>,
    /// The middle.
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, format = Date))]
    pub p50: Option<Date>,
    /// Nine in ten are earlier.
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, format = Date))]
    pub p90: Option<Date>,
}

/// When the heap is fit for a use.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Window {
    /// The use.
    #[serde(rename = "use")]
    pub for_use: Use,
    /// First day on which every criterion holds.
    pub opens: DateSpread,
    /// Day by which further shrinkage has cost the set share of the volume at opening.
    pub best_by: DateSpread,
    /// Probability that the window is open on the day asked for.
    pub open_now_probability: f64,
    /// Probability that it has opened by each day asked about, in the order given.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub ready_by: Vec<ReadyBy>,
    /// The criterion that most often holds the opening back.
    pub binding: Criterion,
    /// Expected volume at opening, m³; absent where it does not open before the horizon.
    pub volume_at_opening_m3: Option<f64>,
    /// The criteria used.
    pub criteria: Criteria,
}

/// How probable it is that a window has opened by a day.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ReadyBy {
    /// The day; its end counts, UTC.
    #[cfg_attr(feature = "schema", schema(value_type = String, format = Date))]
    pub date: Date,
    /// Probability that the window has opened by then, 0 to 1.
    pub probability: f64,
}

impl Use {
    /// All uses, the least demanding first.
    pub const ALL: [Self; 3] = [Self::Mulch, Self::BedDressing, Self::Potting];

    /// Default criteria.
    ///
    /// Maturity, temperature and respiration are common practice, no source (respiration near the upper limits of the
    /// classes `moderately_unstable` for mulch and beds, well inside `stable` for potting, see [`crate::maturity`]); C:N and
    /// moisture lie at or inside the acceptable mix of Rynk and others 2022, The Composting Handbook, table 4.2
    /// (C:N 20-60, moisture 40-65 %, read in an excerpt), widened on the wet side where a wet heap can still be spread.
    /// Shrinkage that ends the window is a tenth of the volume, a fifth for mulch, which is used while it still sinks fast.
    #[must_use]
    pub const fn default_criteria(self) -> Criteria {
        let mulch = Criteria {
            for_use: Self::Mulch,
            min_maturity_index: 0.55,
            max_respiration_mg_co2c_g_vs_day: 16.0,
            max_above_air_c: 25.0,
            max_c_to_n: 40.0,
            min_moisture_fraction: 0.25,
            max_moisture_fraction: 0.78,
            max_shrinkage_fraction: 0.2,
        };
        match self {
            Self::Mulch => mulch,
            Self::BedDressing => Criteria {
                for_use: self,
                min_maturity_index: 0.70,
                max_respiration_mg_co2c_g_vs_day: 12.0,
                max_above_air_c: 20.0,
                max_c_to_n: 25.0,
                min_moisture_fraction: 0.30,
                max_moisture_fraction: 0.75,
                max_shrinkage_fraction: 0.1,
            },
            Self::Potting => Criteria {
                for_use: self,
                min_maturity_index: 0.85,
                max_respiration_mg_co2c_g_vs_day: 6.0,
                max_above_air_c: 8.0,
                max_c_to_n: 20.0,
                min_moisture_fraction: 0.35,
                max_moisture_fraction: 0.65,
                max_shrinkage_fraction: 0.1,
            },
        }
    }
}

impl Criterion {
    const ALL: [Self; 6] =
        [Self::MaturityIndex, Self::Respiration, Self::AboveAir, Self::CToN, Self::TooDry, Self::TooWet];

    /// The one that most often holds weighted openings back.
    pub(crate) fn binding(openings: &[(Opening, f64)]) -> Self {
        let weight_of = |criterion: Self| -> f64 {
            let held = openings.iter().filter(|(opening, _)| opening.binding == criterion);
            held.map(|(_, weight)| weight).sum()
        };
        let heaviest = Self::ALL.into_iter().max_by(|a, b| weight_of(*a).total_cmp(&weight_of(*b)));
        heaviest.unwrap_or(Self::MaturityIndex)
    }
}

/// Days that every criterion must hold on end before a window counts as open.
pub(crate) const HOLDING_DAYS: i32 = 7;
const HOLDING: usize = HOLDING_DAYS as usize;

/// What the criteria look at, on one day's noon.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DayView {
    /// Days since 1970.
    pub day: f64,
    /// Maturity index.
    pub maturity_index: f64,
    /// Predicted respiration, mg CO₂-C per g volatile solids and day.
    pub respiration: f64,
    /// Mean heap temperature over the air, °C.
    pub above_air_c: f64,
    /// Carbon to nitrogen.
    pub c_to_n: f64,
    /// Moisture, wet basis.
    pub moisture_fraction: f64,
    /// Volume, m³.
    pub volume_m3: f64,
    /// Settled volume of what went in as 1 kg of dry matter, m³/kg: falls by shrinkage, not by withdrawals, nor as a
    /// heap loosened by a turn sits down again.
    pub shrinking_m3_kg: f64,
}

impl DayView {
    /// The heap as it stands in `bay` at `day`, in air of `air_c` °C.
    #[must_use]
    pub fn new(day: f64, heap: &Heap, bay: &Bay, air_c: f64, p: &Parameters) -> Self {
        Self {
            day,
            maturity_index: heap.degraded_fraction(),
            respiration: respiration_mg_co2c_g_vs_day(heap, p),
            above_air_c: heap.mean_c() - air_c,
            c_to_n: heap.c_to_n(),
            moisture_fraction: heap.moisture_fraction(),
            volume_m3: heap.volume_m3(),
            shrinking_m3_kg: heap.resting_m3_kg(bay, p) * heap.dry_kg() / heap.origin.dry_kg,
        }
    }
}

impl DayView {
    /// The view of a heap that is riper by a factor than its course has it.
    pub fn ripen(&mut self, ripeness: f64) {
        self.maturity_index = ripened(self.maturity_index, ripeness);
        self.respiration /= ripeness;
    }
}

/// A degraded fraction where the log of what is left is larger by a factor.
pub(crate) fn ripened(degraded_fraction: f64, ripeness: f64) -> f64 {
    1.0 - (1.0 - degraded_fraction).max(0.0).powf(ripeness)
}

/// First noon after `day`, days since 1970.
pub(crate) fn noon_after(day: f64) -> f64 {
    (day - 0.5).floor() + 1.5
}

/// Views of a course at each noon after `from`, up to `until` or the bay's emptying.
#[must_use]
pub fn daily_views(course: &Course, from: f64, until: f64) -> Vec<DayView> {
    let mut views: Vec<DayView> = Vec::with_capacity((until - from).max(0.0) as usize + 1);
    let first = noon_after(from);
    let mut noon = first;
    for view in course.noons().skip_while(|view| view.day < first) {
        if view.day > noon || view.day > until {
            break;
        }
        views.push(*view);
        noon += 1.0;
    }
    views
}

impl Criteria {
    fn holds(&self, criterion: Criterion, view: &DayView) -> bool {
        match criterion {
            Criterion::MaturityIndex => view.maturity_index >= self.min_maturity_index,
            Criterion::Respiration => view.respiration <= self.max_respiration_mg_co2c_g_vs_day,
            Criterion::AboveAir => view.above_air_c <= self.max_above_air_c,
            Criterion::CToN => view.c_to_n <= self.max_c_to_n,
            Criterion::TooDry => view.moisture_fraction >= self.min_moisture_fraction,
            Criterion::TooWet => view.moisture_fraction <= self.max_moisture_fraction,
        }
    }

    /// First day on which `test` holds for [`HOLDING_DAYS`] on end, or until the views end.
    fn first(views: &[DayView], test: impl Fn(&DayView) -> bool) -> Option<usize> {
        let mut run = 0;
        for (index, view) in views.iter().enumerate() {
            run = if test(view) { run + 1 } else { 0 };
            if run == HOLDING {
                return Some(index + 1 - HOLDING);
            }
        }
        (run > 0).then(|| views.len() - run)
    }

    /// When the window opens and its best-by in one course; infinite where beyond its end.
    #[must_use]
    pub fn opening(&self, views: &[DayView]) -> Opening {
        let mut binding = Criterion::MaturityIndex;
        let mut latest = None;
        for criterion in Criterion::ALL {
            let first = Self::first(views, |view| self.holds(criterion, view)).unwrap_or(usize::MAX);
            if latest.is_none_or(|latest| first > latest) {
                latest = Some(first);
                binding = criterion;
            }
        }
        let opened =
            Self::first(views, |view| Criterion::ALL.iter().all(|criterion| self.holds(*criterion, view)));
        let Some(index) = opened else {
            return Opening { day: f64::INFINITY, best_by: f64::INFINITY, binding, volume_m3: f64::NAN };
        };
        let kept = views[index].shrinking_m3_kg * (1.0 - self.max_shrinkage_fraction);
        let best_by = views[index..].iter().find(|view| view.shrinking_m3_kg < kept);
        Opening {
            day: views[index].day,
            best_by: best_by.map_or(f64::INFINITY, |view| view.day),
            binding,
            volume_m3: views[index].volume_m3,
        }
    }
}

/// A window in one course.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Opening {
    /// Day it opens, infinite where it does not.
    pub day: f64,
    /// Last day before the set shrinkage, infinite where it is not reached.
    pub best_by: f64,
    /// Criterion met last.
    pub binding: Criterion,
    /// Volume at opening, m³.
    pub volume_m3: f64,
}

impl Window {
    /// The window of weighted openings, as of a day and by each of `ready_by`.
    #[must_use]
    pub fn of(criteria: Criteria, openings: &[(Opening, f64)], as_of: f64, ready_by: &[Date]) -> Self {
        let days: Vec<_> = openings.iter().map(|(opening, weight)| (opening.day, *weight)).collect();
        let ends: Vec<_> = openings.iter().map(|(opening, weight)| (opening.best_by, *weight)).collect();
        let opened: Vec<_> = openings.iter().filter(|(opening, _)| opening.day.is_finite()).collect();
        let volumes: Vec<_> = opened.iter().map(|(opening, weight)| (opening.volume_m3, *weight)).collect();
        let opened_until = |day: f64| -> f64 {
            let opened = openings.iter().filter(|(opening, _)| opening.day <= day);
            opened.fold(0.0, |sum, (_, weight)| sum + weight).min(1.0)
        };
        Self {
            for_use: criteria.for_use,
            opens: DateSpread::of(&days),
            best_by: DateSpread::of(&ends),
            open_now_probability: opened_until(as_of),
            ready_by: ready_by
                .iter()
                .map(|date| ReadyBy { date: *date, probability: opened_until(last_moment(*date)) })
                .collect(),
            binding: Criterion::binding(openings),
            volume_at_opening_m3: (!volumes.is_empty()).then(|| quantile(&volumes, 0.5)),
            criteria,
        }
    }
}

impl DateSpread {
    /// Of weighted days, infinite where beyond the horizon.
    pub(crate) fn of(days: &[(f64, f64)]) -> Self {
        let date = |share: f64| {
            let day = quantile(days, share);
            day.is_finite().then(|| days_to_date(day))
        };
        Self { p10: date(0.1), p50: date(0.5), p90: date(0.9) }
    }
}
