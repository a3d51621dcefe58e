//! The bay a heap stands in: its size, wall, base and top.

use serde::{Deserialize, Serialize};

/// A bay, bin or open heap.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Bay {
    /// The caller's own name for it.
    #[cfg_attr(feature = "schema", schema(min_length = 1, max_length = 128))]
    pub id: String,
    /// Inside length, 0.3 to 20 m.
    #[cfg_attr(feature = "schema", schema(minimum = 0.3, maximum = 20))]
    pub length_m: f64,
    /// Inside width, 0.3 to 20 m.
    #[cfg_attr(feature = "schema", schema(minimum = 0.3, maximum = 20))]
    pub width_m: f64,
    /// Inside height, 0.3 to 4 m.
    #[cfg_attr(feature = "schema", schema(minimum = 0.3, maximum = 4))]
    pub height_m: f64,
    /// What the sides are made of.
    pub wall: Wall,
    /// What it stands on.
    #[serde(default)]
    pub base: Base,
    /// What is over it.
    #[serde(default)]
    pub top: Top,
}

impl Bay {
    /// Inside volume to the brim, m³.
    #[must_use]
    pub fn capacity_m3(&self) -> f64 {
        self.length_m * self.width_m * self.height_m
    }
}

/// The sides: a named construction, or layers from the inside out; a construction where both are empty is open.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Wall {
    /// A named construction. Sets how much air the sides let through, and the layers where none are given.
    pub construction: Construction,
    /// Own layers from the inside out, in place of the construction's.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[cfg_attr(feature = "schema", schema(max_items = 8))]
    pub layers: Vec<Layer>,
}

/// One layer of a wall.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Layer {
    /// Thickness, 0.0005 to 1 m.
    #[cfg_attr(feature = "schema", schema(minimum = 0.0005, maximum = 1))]
    pub thickness_m: f64,
    /// Conductivity, 0.01 to 5 W/(m K).
    #[cfg_attr(feature = "schema", schema(minimum = 0.01, maximum = 5))]
    pub conductivity_w_m_k: f64,
}

/// Constructions that growers build.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Construction {
    /// A thin plastic bin, a few millimetres of polyethylene or polypropylene.
    ThinPlastic,
    /// Slats with gaps: pallets as they come.
    SlattedTimber,
    /// Solid boards.
    TimberBoards,
    /// Slats or pallets lined with corrugated cardboard.
    CardboardLined,
    /// Straw bales.
    StrawBale,
    /// Concrete block.
    Block,
    /// No walls.
    #[default]
    OpenHeap,
}

/// What the heap stands on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Base {
    /// Bare soil.
    #[default]
    Soil,
    /// A concrete or paved slab.
    Slab,
}

/// What is over the heap.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Top {
    /// Nothing: rain falls on it.
    #[default]
    Open,
    /// A roof above with air moving under it.
    Roofed,
    /// A lid that closes the bin.
    Lidded,
}
