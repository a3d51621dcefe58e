//! What is known, expected and advised about a batch: the output of the model.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::advice::Advice;
use crate::futures::Future;
use crate::learned::Learned;
use crate::maturity::{RespirationClass, SelfHeatingClass};
use crate::probe::SuspectReading;
use crate::sanitisation::RuleFinding;
use crate::seeds::SeedSurvival;
use crate::window::Window;

/// The answer for one batch.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Estimate {
    /// The batch's name, as given.
    pub batch: String,
    /// Version of the model that answered.
    pub model_version: String,
    /// The day the estimate is made for.
    #[cfg_attr(feature = "schema", schema(value_type = String, format = Date))]
    pub as_of: Date,
    /// The bay it stands in now.
    pub bay: String,
    /// How far along it is.
    pub stage: Stage,
    /// The heap on that day; absent where nothing is left of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub now: Option<HeapNow>,
    /// What went in, what left and what is there, since the start.
    pub balance: Balance,
    /// Accumulated warmth.
    pub thermal_time: ThermalTime,
    /// How far the breakdown has come; absent where nothing is left.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub maturity: Option<Maturity>,
    /// When it can be spread, for each use.
    pub windows: Vec<Window>,
    /// What the readings show against each sanitisation rule.
    pub sanitisation: Vec<RuleFinding>,
    /// Expected survival of weed seeds.
    pub seeds: Vec<SeedSurvival>,
    /// What was learned of this heap from what was seen.
    pub learned: Learned,
    /// What could be done and what would come of it, where the history asks.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub futures: Vec<Future>,
    /// Expected course from the first event to the horizon.
    pub forecast: Vec<ForecastPoint>,
    /// What to do, the most pressing first.
    pub advice: Vec<Advice>,
    /// Readings that were set aside, and why.
    pub suspect_readings: Vec<SuspectReading>,
    /// What had to be assumed, each of which widens the answer.
    pub assumptions: Vec<Assumption>,
    /// Where the dry matter came from.
    pub provenance: Vec<Provenance>,
    /// What every reader should bear in mind.
    pub cautions: Vec<String>,
}

/// How far along a batch is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Stage {
    /// Nothing is in the bay, or too little to be a heap.
    Emptied,
    /// Material was added within the last ten days.
    Filling,
    /// The core is over 40 °C.
    Hot,
    /// Cooler, still breaking down.
    Curing,
    /// Too dry or too airless to go on, and not mature: it restarts when that is mended.
    Stalled,
    /// A window is open for at least one use.
    Ready,
}

/// A range of belief: one in ten below `p10`, half below `p50`, nine in ten below `p90`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Spread {
    /// One in ten is below.
    pub p10: f64,
    /// The middle.
    pub p50: f64,
    /// Nine in ten are below.
    pub p90: f64,
}

/// The heap on the day asked for.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct HeapNow {
    /// Core temperature, °C.
    pub core_c: Spread,
    /// Edge temperature, °C.
    pub edge_c: Spread,
    /// Air temperature, °C.
    pub air_c: f64,
    /// Volume, m³.
    pub volume_m3: Spread,
    /// Volume over the bay's capacity.
    pub fill_fraction: f64,
    /// Total wet mass, kg.
    pub mass_kg: f64,
    /// Dry mass, kg.
    pub dry_mass_kg: f64,
    /// Moisture, wet basis.
    pub moisture_fraction: Spread,
    /// Share of the volume that is air.
    pub free_air_space_fraction: f64,
    /// Carbon to nitrogen.
    pub c_to_n: f64,
    /// Nitrogen, kg.
    pub nitrogen_kg: f64,
}

/// Conserved totals since the first event, kg.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Balance {
    /// Dry matter put in, merged batches included at what they brought.
    pub dry_in_kg: f64,
    /// Dry matter gone as gas.
    pub dry_degraded_kg: f64,
    /// Dry matter taken out.
    pub dry_withdrawn_kg: f64,
    /// Water put in: in material, by can and by merged batches.
    pub water_in_kg: f64,
    /// Rain that fell in.
    pub rain_kg: f64,
    /// Water made by breakdown.
    pub metabolic_water_kg: f64,
    /// Water carried off by air.
    pub evaporated_kg: f64,
    /// Water that ran out below.
    pub drained_kg: f64,
    /// Water taken out with compost.
    pub water_withdrawn_kg: f64,
    /// Water added to (or, negative, taken from) the model so as to follow moisture notes.
    pub water_corrected_kg: f64,
    /// Carbon to nitrogen of all that was put in; 0 before there is a heap.
    pub mix_c_to_n: f64,
    /// Moisture of all that was put in, wet basis; 0 before there is a heap.
    pub mix_moisture_fraction: f64,
    /// Loose volume of all that was put in, m³.
    pub volume_in_m3: f64,
}

/// Accumulated warmth.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ThermalTime {
    /// Base temperature, °C.
    pub base_c: f64,
    /// Cap temperature, °C.
    pub cap_c: f64,
    /// Degree-days between base and cap since the first addition, °C·days. An index of this model's own.
    pub degree_days_c: f64,
    /// Share of the elapsed time covered by readings.
    pub measured_fraction: f64,
    /// Share of the degree-days that stand on readings; the rest on the model.
    pub measured_degree_days_fraction: f64,
    /// Days at the optimum of temperature, moisture and air that would have done the same work; absent where nothing is
    /// left.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub effective_days: Option<Spread>,
}

/// How far the breakdown has come.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Maturity {
    /// Degraded share of the initially degradable volatile solids, 0 to 1.
    pub index: Spread,
    /// Predicted respiration at 37 °C, mg CO₂-C per g volatile solids and day.
    pub respiration_mg_co2c_g_vs_day: f64,
    /// Class of that respiration in the scheme named.
    pub respiration_class: RespirationClass,
    /// The scheme the class belongs to.
    pub respiration_scheme: String,
    /// Predicted rise in the self-heating vessel test, °C.
    pub self_heating_rise_c: f64,
    /// Its class, I (fresh) to V (finished).
    pub self_heating_class: SelfHeatingClass,
}

/// One day of the expected course.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ForecastPoint {
    /// The day; values are for its end, UTC.
    #[cfg_attr(feature = "schema", schema(value_type = String, format = Date))]
    pub date: Date,
    /// Core temperature, °C.
    pub core_c: Spread,
    /// Edge temperature, °C.
    pub edge_c: Spread,
    /// Volume, m³.
    pub volume_m3: Spread,
    /// Moisture, wet basis.
    pub moisture_fraction: Spread,
    /// Maturity index.
    pub maturity_index: Spread,
}

/// Something the history did not say.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Assumption {
    /// JSON Pointer to where it would have stood.
    pub pointer: String,
    /// What was assumed.
    pub assumed: String,
}

/// A batch's share in the heap.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Provenance {
    /// The batch.
    pub batch: String,
    /// Dry matter it brought, kg.
    pub dry_in_kg: f64,
    /// Its share of all dry matter put in.
    pub share: f64,
}
