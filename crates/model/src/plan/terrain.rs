//! A season in weeks: its calendar, its kinds of bays, and what comes in.

use jiff::civil::Date;

use crate::bay::Bay;
use crate::feedstock::{Feedstock, default_feedstocks};
use crate::history::{Addition, Event, History};
use crate::moment::{Moment, date_to_days, days_to_date};
use crate::plan::ground::Kind;
use crate::plan::season::{Inflow, Season};
use crate::timeline::BARROW_M3;
use crate::window::{Criteria, Use};

/// Days in a week.
pub const WEEK_DAYS: f64 = 7.0;
/// Weeks planned where none are told.
pub const WEEKS: u32 = 52;
/// Day of a week on which its material counts as added.
const MIDWEEK_DAYS: f64 = 3.0;

/// A season in weeks.
pub struct Terrain<'a> {
    /// The season.
    pub season: &'a Season,
    /// Its first day.
    pub from: Date,
    /// Its weeks.
    pub weeks: usize,
    /// Kinds of bays, in the order in which they first stand on the ground.
    pub kinds: Vec<Kind>,
    /// Criteria for each use.
    pub criteria: [Criteria; 3],
    /// Loose material that comes in each week, m³.
    pub inflow_m3: Vec<f64>,
    /// Feedstocks by which amounts are understood, the season's own last.
    feedstocks: Vec<Feedstock>,
}

impl<'a> Terrain<'a> {
    /// A season that has been checked, from its first day on.
    pub fn new(season: &'a Season, from: Date) -> Self {
        let weeks = season.weeks.unwrap_or(WEEKS) as usize;
        let mut kinds: Vec<Kind> = Vec::new();
        for (index, bay) in season.bays.iter().enumerate() {
            let alike = |kind: &&mut Kind| alike(&season.bays[kind.bays[0]], bay);
            match kinds.iter_mut().find(alike) {
                Some(kind) => kind.bays.push(index),
                None => kinds.push(Kind { capacity_m3: bay.capacity_m3(), bays: vec![index] }),
            }
        }
        let criteria = Use::ALL.map(|for_use| {
            let own = season.criteria.iter().find(|criteria| criteria.for_use == for_use);
            own.copied().unwrap_or_else(|| for_use.default_criteria())
        });
        let mut feedstocks = default_feedstocks();
        feedstocks.extend(season.feedstocks.iter().cloned());
        let mut terrain = Self { season, from, weeks, kinds, criteria, inflow_m3: Vec::new(), feedstocks };
        terrain.inflow_m3 = (0..weeks)
            .map(|week| season.inflows.iter().map(|inflow| terrain.loose_m3(inflow, week)).sum())
            .collect();
        terrain
    }

    /// One barrow load, m³.
    pub fn barrow_m3(&self) -> f64 {
        self.season.barrow_m3.unwrap_or(BARROW_M3)
    }

    /// Start of a week, days since 1970.
    pub fn day(&self, week: usize) -> f64 {
        date_to_days(self.from) + WEEK_DAYS * week as f64
    }

    /// First day of a week.
    pub fn date(&self, week: usize) -> Date {
        days_to_date(self.day(week))
    }

    /// The week that a day falls in; those before the first count to it.
    pub fn week(&self, date: Date) -> usize {
        ((date_to_days(date) - date_to_days(self.from)) / WEEK_DAYS).floor().max(0.0) as usize
    }

    /// The bay that stands for a kind.
    pub fn bay(&self, kind: usize) -> &'a Bay {
        &self.season.bays[self.kinds[kind].bays[0]]
    }

    /// The kind of a bay.
    pub fn kind_of(&self, bay: &str) -> Option<usize> {
        self.kinds.iter().position(|kind| kind.bays.iter().any(|own| self.season.bays[*own].id == bay))
    }

    /// The share of a week in which an inflow comes.
    fn share(&self, inflow: &Inflow, week: usize) -> f64 {
        let (start, end) = (self.day(week), self.day(week + 1));
        let from = inflow.from.map_or(start, |from| date_to_days(from).max(start));
        let until = inflow.until.map_or(end, |until| (date_to_days(until) + 1.0).min(end));
        ((until - from) / WEEK_DAYS).max(0.0)
    }

    /// A feedstock of the season or of the table.
    pub fn feedstock(&self, id: &str) -> Option<&Feedstock> {
        self.feedstocks.iter().rev().find(|own| own.id == id)
    }

    /// What an inflow brings in a week, loose, m³.
    pub fn loose_m3(&self, inflow: &Inflow, week: usize) -> f64 {
        let dense =
            self.feedstock(&inflow.feedstock).map_or(1.0, |own| own.loose_kg_m3(None, inflow.preparation));
        let whole = match (inflow.mass_kg_week, inflow.volume_m3_week, inflow.barrows_week) {
            (Some(mass_kg), ..) => mass_kg / dense,
            (_, Some(volume_m3), _) => volume_m3,
            (_, _, barrows) => barrows.unwrap_or(0.0) * self.barrow_m3(),
        };
        whole * self.share(inflow, week)
    }

    /// What is added in a week, times `factor`.
    pub fn additions(&self, week: usize, factor: f64) -> impl Iterator<Item = Event> + '_ {
        let at = Moment::Date(days_to_date(self.day(week) + MIDWEEK_DAYS));
        self.season.inflows.iter().filter_map(move |inflow| {
            let share = factor * self.share(inflow, week);
            let addition = Addition {
                feedstock: inflow.feedstock.clone(),
                mass_kg: inflow.mass_kg_week.map(|mass_kg| mass_kg * share),
                volume_m3: inflow.volume_m3_week.map(|volume_m3| volume_m3 * share),
                barrows: inflow.barrows_week.map(|barrows| barrows * share),
                preparation: inflow.preparation,
                ..Addition::default()
            };
            (share > 0.0 && self.loose_m3(inflow, week) > 0.0)
                .then(|| Event { addition: Some(addition), ..Event::at(at) })
        })
    }

    /// A batch begun in a week in a bay of a kind, with nothing in it yet; it may be moved into any bay.
    pub fn begun(&self, name: String, bay: &Bay, week: usize) -> History {
        History {
            batch: name,
            as_of: Some(Moment::Date(days_to_date(self.day(week) + MIDWEEK_DAYS))),
            site: self.season.site.clone(),
            bay: bay.clone(),
            other_bays: self.season.bays.iter().filter(|own| own.id != bay.id).cloned().collect(),
            feedstocks: self.season.feedstocks.clone(),
            barrow_m3: self.season.barrow_m3,
            events: Vec::new(),
            sources: Vec::new(),
            criteria: self.season.criteria.clone(),
            horizon_days: None,
            forecast_step_days: None,
            ready_by: Vec::new(),
            compare_futures: false,
            lesson: None,
        }
    }
}

/// Whether two bays differ in nothing but their name.
fn alike(a: &Bay, b: &Bay) -> bool {
    let named = Bay { id: b.id.clone(), ..a.clone() };
    named == *b
}
