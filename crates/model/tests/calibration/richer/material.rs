//! What really went in: properties scattered about the table's, amounts about what was told.

use std::collections::HashMap;

use baycast_model::default_feedstocks;
use baycast_model::feedstock::{Feedstock, Structure};
use baycast_model::history::{Addition, History};

use super::nature::Nature;
use super::parcel::Parcel;
use crate::chance::Chance;

/// A barrow load where none is told, m³.
const BARROW_M3: f64 = 0.085;

/// Log errors of amounts by how they were told: one for the whole batch, as a grower's eye errs the same way each time, and
/// one for each addition. Estimates: a hanging scale, a marked bay, a barrow.
const WEIGHED: (f64, f64) = (0.03, 0.05);
const VOLUME: (f64, f64) = (0.12, 0.15);
const BARROWS: (f64, f64) = (0.15, 0.20);

/// A load as it goes in.
pub struct Load {
    /// Its matter.
    pub parcel: Parcel,
    /// Volume before settling, m³.
    pub loose_m3: f64,
    /// Volume once settled, m³.
    pub settled_m3: f64,
    /// Dry mass of what mats, kg.
    pub matting_kg: f64,
    /// Nitrogen, kg.
    pub nitrogen_kg: f64,
    /// Carbon, kg.
    pub carbon_kg: f64,
}

/// The materials of one batch as they really are.
pub struct Larder {
    rows: HashMap<String, Feedstock>,
    /// Split of fast matter into the first two pools and of slow matter into the last two.
    splits: (f64, f64),
    /// Factors on amounts by scale, by volume and by barrow.
    eye: [f64; 3],
    barrow_m3: f64,
}

impl Larder {
    /// Draws the materials' properties.
    ///
    /// Log errors about the table's values: water to dry mass 0.2, density 0.15, nitrogen and carbon to nitrogen 0.1,
    /// degradable shares 0.15. Estimates of what differs between one farm's mowings and another's.
    pub fn draw(history: &History, chance: &mut Chance) -> Self {
        let scattered = default_feedstocks().into_iter().map(|mut row| {
            let water = row.moisture_fraction / (1.0 - row.moisture_fraction) * chance.factor(0.2);
            row.moisture_fraction = water / (1.0 + water);
            row.bulk_density_kg_m3 *= chance.factor(0.15);
            row.nitrogen_fraction *= chance.factor(0.1);
            row.c_to_n *= chance.factor(0.1);
            let degradable = chance.factor(0.15).min(0.95 / (row.fast_fraction + row.slow_fraction));
            row.fast_fraction *= degradable;
            row.slow_fraction *= degradable;
            (row.id.clone(), row)
        });
        Self {
            rows: scattered.collect(),
            splits: (chance.between(0.4, 0.8), chance.between(0.3, 0.6)),
            eye: [WEIGHED, VOLUME, BARROWS].map(|(common, _)| chance.factor(common)),
            barrow_m3: history.barrow_m3.unwrap_or(BARROW_M3),
        }
    }

    /// The load that `told` was, in air of `air_c` °C.
    pub fn load(&self, told: &Addition, air_c: f64, nature: &Nature, chance: &mut Chance) -> Load {
        let row = &self.rows[&told.feedstock];
        let mass_kg = if let Some(mass_kg) = told.mass_kg {
            mass_kg * self.eye[0] * chance.factor(WEIGHED.1)
        } else if let Some(volume_m3) = told.volume_m3 {
            volume_m3 * row.bulk_density_kg_m3 * self.eye[1] * chance.factor(VOLUME.1)
        } else {
            let volume_m3 = told.barrows.expect("an amount") * self.barrow_m3;
            volume_m3 * row.bulk_density_kg_m3 * self.eye[2] * chance.factor(BARROWS.1)
        };
        let dry_kg = mass_kg * (1.0 - row.moisture_fraction);
        let volatile_kg = dry_kg * (1.0 - row.ash_fraction);
        let (fast_kg, slow_kg) = (volatile_kg * row.fast_fraction, volatile_kg * row.slow_fraction);
        let (quick, middling) = self.splits;
        let loose_m3 = mass_kg / row.bulk_density_kg_m3;
        let nitrogen_kg = dry_kg * row.nitrogen_fraction;
        Load {
            parcel: Parcel {
                pools_kg: [
                    fast_kg * quick,
                    fast_kg * (1.0 - quick) + slow_kg * middling,
                    slow_kg * (1.0 - middling),
                ],
                resistant_kg: volatile_kg - fast_kg - slow_kg,
                ash_kg: dry_kg - volatile_kg,
                water_kg: mass_kg - dry_kg,
                celsius: air_c,
                activity: nature.inoculum,
            },
            loose_m3,
            settled_m3: loose_m3 * nature.settled(row.structure),
            matting_kg: if row.structure == Structure::Matting { dry_kg } else { 0.0 },
            nitrogen_kg,
            carbon_kg: nitrogen_kg * row.c_to_n,
        }
    }
}
