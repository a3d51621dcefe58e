//! What would bring a measure that is out of its range back to where it should be.

use serde::{Deserialize, Serialize};

use crate::air::solid_m3;
use crate::feedstock::{Feedstock, default_feedstocks};
use crate::heap::Material;
use crate::history::Preparation;
use crate::recipe::proportions::Proportions;
use crate::recipe::quality::{MixMeasure, MixQuality, MixStanding, misfit};
use crate::recipe::stock::Stock;
use crate::recipe::{RecipeBound, bound};

/// What would mend one measure of a mix by itself.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RecipeMend {
    /// The measure that it brings into its range.
    pub measure: MixMeasure,
    /// The feedstock to add; water where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub feedstock: Option<String>,
    /// Wet mass to add, kg.
    pub mass_kg: f64,
    /// Loose volume to add, m³; 0 for water.
    pub volume_m3: f64,
    /// What to do, in a sentence.
    pub action: String,
}

/// Materials that growers come by and that carry neither manure nor much seed, one for each thing that a mix may lack.
const COME_BY: [&str; 6] =
    ["shredded_prunings", "cardboard", "wheat_straw", "tree_leaves", "leafy_crop_waste", "grass_mowings"];
/// Most that is worth adding, as a multiple of the mix's mass.
const WORTH_ADDING: f64 = 3.0;

/// One mend for each measure out of its range, where anything on hand or easily come by mends it.
pub(super) fn mends(
    stock: &Stock,
    proportions: &Proportions,
    mix: &Material,
    qualities: &[MixQuality],
) -> Vec<RecipeMend> {
    let out = qualities.iter().filter(|quality| quality.standing != MixStanding::Within);
    out.filter_map(|quality| mend(stock, proportions, mix, quality)).collect()
}

/// The addition that mends a measure and leaves the mix closest to all that it should be.
fn mend(
    stock: &Stock,
    proportions: &Proportions,
    mix: &Material,
    quality: &MixQuality,
) -> Option<RecipeMend> {
    let aim = if quality.standing == MixStanding::Below { quality.least } else { quality.most }?;
    let table = default_feedstocks();
    // What is on hand and not used up cannot help, or it would have been taken.
    let used_up = stock
        .materials
        .iter()
        .zip(&proportions.kg)
        .filter(|(own, kg)| bound(own, **kg) == Some(RecipeBound::Most));
    let used_up = used_up.map(|(own, _)| (own.feedstock.clone(), own.per_kg));
    let listed = table.into_iter().filter(|row| COME_BY.contains(&row.id.as_str())).map(|row| {
        let per_kg = row.material(1.0, None, 0.0, Preparation::AsListed);
        (row, per_kg)
    });
    let water = {
        let mut litre = Material::default();
        litre.matter.water_kg = 1.0;
        (None, litre)
    };
    let candidates =
        used_up.chain(listed).map(|(row, per_kg)| (Some(row), per_kg)).chain([water]).filter_map(
            |(row, per_kg): (Option<Feedstock>, Material)| {
                let kg = needed_kg(mix, &per_kg, quality.measure, aim)?;
                let mut mended = *mix;
                mended.combine(&per_kg.times(kg));
                Some((misfit(&mended, &stock.targets), row, per_kg, kg))
            },
        );
    let (_, row, per_kg, kg) = candidates.min_by(|one, other| one.0.total_cmp(&other.0))?;
    let volume_m3 = per_kg.loose_m3 * kg;
    let what = match &row {
        Some(row) => format!("{kg:.0} kg ({volume_m3:.2} m³) more of {}", called(row)),
        None => format!("{kg:.0} litres of water"),
    };
    let reached = match quality.measure {
        MixMeasure::CToN => format!("C:N is then {aim:.0}"),
        MixMeasure::Moisture => format!("moisture is then {:.0} %", aim * 100.0),
        MixMeasure::FreeAirSpace => format!("{:.0} % of the settled mix is then air", aim * 100.0),
        MixMeasure::BulkDensity => format!("a loose cubic metre then weighs {aim:.0} kg"),
    };
    Some(RecipeMend {
        measure: quality.measure,
        feedstock: row.map(|row| row.id),
        mass_kg: kg,
        volume_m3,
        action: format!("Add {what}: {reached}."),
    })
}

fn called(row: &Feedstock) -> String {
    if row.name.is_empty() { row.id.clone() } else { row.name.to_lowercase() }
}

/// Kilograms that bring a measure of the mix to `aim`: the recipe equation of NRAES-54 for a second material (from memory;
/// its moisture form read, see `EQUATIONS.md`), which holds for any measure that is a share of sums.
fn needed_kg(mix: &Material, per_kg: &Material, measure: MixMeasure, aim: f64) -> Option<f64> {
    let excess = |of: &Material| {
        let matter = &of.matter;
        let mass_kg = matter.dry_kg() + matter.water_kg;
        match measure {
            MixMeasure::CToN => matter.carbon_kg_kg * matter.volatile_kg() - aim * of.nitrogen_kg,
            MixMeasure::Moisture => matter.water_kg - aim * mass_kg,
            MixMeasure::FreeAirSpace => {
                let filled_m3 = matter.water_kg / 1000.0 + solid_m3(matter.volatile_kg(), matter.ash_kg);
                (1.0 - aim) * of.origin.settled_m3 - filled_m3
            }
            MixMeasure::BulkDensity => mass_kg - aim * of.loose_m3,
        }
    };
    let kg = -excess(mix) / excess(per_kg);
    let most = WORTH_ADDING * (mix.matter.dry_kg() + mix.matter.water_kg);
    (kg > 0.0 && kg <= most).then_some(kg)
}
