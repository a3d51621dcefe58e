//! What was learned of a heap from what was seen: the types of the answer.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::estimate::Spread;
use crate::variant::Unknown;

/// What was learned of a heap, how far to trust it, and what would teach most next.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Learned {
    /// What the ranges rest on.
    pub trust: Trust,
    /// Why, in a sentence.
    pub reason: String,
    /// Readings, notes and sightings that counted, those of one zone within six hours as one.
    pub observations: u32,
    /// Factors on what the materials and the bay alone would have: before anything was seen, and after.
    pub factors: Vec<Factor>,
    /// What core readings are off by, °C: the probe, and how deep it is put.
    pub probe_bias_c: Spread,
    /// The heap's volume over what amounts and settling alone would have.
    pub volume_factor: Spread,
    /// How each kind of input moved the middle of the bed-dressing window's opening; empty where it does not open before
    /// the horizon.
    pub moved: Vec<Moved>,
    /// What to look at next; absent where nothing would narrow that opening by a day.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub next_look: Option<NextLook>,
}

/// What ranges rest on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Trust {
    /// Materials and bay alone.
    MaterialsOnly,
    /// Little beyond them.
    FewReadings,
    /// What was seen, which fits a plausible heap.
    Readings,
    /// What was seen, which fits no plausible heap well: dates may be further off than their ranges.
    ReadingsDisagree,
}

/// A factor before and after anything was seen.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Factor {
    /// What it is on.
    pub unknown: Unknown,
    /// Before.
    pub before: Spread,
    /// After.
    pub after: Spread,
}

/// How a kind of input moved an opening.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Moved {
    /// The kind.
    pub by: Input,
    /// How many there were.
    pub count: u32,
    /// Days by which they put the middle of the opening later; negative where earlier.
    pub later_days: f64,
}

/// A kind of input.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Input {
    /// Readings in the core.
    CoreReadings,
    /// Readings at the edge.
    EdgeReadings,
    /// Moisture notes.
    MoistureNotes,
    /// Sightings of the level.
    LevelSightings,
    /// What earlier batches of the bay taught.
    EarlierBatches,
}

/// What to look at next, and what it would be worth.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct NextLook {
    /// What to look at.
    pub at: Look,
    /// When.
    #[cfg_attr(feature = "schema", schema(value_type = String, format = Date))]
    pub on: Date,
    /// Days between P10 and P90 of the bed-dressing window's opening, now.
    pub range_now_days: f64,
    /// The same once it was looked at, as expected.
    pub range_then_days: f64,
}

/// Something that can be looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Look {
    /// Temperature in the core.
    CoreReading,
    /// Temperature at the edge.
    EdgeReading,
    /// Moisture, measured.
    Moisture,
    /// How high the heap stands.
    Level,
}
