//! Mixes of greens and browns that a grower would put together.

use baycast_model::default_feedstocks;
use baycast_model::feedstock::Feedstock;
use baycast_model::history::Preparation;

use crate::chance::Chance;

/// A mix by mass.
pub struct Mix {
    /// Its materials.
    pub parts: Vec<Part>,
    /// Wet mass of a loose cubic metre of it, kg.
    pub kg_m3: f64,
    /// Its moisture, wet basis.
    pub moisture: f64,
}

/// One material of a mix.
pub struct Part {
    /// Id in the default table.
    pub id: &'static str,
    /// Share of the wet mass.
    pub mass_share: f64,
    /// Wet mass of a loose cubic metre, kg.
    pub loose_kg_m3: f64,
}

/// What is put in for nitrogen.
const GREENS: [&str; 11] = [
    "grass_mowings",
    "leafy_crop_waste",
    "crop_stems",
    "root_tops",
    "vegetable_culls",
    "pea_bean_haulm",
    "green_manure",
    "annual_weeds",
    "food_scraps",
    "horse_manure_bedded",
    "coffee_grounds",
];

/// What is put in for carbon and structure.
const BROWNS: [&str; 8] = [
    "tree_leaves",
    "hedge_trimmings",
    "shredded_prunings",
    "hardwood_chips",
    "wheat_straw",
    "barley_straw",
    "cardboard",
    "sweetcorn_stalks",
];

/// Accepted carbon to nitrogen and moisture of the whole mix: about the acceptable range of Rynk and others 2022, The
/// Composting Handbook, table 4.2 (C:N 20-60, moisture 40-65 %, read in an excerpt), as wet as garden mixes come.
const C_TO_N: std::ops::Range<f64> = 20.0..45.0;
const MOISTURE: std::ops::Range<f64> = 0.45..0.70;

/// Draws greens and browns until they make an acceptable mix.
pub fn draw_mix(chance: &mut Chance) -> Mix {
    let table = default_feedstocks();
    let find = |id: &str| table.iter().find(|row| row.id == id).expect("an id of the default table");
    loop {
        let mut ids: Vec<&'static str> = (0..chance.whole(1, 3)).map(|_| chance.one_of(&GREENS)).collect();
        ids.extend((0..chance.whole(1, 3)).map(|_| chance.one_of(&BROWNS)));
        ids.sort_unstable();
        ids.dedup();
        let raw: Vec<(&'static str, f64)> =
            ids.into_iter().map(|id| (id, chance.log_between(0.1, 1.0))).collect();
        let sum = |of: &dyn Fn(&Feedstock) -> f64| raw.iter().map(|(id, kg)| kg * of(find(id))).sum::<f64>();
        let total_kg = sum(&|_| 1.0);
        let dry_kg = sum(&|row| 1.0 - row.moisture_fraction);
        let nitrogen_kg = sum(&|row| (1.0 - row.moisture_fraction) * row.nitrogen_fraction);
        let carbon_kg = sum(&|row| (1.0 - row.moisture_fraction) * row.nitrogen_fraction * row.c_to_n);
        let moisture = 1.0 - dry_kg / total_kg;
        if !C_TO_N.contains(&(carbon_kg / nitrogen_kg)) || !MOISTURE.contains(&moisture) {
            continue;
        }
        let loose = |row: &Feedstock| row.loose_kg_m3(None, Preparation::AsListed);
        let kg_m3 = total_kg / sum(&|row| 1.0 / loose(row));
        let parts =
            raw.iter().map(|(id, kg)| Part { id, mass_share: kg / total_kg, loose_kg_m3: loose(find(id)) });
        return Mix { parts: parts.collect(), kg_m3, moisture };
    }
}
