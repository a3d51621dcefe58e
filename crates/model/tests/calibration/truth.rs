//! What a batch really did, whoever made it up: the side of the comparison that the estimate never sees.

use baycast_model::draw::UNKNOWNS;
use baycast_model::moment::{date_to_days, days_to_date};
use baycast_model::window::{Criteria, DayView};
use jiff::civil::Date;

/// Hours in a day; the truth is kept by the hour.
pub const HOURS: usize = 24;

/// The heap at one hour, as far as a thermometer can tell.
#[derive(Clone, Copy, Debug)]
pub struct Hour {
    /// Mean temperature of the core, °C.
    pub core_c: f64,
    /// Mean temperature of the edge, °C.
    pub edge_c: f64,
    /// Temperatures on the way down from the top to the middle, °C, with their depths, m.
    pub profile: [(f64, f64); 4],
    /// Air, °C.
    pub air_c: f64,
}

/// The heap at the end of a day.
#[derive(Clone, Copy, Debug)]
pub struct DayEnd {
    /// Volume, m³.
    pub volume_m3: f64,
    /// Moisture, wet basis.
    pub moisture_fraction: f64,
    /// Dry matter left of what had been put in by then.
    pub dry_left: f64,
}

/// The course of one batch.
#[derive(Clone, Debug)]
pub struct Truth {
    /// Noon of the first addition, days since 1970.
    pub start: f64,
    /// Every hour from then on, as far as temperatures are asked for.
    pub hours: Vec<Hour>,
    /// Every midnight from then on.
    pub ends: Vec<DayEnd>,
    /// Every noon from then on, or from the next.
    pub noons: Vec<DayView>,
    /// Noon of the last addition.
    pub filled_by: f64,
    /// What the probe shows above what is there, in the core and at the edge, °C.
    pub bias_c: [f64; 2],
    /// Factors of the fitted model's unknowns, where it made the truth up.
    pub factors: Option<[f64; UNKNOWNS]>,
}

impl Truth {
    /// The hour that holds a moment.
    pub fn hour(&self, day: f64) -> &Hour {
        let place = ((day - self.start) * HOURS as f64).round();
        &self.hours[(place as usize).min(self.hours.len() - 1)]
    }

    /// The last hour of a day.
    pub fn evening(&self, date: Date) -> &Hour {
        self.hour(date_to_days(date) + 1.0)
    }

    /// The end of a day.
    pub fn end(&self, date: Date) -> &DayEnd {
        &self.ends[(date_to_days(date) + 0.5 - self.start) as usize]
    }

    /// First day on which all criteria hold, looked for from the last addition on; none before the course's end.
    pub fn opens(&self, criteria: &Criteria) -> Option<Date> {
        // The first noon after the last addition, as the estimate has it.
        let from = self.noons.partition_point(|view| view.day <= self.filled_by);
        let day = criteria.opening(&self.noons[from..]).day;
        day.is_finite().then(|| days_to_date(day))
    }
}

impl Hour {
    /// Temperature at a depth under the top, °C, on straight lines between the air at the surface and the profile.
    pub fn at_depth(&self, depth_m: f64) -> f64 {
        let surface = (0.0, f64::midpoint(self.air_c, self.profile[0].1));
        let mut above = surface;
        for below in self.profile {
            if depth_m <= below.0 {
                return above.1 + (below.1 - above.1) * (depth_m - above.0) / (below.0 - above.0);
            }
            above = below;
        }
        above.1
    }
}
