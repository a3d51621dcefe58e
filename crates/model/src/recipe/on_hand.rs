//! What is on hand for a mix, and what the mix should be.

use serde::{Deserialize, Serialize};

use crate::feedstock::Feedstock;
use crate::history::Preparation;

/// Materials on hand, and what their mix should be.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct OnHand {
    /// What may go in, 1 to 24.
    #[cfg_attr(feature = "schema", schema(min_items = 1, max_items = 24))]
    pub ingredients: Vec<Ingredient>,
    /// Own materials, and own values for those of the default table.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub feedstocks: Vec<Feedstock>,
    /// One barrow load, 0.01 to 0.5 m³; 0.085 where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 0.01, maximum = 0.5))]
    pub barrow_m3: Option<f64>,
    /// Most water to add, 0 to 20 000 litres; as much as is needed where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 0, maximum = 20000))]
    pub max_water_litres: Option<f64>,
    /// How much to mix, loose, between what the least and what the most of the ingredients come to, m³; where absent, as
    /// much as makes a good mix: within three quarters of its ranges, or as close as any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 0.01, maximum = 1000))]
    pub volume_m3: Option<f64>,
    /// What the mix should be.
    #[serde(default)]
    pub targets: Targets,
}

/// A material on hand.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Ingredient {
    /// A feedstock's id, from the default table or one's own.
    pub feedstock: String,
    /// The least of it to use; nothing where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub least: Option<Amount>,
    /// The most of it to use: what there is.
    pub most: Amount,
    /// Its own moisture, wet basis 0 to 0.98, in place of the table's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 0, maximum = 0.98))]
    pub moisture_fraction: Option<f64>,
    /// Whether it is shredded or chopped before it goes in.
    #[serde(default)]
    pub preparation: Preparation,
}

/// An amount of a material, told in exactly one way.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Amount {
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
}

/// What a mix should be when it goes in.
///
/// Ranges and C:N: reasonable range of On-Farm Composting Handbook, NRAES-54 (Rynk 1992), as reprinted in Adhikari and others
/// 2022, Louisiana State University AgCenter, publication 3838-D, table of recommended conditions (read): C:N 20-40 and best
/// around 30, moisture 40-65 %. Moisture aimed at: the middle of the preferred 50-60 % (Rynk and others 2022, The Composting
/// Handbook, table 4.2, read in an excerpt). Air: nearly all of the pace that air allows (Haug 1993, from memory: 97 % of it
/// at 30 %), between the 20 % that are adequate and the 35 % from which it is best (technical note on composting basics, read).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(default, deny_unknown_fields)]
pub struct Targets {
    /// Carbon to nitrogen aimed at, 10 to 60; 30 where absent.
    #[cfg_attr(feature = "schema", schema(minimum = 10, maximum = 60))]
    pub c_to_n: f64,
    /// Least that is taken, 10 to 60; 20 where absent.
    #[cfg_attr(feature = "schema", schema(minimum = 10, maximum = 60))]
    pub min_c_to_n: f64,
    /// Most that is taken, 10 to 60; 40 where absent.
    #[cfg_attr(feature = "schema", schema(minimum = 10, maximum = 60))]
    pub max_c_to_n: f64,
    /// Moisture aimed at, wet basis 0.2 to 0.8; 0.55 where absent.
    #[cfg_attr(feature = "schema", schema(minimum = 0.2, maximum = 0.8))]
    pub moisture_fraction: f64,
    /// Least that is taken, 0.2 to 0.8; 0.4 where absent.
    #[cfg_attr(feature = "schema", schema(minimum = 0.2, maximum = 0.8))]
    pub min_moisture_fraction: f64,
    /// Most that is taken, 0.2 to 0.8; 0.65 where absent.
    #[cfg_attr(feature = "schema", schema(minimum = 0.2, maximum = 0.8))]
    pub max_moisture_fraction: f64,
    /// Least share of the volume that is air once the mix has settled, 0 to 0.6; 0.3 where absent.
    #[cfg_attr(feature = "schema", schema(minimum = 0, maximum = 0.6))]
    pub min_free_air_space_fraction: f64,
}

impl Default for Targets {
    fn default() -> Self {
        Self {
            c_to_n: 30.0,
            min_c_to_n: 20.0,
            max_c_to_n: 40.0,
            moisture_fraction: 0.55,
            min_moisture_fraction: 0.4,
            max_moisture_fraction: 0.65,
            min_free_air_space_fraction: 0.3,
        }
    }
}
