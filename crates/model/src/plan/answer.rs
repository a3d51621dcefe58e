//! A season's plan: what to do when, what comes of it, and what does not fit.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::estimate::{Assumption, Spread};
use crate::window::{Criterion, DateSpread, Use};

/// The answer for one season.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Plan {
    /// Version of the model that answered.
    pub model_version: String,
    /// First day planned.
    #[cfg_attr(feature = "schema", schema(value_type = String, format = Date))]
    pub from: Date,
    /// Day after the last one planned.
    #[cfg_attr(feature = "schema", schema(value_type = String, format = Date))]
    pub until: Date,
    /// What to do, in order of time.
    pub steps: Vec<Step>,
    /// The batches, those that stand first.
    pub batches: Vec<PlannedBatch>,
    /// The demands, in order of time.
    pub demands: Vec<DemandOutlook>,
    /// Compost ready for bed dressing or better, with what was spread by then counted in, at each month's end.
    pub expected: Vec<ExpectedVolume>,
    /// What does not fit, and what would mend it.
    pub conflicts: Vec<Conflict>,
    /// How good the plan is against any other.
    pub optimum: Optimum,
    /// What had to be assumed.
    pub assumptions: Vec<Assumption>,
    /// What every reader should bear in mind.
    pub cautions: Vec<String>,
}

/// Something to do. Steps are planned by the week; each stands on the first day of its week.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "schema", schema(as = PlanStep))]
#[serde(deny_unknown_fields)]
pub struct Step {
    /// First day of the week.
    #[cfg_attr(feature = "schema", schema(value_type = String, format = Date))]
    pub on: Date,
    /// What is done.
    pub action: Action,
    /// The batch.
    pub batch: String,
    /// The bay it is in.
    pub bay: String,
    /// The bay it is turned into.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to_bay: Option<String>,
    /// The batch that it is forked together with.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub with_batch: Option<String>,
    /// The demand that compost is taken for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub demand: Option<String>,
    /// Volume expected, m³: at filling, what the batch comes to; else what is moved or taken.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub volume_m3: Option<f64>,
    /// The same in barrow loads.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub barrows: Option<f64>,
    /// Why then and there.
    pub reason: String,
}

/// What is done.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Action {
    /// Compost is taken out and spread, and the rest left.
    Spread,
    /// All that is left is taken out.
    Empty,
    /// Nothing more is added.
    Close,
    /// Forked into another bay.
    Turn,
    /// From here on additions go to this batch.
    Fill,
    /// Left alone to finish.
    Cure,
    /// Covered against rain.
    Cover,
}

/// A batch of the plan.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct PlannedBatch {
    /// Its name: that of its history, or one made from its bay and the week it is begun in.
    pub batch: String,
    /// Whether it stands already.
    pub standing: bool,
    /// Bays it stands in, in order.
    pub bays: Vec<String>,
    /// The batch that it is forked together with, which goes into the bay first.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub merged_into: Option<String>,
    /// First day of its week of filling; absent for a batch that stands.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, format = Date))]
    pub filled_from: Option<Date>,
    /// Day from which nothing is added.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, format = Date))]
    pub closed: Option<Date>,
    /// When it is turned.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, format = Date))]
    pub turned: Option<Date>,
    /// When the last of it is taken out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, format = Date))]
    pub emptied: Option<Date>,
    /// When each use's window opens.
    pub windows: Vec<PlannedWindow>,
    /// Day by which weed seeds of middling tolerance of heat are down to one in twenty in the middle heap, where that was asked
    /// about and comes before the plan's end: an estimate, no evidence.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, format = Date))]
    pub seeds_killed_by: Option<Date>,
}

/// When a planned batch is fit for a use.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct PlannedWindow {
    /// The use.
    #[serde(rename = "use")]
    pub for_use: Use,
    /// First day on which it is fit.
    pub opens: DateSpread,
    /// What most often holds it back.
    pub held_back_by: Criterion,
    /// Volume then, m³; absent where it does not open before the horizon.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub volume_m3: Option<f64>,
}

/// How a demand is met.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct DemandOutlook {
    /// The demand.
    pub demand: String,
    /// What it is for.
    #[serde(rename = "use")]
    pub for_use: Use,
    /// The day by which it is needed.
    #[cfg_attr(feature = "schema", schema(value_type = String, format = Date))]
    pub by: Date,
    /// How much, m³.
    pub needed_m3: f64,
    /// How much is there by then of what is set aside for it, m³, as if all heaps erred alike.
    pub expected_m3: Spread,
    /// What is missing in the middle, m³.
    pub short_m3: f64,
    /// The same in barrow loads.
    pub short_barrows: f64,
    /// Batches it is taken from.
    pub taken_from: Vec<Draw>,
}

/// Compost taken for a demand.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Draw {
    /// The batch.
    pub batch: String,
    /// How much, m³: none of it where the batch is not ready by then.
    pub volume_m3: Spread,
    /// Probability that it is ready by then.
    pub ready_probability: f64,
}

/// Compost expected by a day.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ExpectedVolume {
    /// The day.
    #[cfg_attr(feature = "schema", schema(value_type = String, format = Date))]
    pub by: Date,
    /// Volume, m³, as if all heaps erred alike.
    pub volume_m3: Spread,
}

/// Something that does not fit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Conflict {
    /// What it is.
    pub kind: ConflictKind,
    /// When.
    #[cfg_attr(feature = "schema", schema(value_type = String, format = Date))]
    pub on: Date,
    /// The demand it is about.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub demand: Option<String>,
    /// The batch it is about.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub batch: Option<String>,
    /// How much is missing or has no place, m³.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub volume_m3: Option<f64>,
    /// The same in barrow loads.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub barrows: Option<f64>,
    /// In words.
    pub text: String,
    /// What would mend it, each by itself.
    pub remedies: Vec<Remedy>,
}

/// A kind of conflict.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum ConflictKind {
    /// Less compost than a demand needs.
    Shortfall,
    /// Compost that is ready in the middle, but not in nine cases of ten.
    Unsure,
    /// Material that comes in and finds no bay.
    NoRoom,
    /// No bay stands free for turning.
    NoFreeBay,
    /// A batch that rested is turned later than it could be, or not at all.
    LateTurn,
    /// What is filled into batches lies, mixed, outside of what heats well: too wet or dry, too airless, or short of nitrogen or
    /// carbon.
    PoorMix,
}

/// Something that would mend a conflict.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Remedy {
    /// What it is.
    pub kind: RemedyKind,
    /// How much of the conflict it mends, m³.
    pub mends_m3: f64,
    /// More material: its loose volume; finished compost: its volume, m³.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub volume_m3: Option<f64>,
    /// The same in barrow loads.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub barrows: Option<f64>,
    /// A later date: that date. More material: the day by which it has to come.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, format = Date))]
    pub on: Option<Date>,
    /// A thinner dressing: its depth, m.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub depth_m: Option<f64>,
    /// An extra bay: the one that it is like.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub like_bay: Option<String>,
    /// In words.
    pub text: String,
}

/// A kind of remedy.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum RemedyKind {
    /// Finished compost from outside.
    FinishedCompost,
    /// Material from outside.
    MoreMaterial,
    /// One bay more.
    ExtraBay,
    /// The work is done later.
    LaterDate,
    /// The same compost is spread thinner.
    ThinnerDressing,
}

/// How good a plan is.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Optimum {
    /// What the plan is worth: compost on demand at its priority, a fifth of what is spare, less labour and disorder, m³.
    pub value_m3: f64,
    /// No plan is worth more, m³: proven by relaxing what bays and labour forbid.
    pub bound_m3: f64,
    /// The part of the bound that may be missing, 0 to 1.
    pub gap_fraction: f64,
}
