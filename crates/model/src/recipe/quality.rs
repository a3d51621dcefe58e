//! What a mix is like, against what it should be.

use serde::{Deserialize, Serialize};

use crate::air::free_air_space;
use crate::heap::Material;
use crate::moisture::moisture_fraction;
use crate::recipe::on_hand::Targets;

/// One measure of a mix.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct MixQuality {
    /// What is measured.
    pub measure: MixMeasure,
    /// What it comes to.
    pub value: f64,
    /// What was aimed at, if anything.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub target: Option<f64>,
    /// The least that is taken.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub least: Option<f64>,
    /// The most that is taken.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub most: Option<f64>,
    /// Whether it lies in that range.
    pub standing: MixStanding,
}

impl MixQuality {
    /// That it is out of its range, in a sentence.
    #[must_use]
    pub fn missed(&self) -> String {
        let percent = |fraction: f64| format!("{:.0} %", fraction * 100.0);
        let (what, value, least, most) = match self.measure {
            MixMeasure::CToN => (
                "C:N",
                format!("{:.0}", self.value),
                self.least.map(|v| format!("{v:.0}")),
                self.most.map(|v| format!("{v:.0}")),
            ),
            MixMeasure::Moisture => {
                ("Moisture", percent(self.value), self.least.map(percent), self.most.map(percent))
            }
            MixMeasure::FreeAirSpace => (
                "Air in the settled mix",
                percent(self.value),
                self.least.map(percent),
                self.most.map(percent),
            ),
            MixMeasure::BulkDensity => (
                "A loose cubic metre",
                format!("{:.0} kg", self.value),
                self.least.map(|v| format!("{v:.0} kg")),
                self.most.map(|v| format!("{v:.0} kg")),
            ),
        };
        match (self.standing, least, most) {
            (MixStanding::Below, Some(least), _) => format!("{what}: {value}, under {least}."),
            (MixStanding::Above, _, Some(most)) => format!("{what}: {value}, over {most}."),
            _ => format!("{what}: {value}, as it should be."),
        }
    }
}

/// What is measured of a mix.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum MixMeasure {
    /// Carbon to nitrogen by mass.
    CToN,
    /// Moisture, wet basis.
    Moisture,
    /// Share of the volume that is air once the mix has settled, under no load.
    FreeAirSpace,
    /// Wet mass of a loose cubic metre, kg.
    BulkDensity,
}

/// Where a measure lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum MixStanding {
    /// Under its range.
    Below,
    /// In its range.
    Within,
    /// Over its range.
    Above,
}

/// Most that a loose cubic metre may weigh to let air in, kg: 1200 lb per cubic yard, the upper end of the range in the
/// table that [`Targets`] cites.
pub const MAX_BULK_DENSITY_KG_M3: f64 = 712.0;
/// Share by which a value may miss a bound and still lie within: less than anyone reads.
const READ_AS_WITHIN: f64 = 1e-4;
/// Air that weighs in a misfit as much as half of a range of C:N or moisture does, share of the volume.
pub(crate) const AIR_WIDTH: f64 = 0.1;

/// Carbon to nitrogen of a mix.
#[must_use]
pub fn c_to_n(mix: &Material) -> f64 {
    mix.matter.carbon_kg_kg * mix.matter.volatile_kg() / mix.nitrogen_kg
}

/// Moisture of a mix, wet basis.
#[must_use]
pub fn moisture(mix: &Material) -> f64 {
    moisture_fraction(mix.matter.water_kg, mix.matter.dry_kg())
}

/// Share of a settled mix that is air.
#[must_use]
pub fn air(mix: &Material) -> f64 {
    let matter = &mix.matter;
    free_air_space(mix.origin.settled_m3, matter.water_kg, matter.volatile_kg(), matter.ash_kg)
}

/// Wet mass of a mix, kg.
#[must_use]
pub fn mass_kg(mix: &Material) -> f64 {
    mix.matter.dry_kg() + mix.matter.water_kg
}

/// Every measure of a mix.
#[must_use]
pub fn qualities(mix: &Material, targets: &Targets) -> [MixQuality; 4] {
    let quality = |measure, value: f64, target, least: Option<f64>, most: Option<f64>| {
        let standing = if least.is_some_and(|least| value < least * (1.0 - READ_AS_WITHIN)) {
            MixStanding::Below
        } else if most.is_some_and(|most| value > most * (1.0 + READ_AS_WITHIN)) {
            MixStanding::Above
        } else {
            MixStanding::Within
        };
        MixQuality { measure, value, target, least, most, standing }
    };
    let t = targets;
    [
        quality(MixMeasure::CToN, c_to_n(mix), Some(t.c_to_n), Some(t.min_c_to_n), Some(t.max_c_to_n)),
        quality(
            MixMeasure::Moisture,
            moisture(mix),
            Some(t.moisture_fraction),
            Some(t.min_moisture_fraction),
            Some(t.max_moisture_fraction),
        ),
        quality(MixMeasure::FreeAirSpace, air(mix), None, Some(t.min_free_air_space_fraction), None),
        quality(
            MixMeasure::BulkDensity,
            mass_kg(mix) / mix.loose_m3,
            None,
            None,
            Some(MAX_BULK_DENSITY_KG_M3),
        ),
    ]
}

/// Half the width of the range of C:N, and of moisture: the unit in which a miss counts.
pub(crate) fn half_widths(targets: &Targets) -> (f64, f64) {
    (
        (targets.max_c_to_n - targets.min_c_to_n) / 2.0,
        (targets.max_moisture_fraction - targets.min_moisture_fraction) / 2.0,
    )
}

/// How far a mix is from what it should be: 1 where one measure is half a range off and the others are met.
#[must_use]
pub fn misfit(mix: &Material, targets: &Targets) -> f64 {
    let (c_to_n_width, moisture_width) = half_widths(targets);
    let carbon = (c_to_n(mix) - targets.c_to_n) / c_to_n_width;
    let water = (moisture(mix) - targets.moisture_fraction) / moisture_width;
    let airless = (targets.min_free_air_space_fraction - air(mix)).max(0.0) / AIR_WIDTH;
    (carbon * carbon + water * water + airless * airless).sqrt()
}
