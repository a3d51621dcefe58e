//! What a season brings and asks for: the input of a plan.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::bay::Bay;
use crate::feedstock::Feedstock;
use crate::history::{History, Preparation};
use crate::order::ordered;
use crate::plan::answer::Step;
use crate::site::Site;
use crate::window::{Criteria, Use};

/// All that a plan is made from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Season {
    /// The first day; today where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, format = Date))]
    pub from: Option<Date>,
    /// Weeks planned, 4 to 78; 52 where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 4, maximum = 78))]
    pub weeks: Option<u32>,
    /// Place and weather.
    pub site: Site,
    /// The bays, in their order on the ground, 1 to 16.
    #[cfg_attr(feature = "schema", schema(min_items = 1, max_items = 16))]
    pub bays: Vec<Bay>,
    /// What stands in them, at most one batch in each.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[cfg_attr(feature = "schema", schema(no_recursion))]
    pub batches: Vec<Standing>,
    /// Own materials, and own values for those of the default table.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub feedstocks: Vec<Feedstock>,
    /// One barrow load, 0.01 to 0.5 m³; 0.085 where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 0.01, maximum = 0.5))]
    pub barrow_m3: Option<f64>,
    /// What is expected to come in, at most 100.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[cfg_attr(feature = "schema", schema(max_items = 100))]
    pub inflows: Vec<Inflow>,
    /// What the beds need, at most 40.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[cfg_attr(feature = "schema", schema(max_items = 40))]
    pub demands: Vec<Demand>,
    /// Batches that can be forked over in a week, 0 to 14; 2 where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 0, maximum = 14))]
    pub turns_per_week: Option<u32>,
    /// Weeks that a batch rests between its last filling and its turn, 0 to 26; 4 where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 0, maximum = 26))]
    pub rest_weeks: Option<u32>,
    /// Whether one bay is to stand free for turning; so where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub keep_bay_free: Option<bool>,
    /// Own criteria in place of the default ones of a use.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub criteria: Vec<Criteria>,
    /// Steps of an earlier plan, which this one keeps wherever they are still as good.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub earlier: Vec<Step>,
}

/// A batch that stands in a bay.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Standing {
    /// Its history. The bay it stands in at last is one of the season's; it names no events after the first day.
    pub history: History,
    /// Whether it is the one that is being filled, at most one of them.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub filling: bool,
    /// Whether it is to be used only where its seeds are expected to be killed.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub kill_seeds: bool,
}

/// Material that comes in week by week, with exactly one amount.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Inflow {
    /// A feedstock's id, from the default table or the season's own.
    pub feedstock: String,
    /// First day; the plan's where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, format = Date))]
    pub from: Option<Date>,
    /// Last day; the plan's where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, format = Date))]
    pub until: Option<Date>,
    /// Wet mass each week, 0 to 50 000 kg.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 0, maximum = 50000))]
    pub mass_kg_week: Option<f64>,
    /// Loose volume each week, 0 to 100 m³.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 0, maximum = 100))]
    pub volume_m3_week: Option<f64>,
    /// Barrow loads each week, 0 to 1000.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 0, maximum = 1000))]
    pub barrows_week: Option<f64>,
    /// Whether it is shredded or chopped before it goes in.
    #[serde(default)]
    pub preparation: Preparation,
}

/// Compost that beds need: a volume, or an area and how deep it is dressed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Demand {
    /// The caller's own name for it, 1 to 128 characters.
    #[cfg_attr(feature = "schema", schema(min_length = 1, max_length = 128))]
    pub id: String,
    /// What it is for.
    #[serde(rename = "use")]
    pub for_use: Use,
    /// The day by which it is needed.
    #[cfg_attr(feature = "schema", schema(value_type = String, format = Date))]
    pub by: Date,
    /// Volume, 0.001 to 1000 m³.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 0.001, maximum = 1000))]
    pub volume_m3: Option<f64>,
    /// Area of the beds, 0.1 to 100 000 m².
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 0.1, maximum = 100000))]
    pub area_m2: Option<f64>,
    /// Depth of the dressing, 0.001 to 0.5 m.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 0.001, maximum = 0.5))]
    pub depth_m: Option<f64>,
    /// Whether weed seeds are expected to have been killed in what is used for it.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub kill_seeds: bool,
    /// How much it matters against the others, 0.1 to 10; 1 where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 0.1, maximum = 10))]
    pub priority: Option<f64>,
}

impl Demand {
    /// Its volume, m³; 0 where none is told.
    #[must_use]
    pub fn needed_m3(&self) -> f64 {
        self.volume_m3.or_else(|| Some(self.area_m2? * self.depth_m?)).unwrap_or(0.0)
    }
}

impl Standing {
    /// The bay it stands in at last.
    #[must_use]
    pub fn bay(&self) -> &str {
        let mut moves =
            ordered(&self.history.events).into_iter().rev().filter_map(|(_, event)| event.moved.as_ref());
        moves.next().map_or(self.history.bay.id.as_str(), |moved| moved.to_bay.as_str())
    }
}
