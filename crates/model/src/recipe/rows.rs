//! The best mix of a volume, as least squares. `EQUATIONS.md` has the rows.

use nalgebra::{DMatrix, DVector};

use crate::air::solid_m3;
use crate::heap::Material;
use crate::recipe::bounded_least_squares::solve;
use crate::recipe::proportions::Proportions;
use crate::recipe::quality::{AIR_WIDTH, air, c_to_n, half_widths, mass_kg, misfit, moisture};
use crate::recipe::stock::{Stock, Stocked};

/// How strongly a mix is drawn towards using everything on hand in the proportions in which it is there, and no water: against
/// a measure half a range off, which weighs 1.
const PULL: f64 = 1e-3;
/// How strongly a mix is held to the volume asked for.
const HOLD: f64 = 1e4;
/// Most rounds of drawing closer, and the gain of one, as a share, that ends them.
const ROUNDS: usize = 12;
const SETTLED: f64 = 1e-9;
/// How often the way to a closer mix is halved where the whole of it leads too far.
const SHORTER: i32 = 6;
/// A cost at which the targets are met no better than half a range off.
const FAR: f64 = 1.0;

/// The best mix of a loose volume: that of the recipe equations, and from there by Gauss-Newton steps on the ratios themselves,
/// which differ where the targets cannot be met.
///
/// Far from the targets more than one mix can be closer than all those around it: there each material leads in turn, and the
/// closest mix that is come to is told.
pub(super) fn of_volume(stock: &Stock, volume_m3: f64) -> Proportions {
    let (_, most_m3) = stock.volumes_m3();
    let share = (volume_m3 / most_m3).min(1.0);
    let all =
        Proportions { kg: stock.materials.iter().map(|own| own.most_kg * share).collect(), water_kg: 0.0 };
    let rows = Rows { stock, volume_m3, share, around: Around::targets(stock, &stock.mix(&all)) };
    let (mut best, mut cost) = rows.settled(rows.closest());
    if cost > FAR {
        for leader in 0..stock.materials.len() {
            let (found, its) = rows.settled(rows.led_by(leader));
            if its < cost * (1.0 - SETTLED) {
                (best, cost) = (found, its);
            }
        }
    }
    best
}

/// Ratios about which rows are straight, and what they are divided by, so that each counts its measure in its own unit.
#[derive(Clone, Copy, Debug)]
struct Around {
    c_to_n: f64,
    moisture: f64,
    air: f64,
    nitrogen_kg: f64,
    mass_kg: f64,
    settled_m3: f64,
}

impl Around {
    /// The ratios of a mix.
    fn mix(mix: &Material) -> Self {
        let settled_m3 = mix.origin.settled_m3;
        Self {
            c_to_n: c_to_n(mix),
            moisture: moisture(mix),
            air: 1.0 - filled_m3(mix) / settled_m3,
            nitrogen_kg: mix.nitrogen_kg,
            mass_kg: mass_kg(mix),
            settled_m3,
        }
    }

    /// The targets themselves, for amounts about those of a mix: the recipe equations.
    fn targets(stock: &Stock, mix: &Material) -> Self {
        let targets = &stock.targets;
        Self {
            c_to_n: targets.c_to_n,
            moisture: targets.moisture_fraction,
            air: targets.min_free_air_space_fraction,
            ..Self::mix(mix)
        }
    }
}

/// Volume of the water and the solids, m³.
fn filled_m3(mix: &Material) -> f64 {
    mix.matter.water_kg / 1000.0 + solid_m3(mix.matter.volatile_kg(), mix.matter.ash_kg)
}

/// The least-squares problem. Its unknowns are shares of the most of each material, and of the most water at the end.
#[derive(Clone, Copy)]
struct Rows<'a> {
    stock: &'a Stock,
    volume_m3: f64,
    /// The volume as a share of all that is on hand.
    share: f64,
    around: Around,
}

impl Rows<'_> {
    /// The closest mix. One with too little air is drawn to the least; one with more is left alone.
    fn closest(&self) -> Proportions {
        let found = self.solve(false);
        let airless = air(&self.stock.mix(&found)) < self.stock.targets.min_free_air_space_fraction;
        if airless { self.solve(true) } else { found }
    }

    /// The mix that Gauss-Newton steps lead to from another, and its cost.
    fn settled(&self, mut found: Proportions) -> (Proportions, f64) {
        let mut cost = self.cost(&found);
        for _ in 0..ROUNDS {
            let rows = Rows { around: Around::mix(&self.stock.mix(&found)), ..*self };
            let next = rows.closest();
            let shorter = (0..SHORTER).map(|halvings| found.towards(&next, 0.5_f64.powi(halvings)));
            let mut closer = shorter.map(|closer| (rows.cost(&closer), closer));
            let Some((lower, closer)) = closer.find(|(lower, _)| *lower < cost * (1.0 - SETTLED)) else {
                break;
            };
            (found, cost) = (closer, lower);
        }
        (found, cost)
    }

    /// A mix of the volume with as much of one material as there is room for, and the others by what there is of them.
    fn led_by(&self, leader: usize) -> Proportions {
        let materials = &self.stock.materials;
        let free_m3 = |own: &Stocked| (own.most_kg - own.least_kg) * own.per_kg.loose_m3;
        let least_m3: f64 = materials.iter().map(|own| own.least_kg * own.per_kg.loose_m3).sum();
        let left_m3 = (self.volume_m3 - least_m3).max(0.0);
        let leading_m3 = free_m3(&materials[leader]).min(left_m3);
        let others_m3 = materials.iter().map(free_m3).sum::<f64>() - free_m3(&materials[leader]);
        let share = |filled_m3: f64, free_m3: f64| (filled_m3 / free_m3.max(1e-12)).min(1.0);
        let (leading, others) =
            (share(leading_m3, free_m3(&materials[leader])), share(left_m3 - leading_m3, others_m3));
        let kg = materials.iter().enumerate().map(|(place, own)| {
            own.least_kg + if place == leader { leading } else { others } * (own.most_kg - own.least_kg)
        });
        Proportions { kg: kg.collect(), water_kg: 0.0 }
    }

    /// What the least squares are to lower, by the ratios themselves.
    fn cost(&self, proportions: &Proportions) -> f64 {
        let materials = self.stock.materials.iter().zip(&proportions.kg);
        let apart =
            materials.filter(|(own, _)| own.most_kg > 0.0).map(|(own, kg)| kg / own.most_kg - self.share);
        let water = (self.stock.most_water_kg > 0.0).then(|| proportions.water_kg / self.stock.most_water_kg);
        let pull: f64 = apart.chain(water).map(|apart| (PULL * apart).powi(2)).sum();
        misfit(&self.stock.mix(proportions), &self.stock.targets).powi(2) + pull
    }

    fn solve(&self, for_air: bool) -> Proportions {
        let materials = &self.stock.materials;
        let unknowns = materials.len() + 1;
        let mut a = DMatrix::zeros(4 + unknowns, unknowns);
        let mut b = DVector::zeros(4 + unknowns);
        let mut lower = DVector::zeros(unknowns);
        let mut upper = DVector::from_element(unknowns, 1.0);
        let aims = self.aims(for_air);
        b.rows_mut(0, 3).copy_from_slice(&aims);
        b[3] = HOLD;
        for (column, own) in materials.iter().enumerate() {
            let mut rows = self.measures(&own.per_kg, for_air);
            rows[3] = HOLD * own.per_kg.loose_m3 / self.volume_m3;
            for (row, per_kg) in rows.into_iter().enumerate() {
                a[(row, column)] = per_kg * own.most_kg;
            }
            a[(4 + column, column)] = PULL;
            b[4 + column] = PULL * self.share;
            if own.most_kg > 0.0 {
                lower[column] = own.least_kg / own.most_kg;
            } else {
                upper[column] = 0.0;
            }
        }
        let water = materials.len();
        let mut litre = Material::default();
        litre.matter.water_kg = 1.0;
        for (row, per_kg) in self.measures(&litre, for_air).into_iter().enumerate() {
            a[(row, water)] = per_kg * self.stock.most_water_kg;
        }
        a[(4 + water, water)] = PULL;
        let found = solve(&a, &b, &lower, &upper);
        Proportions {
            kg: materials.iter().zip(found.x.iter()).map(|(own, share)| own.most_kg * share).collect(),
            water_kg: self.stock.most_water_kg * found.x[water],
        }
    }

    /// How far the targets are from the ratios about which rows are straight, in halves of their ranges.
    fn aims(&self, for_air: bool) -> [f64; 3] {
        let targets = &self.stock.targets;
        let (c_to_n_width, moisture_width) = half_widths(targets);
        [
            (targets.c_to_n - self.around.c_to_n) / c_to_n_width,
            (targets.moisture_fraction - self.around.moisture) / moisture_width,
            if for_air { (targets.min_free_air_space_fraction - self.around.air) / AIR_WIDTH } else { 0.0 },
        ]
    }

    /// What a kilogram changes of C:N, of moisture and, where it counts, of air, in halves of their ranges.
    fn measures(&self, per_kg: &Material, for_air: bool) -> [f64; 4] {
        let Around { c_to_n, moisture, air, nitrogen_kg, mass_kg, settled_m3 } = self.around;
        let (c_to_n_width, moisture_width) = half_widths(&self.stock.targets);
        let matter = &per_kg.matter;
        let carbon = matter.carbon_kg_kg * matter.volatile_kg() - c_to_n * per_kg.nitrogen_kg;
        let water = matter.water_kg - moisture * (matter.dry_kg() + matter.water_kg);
        let airy = (1.0 - air) * per_kg.origin.settled_m3 - filled_m3(per_kg);
        [
            carbon / (nitrogen_kg * c_to_n_width),
            water / (mass_kg * moisture_width),
            if for_air { airy / (settled_m3 * AIR_WIDTH) } else { 0.0 },
            0.0,
        ]
    }
}
