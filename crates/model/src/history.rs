//! A batch's history as its grower tells it: the input of every estimate.
//!
//! Each event carries its moment and exactly one detail, so the JSON form is the canonical JSON of the
//! protobuf message with a `oneof`, and both contracts have one shape.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::bay::Bay;
use crate::feedstock::Feedstock;
use crate::lesson::Lesson;
use crate::moment::Moment;
use crate::site::Site;
use crate::window::Criteria;

/// All that is known about one batch.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct History {
    /// The caller's own name for the batch, 1 to 128 characters.
    #[cfg_attr(feature = "schema", schema(min_length = 1, max_length = 128))]
    pub batch: String,
    /// The day the estimate is made for. Events after it are plans; readings and sightings of the
    /// level after it are refused.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub as_of: Option<Moment>,
    /// Place and weather.
    pub site: Site,
    /// The bay the batch starts in.
    pub bay: Bay,
    /// Other bays that the batch moves to.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub other_bays: Vec<Bay>,
    /// Own materials, and own values for those of the default table.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub feedstocks: Vec<Feedstock>,
    /// One barrow load, 0.01 to 0.5 m³; 0.085 where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 0.01, maximum = 0.5))]
    pub barrow_m3: Option<f64>,
    /// What was done and seen, in any order.
    pub events: Vec<Event>,
    /// Batches that are merged into this one by a `merge` event.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[cfg_attr(feature = "schema", schema(no_recursion))]
    pub sources: Vec<History>,
    /// Own criteria in place of the default ones of a use.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub criteria: Vec<Criteria>,
    /// How far past `as_of` to look, 1 to 730 days; 365 where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 1, maximum = 730))]
    pub horizon_days: Option<u32>,
    /// Days between two points of the forecast, 1 to 90; 7 where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 1, maximum = 90))]
    pub forecast_step_days: Option<u32>,
    /// Days for which to say how probable it is that each window has opened by then: at most 24, none twice, after the
    /// first addition and not beyond the horizon.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[cfg_attr(feature = "schema", schema(value_type = Vec<String>, format = Date))]
    pub ready_by: Vec<Date>,
    /// Whether to say what could be done and what would come of it: `futures` in the answer.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub compare_futures: bool,
    /// What earlier batches of the bay taught, in place of what is believed of any heap.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lesson: Option<Lesson>,
}

/// Something done to the heap or seen in it. Exactly one detail is set.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Event {
    /// When.
    pub at: Moment,
    /// The caller's own name for the event.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(min_length = 1, max_length = 128))]
    pub id: Option<String>,
    /// Material put in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub addition: Option<Addition>,
    /// A probe reading.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reading: Option<Reading>,
    /// A moisture measurement or hand-squeeze.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub moisture: Option<MoistureNote>,
    /// How high the heap was seen to stand.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub level: Option<Level>,
    /// Turned within its bay.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub turn: Option<Turn>,
    /// Forked into another bay, which turns it.
    #[serde(default, skip_serializing_if = "Option::is_none", rename = "move")]
    pub moved: Option<Move>,
    /// Another batch joined to this one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub merge: Option<Merge>,
    /// A cover put on or taken off.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cover: Option<Cover>,
    /// Water given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub watering: Option<Watering>,
    /// Trodden or pressed down.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub firming: Option<Firming>,
    /// Compost taken out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub withdrawal: Option<Withdrawal>,
}

impl Event {
    /// An event at `at` with no detail yet.
    #[must_use]
    pub fn at(at: Moment) -> Self {
        Self {
            at,
            id: None,
            addition: None,
            reading: None,
            moisture: None,
            level: None,
            turn: None,
            moved: None,
            merge: None,
            cover: None,
            watering: None,
            firming: None,
            withdrawal: None,
        }
    }
}

impl Event {
    /// Names of the details, as they stand in JSON.
    pub const DETAILS: [&'static str; 11] = [
        "addition",
        "reading",
        "moisture",
        "level",
        "turn",
        "move",
        "merge",
        "cover",
        "watering",
        "firming",
        "withdrawal",
    ];

    /// Names of the details that are set.
    #[must_use]
    pub fn details(&self) -> Vec<&'static str> {
        let set = [
            self.addition.is_some(),
            self.reading.is_some(),
            self.moisture.is_some(),
            self.level.is_some(),
            self.turn.is_some(),
            self.moved.is_some(),
            self.merge.is_some(),
            self.cover.is_some(),
            self.watering.is_some(),
            self.firming.is_some(),
            self.withdrawal.is_some(),
        ];
        Self::DETAILS.into_iter().zip(set).filter(|(_, set)| *set).map(|(name, _)| name).collect()
    }
}

/// Material put in. At most one amount; with none, a layer a tenth of the bay high is assumed and said so.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Addition {
    /// A feedstock's id, from the default table or the history's own.
    pub feedstock: String,
    /// Wet mass, 0 to 50 000 kg.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 0, maximum = 50000))]
    pub mass_kg: Option<f64>,
    /// Loose volume, 0 to 100 m³.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 0, maximum = 100))]
    pub volume_m3: Option<f64>,
    /// Barrow loads, 0 to 1000.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 0, maximum = 1000))]
    pub barrows: Option<f64>,
    /// Filled up to this share of the bay's height, 0 to 1.2 (heaped).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 0, maximum = 1.2))]
    pub filled_to_fraction: Option<f64>,
    /// Its own moisture, wet basis 0 to 0.98, in place of the table's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 0, maximum = 0.98))]
    pub moisture_fraction: Option<f64>,
    /// Its own temperature, -10 to 80 °C; the air's where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = -10, maximum = 80))]
    pub temperature_c: Option<f64>,
    /// Whether it was shredded or chopped before it went in.
    #[serde(default)]
    pub preparation: Preparation,
}

/// How a material was prepared.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Preparation {
    /// As the feedstock table describes it.
    #[default]
    AsListed,
    /// Shredded or chopped further: denser, faster.
    Shredded,
}

/// A probe reading, in one of the two units, -20 to 95 °C.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Reading {
    /// °C.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = -20, maximum = 95))]
    pub temperature_c: Option<f64>,
    /// °F.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = -4, maximum = 203))]
    pub temperature_f: Option<f64>,
    /// How deep the tip was, 0 to 4 m.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 0, maximum = 4))]
    pub depth_m: Option<f64>,
    /// Which part of the heap, where known better than by depth; the core where neither is given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub zone: Option<Zone>,
    /// Air temperature at the time, -40 to 55 °C.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = -40, maximum = 55))]
    pub ambient_c: Option<f64>,
}

impl Reading {
    /// The temperature in °C, of whichever unit was given; °F to a billionth of a degree, so that a value which is round in
    /// °C comes out round.
    #[must_use]
    pub fn celsius(&self) -> Option<f64> {
        self.temperature_c.or_else(|| self.temperature_f.map(|f| ((f - 32.0) / 1.8 * 1e9).round() / 1e9))
    }

    /// The zone it speaks of: as given, else by depth, else the core.
    #[must_use]
    pub fn zone(&self) -> Zone {
        self.zone.unwrap_or(match self.depth_m {
            Some(depth_m) if depth_m < EDGE_DEPTH_M => Zone::Edge,
            _ => Zone::Core,
        })
    }

    /// Share of the core's temperature in what the probe meets, the rest being the edge's: all of it where the zone was told
    /// and is the core, or nothing was; by depth, a straight line between the middles of edge and core. Estimate.
    #[must_use]
    pub fn core_share(&self) -> f64 {
        match (self.zone, self.depth_m) {
            (Some(Zone::Edge), _) => 0.0,
            (Some(Zone::Core), _) | (None, None) => 1.0,
            (None, Some(depth_m)) => {
                ((depth_m - MIDDLE_EDGE_M) / (MIDDLE_CORE_M - MIDDLE_EDGE_M)).clamp(0.0, 1.0)
            }
        }
    }
}

/// Depths at which a probe meets the mean temperature of the edge and of the core, m: half way between is the border.
const MIDDLE_EDGE_M: f64 = 0.1;
const MIDDLE_CORE_M: f64 = 0.3;

/// Depth down to which a reading is taken to be of the edge, m.
const EDGE_DEPTH_M: f64 = 0.2;

/// A part of the heap.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Zone {
    /// The inside.
    Core,
    /// The outer layer.
    Edge,
}

/// A moisture measurement, or what a squeezed handful did.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct MoistureNote {
    /// Measured moisture, wet basis, 5 to 95 %.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 5, maximum = 95))]
    pub percent: Option<f64>,
    /// What a squeezed handful did.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub squeeze: Option<Squeeze>,
}

/// The hand-squeeze.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Squeeze {
    /// Dusty, no feel of moisture.
    Dry,
    /// Falls apart when the hand opens.
    Crumbles,
    /// Holds together, a drop or none.
    Damp,
    /// Water runs out.
    Drips,
}

/// How high the heap was seen to stand in its bay, levelled by eye.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Level {
    /// Share of the bay's inside height, 0.01 to 1.5 (heaped above the walls).
    #[cfg_attr(feature = "schema", schema(minimum = 0.01, maximum = 1.5))]
    pub fill_fraction: f64,
}

/// A turn within the bay.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Turn {}

/// A move into another bay.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Move {
    /// Id of the bay, one of `other_bays` or the first one.
    pub to_bay: String,
}

/// Another batch joined to this one.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Merge {
    /// Name of the batch, one of the history's `sources`.
    pub source: String,
    /// How it was put there.
    #[serde(default)]
    pub placement: Placement,
}

/// How a merged batch was put with the other.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Placement {
    /// Forked together: both are turned.
    #[default]
    Mixed,
    /// Laid on top: only the newcomer is turned.
    OnTop,
}

/// A cover (sheet, board, thick straw) put on or taken off.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Cover {
    /// On or off.
    pub state: CoverState,
}

/// Whether the cover is on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum CoverState {
    /// Rain is kept off.
    On,
    /// Rain falls in.
    Off,
}

/// Water given.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Watering {
    /// Litres, 0 to 20 000.
    #[cfg_attr(feature = "schema", schema(minimum = 0, maximum = 20000))]
    pub litres: f64,
}

/// Trodden or pressed down.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Firming {}

/// Compost taken out; the whole heap where no volume is given.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Withdrawal {
    /// Volume taken, 0 to 1000 m³.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 0, maximum = 1000))]
    pub volume_m3: Option<f64>,
}
