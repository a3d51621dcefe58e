//! Materials that go into a heap.

mod source;
mod table;

use serde::{Deserialize, Serialize};

use crate::heap::{Material, Origin, Zone};
use crate::history::Preparation;
use crate::seeds::SeedLot;
use crate::shrinkage::settled_fraction;

pub use source::Source;
pub use table::{Row, Sourced, TABLE};

/// A material's properties. Fractions are shares of 1.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Feedstock {
    /// Its id, lower-case snake case.
    #[cfg_attr(feature = "schema", schema(min_length = 1, max_length = 128))]
    pub id: String,
    /// What a grower calls it.
    #[serde(default)]
    pub name: String,
    /// Moisture, wet basis, 0 to 0.98.
    #[cfg_attr(feature = "schema", schema(minimum = 0, maximum = 0.98))]
    pub moisture_fraction: f64,
    /// Nitrogen, share of dry mass, 0 to 0.2.
    #[cfg_attr(feature = "schema", schema(minimum = 0.0001, maximum = 0.2))]
    pub nitrogen_fraction: f64,
    /// Carbon to nitrogen by mass, 1 to 2000.
    #[cfg_attr(feature = "schema", schema(minimum = 1, maximum = 2000))]
    pub c_to_n: f64,
    /// Ash, share of dry mass, 0 to 1.
    #[cfg_attr(feature = "schema", schema(minimum = 0, maximum = 0.99))]
    pub ash_fraction: f64,
    /// Bulk density as added, 10 to 2000 kg/m³.
    #[cfg_attr(feature = "schema", schema(minimum = 10, maximum = 2000))]
    pub bulk_density_kg_m3: f64,
    /// Readily degradable share of volatile solids.
    #[cfg_attr(feature = "schema", schema(minimum = 0, maximum = 1))]
    pub fast_fraction: f64,
    /// Slowly degradable share of volatile solids; with `fast_fraction` at most 1.
    #[cfg_attr(feature = "schema", schema(minimum = 0, maximum = 1))]
    pub slow_fraction: f64,
    /// How it holds itself open.
    #[serde(default)]
    pub structure: Structure,
    /// A word of caution, if any.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
    /// Where each value comes from; empty for a caller's own.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sources: Vec<ValueSource>,
}

/// How a material holds itself open.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Structure {
    /// Woody or stemmy: keeps its air.
    Porous,
    /// Between the two.
    #[default]
    Mixed,
    /// Soft and wet: mats.
    Matting,
}

/// The publication one value of a feedstock comes from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct ValueSource {
    /// The field.
    pub field: String,
    /// Author, year, title, table.
    pub citation: String,
    /// How it was checked.
    pub checked: String,
}

/// Growth of bulk density on shredding beyond what the table describes. Estimate.
const SHREDDED_DENSITY: f64 = 1.3;

/// Activity of the community that fresh material brings, as a share of one fully grown. Fitted with the growth rate to
/// the days that published heaps took to warm (`tests/series`).
const FRESH_ACTIVITY: f64 = 0.053;

impl Feedstock {
    /// `mass_kg` of the material as it enters a heap at `temperature_c`, with its own moisture where known.
    #[must_use]
    pub fn material(
        &self,
        mass_kg: f64,
        moisture_fraction: Option<f64>,
        temperature_c: f64,
        preparation: Preparation,
    ) -> Material {
        let moisture = moisture_fraction.unwrap_or(self.moisture_fraction);
        let dry = mass_kg * (1.0 - moisture);
        let volatile = dry * (1.0 - self.ash_fraction);
        let nitrogen = dry * self.nitrogen_fraction;
        let (density, structure) = match preparation {
            Preparation::AsListed => (self.bulk_density_kg_m3, self.structure),
            Preparation::Shredded => {
                (self.bulk_density_kg_m3 * SHREDDED_DENSITY, Structure::Mixed.max(self.structure))
            }
        };
        // Another moisture than the table's changes the mass of a cubic metre, not its dry matter.
        let loose_m3 = dry / (density * (1.0 - self.moisture_fraction));
        Material {
            matter: Zone {
                fast_kg: volatile * self.fast_fraction,
                slow_kg: volatile * self.slow_fraction,
                resistant_kg: volatile * (1.0 - self.fast_fraction - self.slow_fraction),
                ash_kg: dry - volatile,
                water_kg: mass_kg * moisture,
                carbon_kg_kg: if volatile > 0.0 { nitrogen * self.c_to_n / volatile } else { 0.0 },
                temperature_c,
                seeds: SeedLot::fresh(dry),
            },
            nitrogen_kg: nitrogen,
            loose_m3,
            origin: Origin {
                dry_kg: dry,
                settled_m3: loose_m3 * settled_fraction(structure),
                degradable_kg: volatile * (self.fast_fraction + self.slow_fraction),
                matting_kg: if structure == Structure::Matting { dry } else { 0.0 },
            },
            activity: FRESH_ACTIVITY,
        }
    }

    /// Wet mass of one loose cubic metre at its own or another moisture, kg.
    #[must_use]
    pub fn loose_kg_m3(&self, moisture_fraction: Option<f64>, preparation: Preparation) -> f64 {
        1.0 / self.material(1.0, moisture_fraction, 0.0, preparation).loose_m3
    }
}

impl From<&Row> for Feedstock {
    fn from(row: &Row) -> Self {
        let values = [
            ("moisture_fraction", row.moisture_fraction),
            ("nitrogen_fraction", row.nitrogen_fraction),
            ("c_to_n", row.c_to_n),
            ("ash_fraction", row.ash_fraction),
            ("bulk_density_kg_m3", row.bulk_density_kg_m3),
            ("fast_fraction", row.fast_fraction),
            ("slow_fraction", row.slow_fraction),
        ];
        Self {
            id: row.id.into(),
            name: row.name.into(),
            moisture_fraction: row.moisture_fraction.value,
            nitrogen_fraction: row.nitrogen_fraction.value,
            c_to_n: row.c_to_n.value,
            ash_fraction: row.ash_fraction.value,
            bulk_density_kg_m3: row.bulk_density_kg_m3.value,
            fast_fraction: row.fast_fraction.value,
            slow_fraction: row.slow_fraction.value,
            structure: row.structure,
            note: row.note.into(),
            sources: values
                .into_iter()
                .map(|(field, value)| ValueSource {
                    field: field.into(),
                    citation: value.source.citation().into(),
                    checked: value.source.checked().into(),
                })
                .collect(),
        }
    }
}

/// The default table.
#[must_use]
pub fn default_feedstocks() -> Vec<Feedstock> {
    TABLE.iter().map(Feedstock::from).collect()
}
