//! The heap: two zones of matter, and what events do to them.

use crate::bay::Bay;
use crate::heat::{Shape, heat_capacity_kj_k};
use crate::moisture::moisture_fraction;
use crate::parameters::Parameters;
use crate::seeds::SeedLot;

/// Matter of one zone.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Zone {
    /// Readily degradable volatile solids, kg.
    pub fast_kg: f64,
    /// Slowly degradable volatile solids, kg.
    pub slow_kg: f64,
    /// Resistant volatile solids, kg.
    pub resistant_kg: f64,
    /// Ash, kg.
    pub ash_kg: f64,
    /// Water, kg.
    pub water_kg: f64,
    /// Carbon, kg per kg volatile solids.
    pub carbon_kg_kg: f64,
    /// Temperature, °C.
    pub temperature_c: f64,
    /// Weed seeds, put in and alive.
    pub seeds: SeedLot,
}

impl Zone {
    /// Volatile solids, kg.
    #[must_use]
    pub fn volatile_kg(&self) -> f64 {
        self.fast_kg + self.slow_kg + self.resistant_kg
    }

    /// Volatile solids left to degrade, kg.
    #[must_use]
    pub fn degradable_kg(&self) -> f64 {
        self.fast_kg + self.slow_kg
    }

    /// Dry mass, kg.
    #[must_use]
    pub fn dry_kg(&self) -> f64 {
        self.volatile_kg() + self.ash_kg
    }

    /// Heat capacity, kJ/K.
    #[must_use]
    pub fn heat_capacity_kj_k(&self) -> f64 {
        heat_capacity_kj_k(self.dry_kg(), self.ash_kg, self.water_kg)
    }

    /// Takes `share` of the matter out and returns it at the same state.
    fn split_off(&mut self, share: f64) -> Self {
        let part = self.scaled(share);
        *self = self.scaled(1.0 - share);
        part
    }

    fn scaled(&self, share: f64) -> Self {
        Self {
            fast_kg: self.fast_kg * share,
            slow_kg: self.slow_kg * share,
            resistant_kg: self.resistant_kg * share,
            ash_kg: self.ash_kg * share,
            water_kg: self.water_kg * share,
            carbon_kg_kg: self.carbon_kg_kg,
            temperature_c: self.temperature_c,
            seeds: self.seeds.scaled(share),
        }
    }

    /// Mixes `other` in: masses add, temperature by heat capacity, carbon by volatile solids.
    fn mix(&mut self, other: &Self) {
        let (own, its) = (self.heat_capacity_kj_k(), other.heat_capacity_kj_k());
        self.temperature_c = weighted(self.temperature_c, own, other.temperature_c, its);
        let (own, its) = (self.volatile_kg(), other.volatile_kg());
        self.carbon_kg_kg = weighted(self.carbon_kg_kg, own, other.carbon_kg_kg, its);
        self.fast_kg += other.fast_kg;
        self.slow_kg += other.slow_kg;
        self.resistant_kg += other.resistant_kg;
        self.ash_kg += other.ash_kg;
        self.water_kg += other.water_kg;
        self.seeds.mix(&other.seeds);
    }
}

/// What the matter still in the heap was when it went in; scaled down by withdrawals only.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Origin {
    /// Dry mass, kg.
    pub dry_kg: f64,
    /// Volume once settled, before any breakdown, m³.
    pub settled_m3: f64,
    /// Degradable volatile solids, kg.
    pub degradable_kg: f64,
    /// Dry mass of matting material, kg.
    pub matting_kg: f64,
}

impl Origin {
    fn scaled(&self, share: f64) -> Self {
        Self {
            dry_kg: self.dry_kg * share,
            settled_m3: self.settled_m3 * share,
            degradable_kg: self.degradable_kg * share,
            matting_kg: self.matting_kg * share,
        }
    }

    fn add(&mut self, other: &Self) {
        self.dry_kg += other.dry_kg;
        self.settled_m3 += other.settled_m3;
        self.degradable_kg += other.degradable_kg;
        self.matting_kg += other.matting_kg;
    }
}

/// Material about to go in.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Material {
    /// Its matter.
    pub matter: Zone,
    /// Nitrogen, kg.
    pub nitrogen_kg: f64,
    /// Loose volume, m³.
    pub loose_m3: f64,
    /// Its origin record.
    pub origin: Origin,
    /// Activity of the community it brings, 0 to 1.
    pub activity: f64,
}

impl Material {
    /// Puts two materials together.
    pub fn combine(&mut self, other: &Self) {
        let (own, its) = (self.matter.degradable_kg(), other.matter.degradable_kg());
        self.activity = weighted(self.activity, own, other.activity, its);
        self.matter.mix(&other.matter);
        self.nitrogen_kg += other.nitrogen_kg;
        self.loose_m3 += other.loose_m3;
        self.origin.add(&other.origin);
    }
}

/// A heap in a bay.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heap {
    /// The inside.
    pub core: Zone,
    /// The outer layer.
    pub edge: Zone,
    /// Volume of 1 kg of dry matter, m³/kg, the same in both zones.
    pub specific_m3_kg: f64,
    /// Nitrogen, kg.
    pub nitrogen_kg: f64,
    /// What the matter was when it went in.
    pub origin: Origin,
    /// Activity of the community on what can be degraded: 1 once it is fully grown.
    pub activity: f64,
}

impl Heap {
    /// A heap of one material, evenly dealt between the zones.
    #[must_use]
    pub fn new(material: &Material, bay: &Bay, p: &Parameters) -> Self {
        let mut heap = Self {
            core: Zone::default(),
            edge: material.matter,
            specific_m3_kg: material.loose_m3 / material.matter.dry_kg(),
            nitrogen_kg: material.nitrogen_kg,
            origin: material.origin,
            activity: material.activity,
        };
        heap.deal(bay, p);
        heap
    }

    /// One of its zones.
    #[must_use]
    pub fn zone(&self, zone: crate::history::Zone) -> &Zone {
        match zone {
            crate::history::Zone::Core => &self.core,
            crate::history::Zone::Edge => &self.edge,
        }
    }

    /// Dry mass, kg.
    #[must_use]
    pub fn dry_kg(&self) -> f64 {
        self.core.dry_kg() + self.edge.dry_kg()
    }

    /// Water, kg.
    #[must_use]
    pub fn water_kg(&self) -> f64 {
        self.core.water_kg + self.edge.water_kg
    }

    /// Wet mass, kg.
    #[must_use]
    pub fn mass_kg(&self) -> f64 {
        self.dry_kg() + self.water_kg()
    }

    /// Volatile solids, kg.
    #[must_use]
    pub fn volatile_kg(&self) -> f64 {
        self.core.volatile_kg() + self.edge.volatile_kg()
    }

    /// Carbon, kg.
    #[must_use]
    pub fn carbon_kg(&self) -> f64 {
        self.core.carbon_kg_kg * self.core.volatile_kg() + self.edge.carbon_kg_kg * self.edge.volatile_kg()
    }

    /// Carbon to nitrogen by mass.
    #[must_use]
    pub fn c_to_n(&self) -> f64 {
        self.carbon_kg() / self.nitrogen_kg
    }

    /// Volume, m³.
    #[must_use]
    pub fn volume_m3(&self) -> f64 {
        self.specific_m3_kg * self.dry_kg()
    }

    /// Moisture, wet basis.
    #[must_use]
    pub fn moisture_fraction(&self) -> f64 {
        moisture_fraction(self.water_kg(), self.dry_kg())
    }

    /// Mean temperature, °C, by dry mass.
    #[must_use]
    pub fn mean_c(&self) -> f64 {
        let (core, edge) = (self.core.dry_kg(), self.edge.dry_kg());
        (core * self.core.temperature_c + edge * self.edge.temperature_c) / (core + edge)
    }

    /// Degraded share of the degradable matter that went in, 0 to 1.
    #[must_use]
    pub fn degraded_fraction(&self) -> f64 {
        degraded_fraction(self.degradable_kg(), self.origin.degradable_kg)
    }

    /// Volatile solids left to degrade, kg.
    #[must_use]
    pub fn degradable_kg(&self) -> f64 {
        self.core.degradable_kg() + self.edge.degradable_kg()
    }

    /// Share of the volume that is air.
    #[must_use]
    pub fn free_air_space(&self) -> f64 {
        let ash = self.core.ash_kg + self.edge.ash_kg;
        crate::air::free_air_space(self.volume_m3(), self.water_kg(), self.volatile_kg(), ash)
    }

    /// Volume of 1 kg of dry matter once settled in `bay`, m³/kg.
    #[must_use]
    pub fn resting_m3_kg(&self, bay: &Bay, p: &Parameters) -> f64 {
        let settled = self.origin.settled_m3 / self.origin.dry_kg;
        let area = bay.length_m * bay.width_m;
        crate::shrinkage::resting_m3_kg(p, settled, self.degraded_fraction(), self.mass_kg(), area)
    }

    /// Lays material on: it enters the edge, and what that buries joins the core.
    pub fn add(&mut self, material: &Material, bay: &Bay, p: &Parameters) {
        let volume = self.volume_m3() + material.loose_m3;
        self.join_activity(material.activity, material.matter.degradable_kg());
        self.edge.mix(&material.matter);
        self.nitrogen_kg += material.nitrogen_kg;
        self.origin.add(&material.origin);
        self.specific_m3_kg = volume / self.dry_kg();
        self.deal(bay, p);
    }

    /// Turns the heap within its bay, or into `bay`: zones mixed, loosened and cooled towards the air.
    pub fn turn(&mut self, bay: &Bay, air_c: f64, p: &Parameters) {
        let edge = self.edge.split_off(1.0);
        self.core.mix(&edge);
        self.core.temperature_c -= p.turn_cooling * (self.core.temperature_c - air_c);
        self.edge = self.core;
        self.core = self.edge.split_off(0.0);
        self.specific_m3_kg *= p.turn_fluff;
        self.deal(bay, p);
    }

    /// Forks another heap in: both are mixed and turned.
    pub fn merge_mixed(&mut self, other: &Self, bay: &Bay, air_c: f64, p: &Parameters) {
        let volume = self.volume_m3() + other.volume_m3();
        self.join_activity(other.activity, other.degradable_kg());
        self.core.mix(&other.core);
        self.edge.mix(&other.edge);
        self.nitrogen_kg += other.nitrogen_kg;
        self.origin.add(&other.origin);
        self.specific_m3_kg = volume / self.dry_kg();
        self.turn(bay, air_c, p);
    }

    /// Lays another heap on top: the newcomer alone is turned.
    pub fn merge_on_top(&mut self, other: &Self, bay: &Bay, air_c: f64, p: &Parameters) {
        let mut newcomer = *other;
        newcomer.turn(bay, air_c, p);
        let mut matter = newcomer.core;
        matter.mix(&newcomer.edge);
        let material = Material {
            matter,
            nitrogen_kg: newcomer.nitrogen_kg,
            loose_m3: newcomer.volume_m3(),
            origin: newcomer.origin,
            activity: newcomer.activity,
        };
        self.add(&material, bay, p);
    }

    /// Waters from above: the edge takes in what its pores hold; returns what runs off at once, litres.
    #[must_use]
    pub fn water(&mut self, litres: f64, air_c: f64) -> f64 {
        let edge = &mut self.edge;
        let pores_m3 =
            self.specific_m3_kg * edge.dry_kg() - crate::air::solid_m3(edge.volatile_kg(), edge.ash_kg);
        let taken = litres.min((1000.0 * pores_m3 - edge.water_kg).max(0.0));
        let (own, its) = (edge.heat_capacity_kj_k(), crate::heat::WATER_KJ_KG_K * taken);
        edge.temperature_c = weighted(edge.temperature_c, own, air_c, its);
        edge.water_kg += taken;
        litres - taken
    }

    /// Presses the heap down.
    pub fn firm(&mut self, p: &Parameters) {
        self.specific_m3_kg *= 1.0 - p.firming_loss;
    }

    /// Takes `share` of everything out; returns what was taken.
    #[must_use]
    pub fn withdraw(&mut self, share: f64) -> Self {
        let taken = Self {
            core: self.core.split_off(share),
            edge: self.edge.split_off(share),
            specific_m3_kg: self.specific_m3_kg,
            nitrogen_kg: self.nitrogen_kg * share,
            origin: self.origin.scaled(share),
            activity: self.activity,
        };
        self.nitrogen_kg *= 1.0 - share;
        self.origin = self.origin.scaled(1.0 - share);
        taken
    }

    /// Sets the heap's moisture to `moisture_fraction`, zones in proportion; returns the water added, kg.
    pub fn correct_moisture(&mut self, moisture_fraction: f64) -> f64 {
        let before = self.water_kg();
        let wanted = self.dry_kg() * moisture_fraction / (1.0 - moisture_fraction);
        self.core.water_kg *= wanted / before;
        self.edge.water_kg *= wanted / before;
        wanted - before
    }

    /// Takes in the activity of matter about to be mixed in, by degradable mass.
    fn join_activity(&mut self, activity: f64, degradable_kg: f64) {
        self.activity = weighted(self.activity, self.degradable_kg(), activity, degradable_kg);
    }

    /// Moves matter between the zones until the core holds its share of the geometry.
    fn deal(&mut self, bay: &Bay, p: &Parameters) {
        let wanted = Shape::new(bay, self.volume_m3(), p.edge_m).core_fraction() * self.dry_kg();
        let (core, edge) = (self.core.dry_kg(), self.edge.dry_kg());
        if wanted > core {
            let moved = self.edge.split_off((wanted - core) / edge);
            self.core.mix(&moved);
        } else {
            let moved = self.core.split_off((core - wanted) / core);
            self.edge.mix(&moved);
        }
    }
}

/// Mean of two values by their weights; the first where neither weighs anything.
fn weighted(a: f64, weight_a: f64, b: f64, weight_b: f64) -> f64 {
    if weight_a + weight_b > 0.0 { (weight_a * a + weight_b * b) / (weight_a + weight_b) } else { a }
}

/// Degraded share, held to 0..=1.
#[must_use]
pub fn degraded_fraction(left_kg: f64, put_in_kg: f64) -> f64 {
    if put_in_kg <= 0.0 { 0.0 } else { (1.0 - left_kg / put_in_kg).clamp(0.0, 1.0) }
}
