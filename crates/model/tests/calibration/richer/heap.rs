//! The heap of six zones, and what is done to it.

use baycast_model::bay::Bay;

use super::material::Load;
use super::nature::Nature;
use super::parcel::Parcel;
use super::shape::{CORE, EDGE, Shape, TOP, ZONES};

/// A heap.
#[derive(Clone, Debug)]
pub struct Heap {
    /// Matter by zone.
    pub zones: [Parcel; ZONES],
    /// Volume of a kg of dry matter, m³.
    pub specific_m3_kg: f64,
    /// Days since it was last disturbed.
    pub undisturbed_days: f64,
    /// Nitrogen, kg.
    pub nitrogen_kg: f64,
    /// Carbon, kg.
    pub carbon_kg: f64,
    /// Whether a cover lies on it.
    pub covered: bool,
    /// Ground temperature under it, °C.
    pub ground_c: f64,
    /// Dry mass put in, kg.
    pub dry_in_kg: f64,
    /// Degradable mass put in, kg.
    pub degradable_in_kg: f64,
    /// Settled volume of what was put in, m³.
    pub settled_in_m3: f64,
    /// Matting dry mass put in, kg.
    pub matting_in_kg: f64,
}

impl Heap {
    /// An empty place on ground of a temperature.
    pub fn empty(ground_c: f64) -> Self {
        Self {
            zones: [Parcel::default(); ZONES],
            specific_m3_kg: 0.0,
            undisturbed_days: 0.0,
            nitrogen_kg: 0.0,
            carbon_kg: 0.0,
            covered: false,
            ground_c,
            dry_in_kg: 0.0,
            degradable_in_kg: 0.0,
            settled_in_m3: 0.0,
            matting_in_kg: 0.0,
        }
    }

    /// A sum over all zones.
    pub fn sum(&self, of: impl Fn(&Parcel) -> f64) -> f64 {
        self.zones.iter().map(of).sum()
    }

    /// Dry mass, kg.
    pub fn dry_kg(&self) -> f64 {
        self.sum(Parcel::dry_kg)
    }

    /// Volume, m³.
    pub fn volume_m3(&self) -> f64 {
        self.specific_m3_kg * self.dry_kg()
    }

    /// Moisture, wet basis.
    pub fn moisture(&self) -> f64 {
        let water_kg = self.sum(|parcel| parcel.water_kg);
        water_kg / (water_kg + self.dry_kg())
    }

    /// Degraded share of what could be degraded.
    pub fn degraded(&self) -> f64 {
        (1.0 - self.sum(Parcel::degradable_kg) / self.degradable_in_kg).clamp(0.0, 1.0)
    }

    /// Mean temperature of some zones by dry mass, °C.
    pub fn mean_c(&self, zones: std::ops::Range<usize>) -> f64 {
        let own = &self.zones[zones];
        own.iter().map(|parcel| parcel.celsius * parcel.dry_kg()).sum::<f64>()
            / own.iter().map(Parcel::dry_kg).sum::<f64>()
    }

    /// Lays a load on top.
    pub fn add(&mut self, load: &Load, bay: &Bay, nature: &Nature) {
        let volume_m3 = self.volume_m3() + load.loose_m3;
        let first = self.dry_kg() <= 0.0;
        self.zones[TOP].mix(&load.parcel, nature);
        self.specific_m3_kg = volume_m3 / self.dry_kg();
        self.undisturbed_days = 0.0;
        self.nitrogen_kg += load.nitrogen_kg;
        self.carbon_kg += load.carbon_kg;
        self.dry_in_kg += load.parcel.dry_kg();
        self.degradable_in_kg += load.parcel.degradable_kg();
        self.settled_in_m3 += load.settled_m3;
        self.matting_in_kg += load.matting_kg;
        if first {
            self.spread_evenly();
        }
        self.deal(bay, nature);
    }

    /// All zones alike, to be dealt.
    fn spread_evenly(&mut self) {
        let all = self.zones[TOP];
        self.zones = [all.part(1.0 / ZONES as f64); ZONES];
    }

    /// Forks it over.
    pub fn turn(&mut self, air_c: f64, bay: &Bay, nature: &Nature) {
        let (mixing, fluff, cooling) = nature.turning;
        let dry_kg = self.dry_kg();
        let mut mean = Parcel::default();
        for parcel in &self.zones {
            mean.mix(&parcel.part(mixing), nature);
        }
        for parcel in &mut self.zones {
            let share = parcel.dry_kg() / dry_kg;
            *parcel = parcel.part(1.0 - mixing);
            parcel.mix(&mean.part(share), nature);
            parcel.celsius -= cooling * (parcel.celsius - air_c);
        }
        self.specific_m3_kg *= fluff;
        self.undisturbed_days = 0.0;
        self.deal(bay, nature);
    }

    /// Waters it: each zone takes its share, as layers do that are watered while they are laid.
    pub fn water(&mut self, litres: f64, air_c: f64, nature: &Nature) {
        let dry_kg = self.dry_kg();
        for parcel in &mut self.zones {
            let water_kg = litres * parcel.dry_kg() / dry_kg;
            parcel.mix(&Parcel { water_kg, celsius: air_c, ..Parcel::default() }, nature);
        }
    }

    /// Moves matter between neighbours until every zone holds what its place has room for: as a heap sinks, what was inside
    /// comes to lie near the surface.
    pub fn deal(&mut self, bay: &Bay, nature: &Nature) {
        let dry_kg = self.dry_kg();
        let wanted = Shape::new(bay, self.volume_m3()).shares().map(|share| share * dry_kg);
        let outer = CORE.end - 1;
        // First what the edges and the inside have too much of, so that the outer core has enough to give.
        for edge in EDGE {
            let excess_kg = self.zones[edge].dry_kg() - wanted[edge];
            self.shift(edge, outer, excess_kg, nature);
        }
        for zone in 0..outer {
            let excess_kg = self.excess_kg(zone, &wanted);
            self.shift(zone, zone + 1, excess_kg, nature);
        }
        for edge in EDGE {
            let lack_kg = wanted[edge] - self.zones[edge].dry_kg();
            self.shift(outer, edge, lack_kg, nature);
        }
        for zone in (0..outer).rev() {
            let lack_kg = -self.excess_kg(zone, &wanted);
            self.shift(zone + 1, zone, lack_kg, nature);
        }
    }

    /// Dry matter that a core zone and those within hold over what is wanted there, kg.
    fn excess_kg(&self, zone: usize, wanted_kg: &[f64; ZONES]) -> f64 {
        let held_kg: f64 = self.zones[..=zone].iter().map(Parcel::dry_kg).sum();
        held_kg - wanted_kg[..=zone].iter().sum::<f64>()
    }

    /// Moves dry matter, with all that goes with it, from one zone into another; nothing where the amount is not positive.
    fn shift(&mut self, from: usize, into: usize, dry_kg: f64, nature: &Nature) {
        let held_kg = self.zones[from].dry_kg();
        if dry_kg <= 0.0 || held_kg <= 0.0 {
            return;
        }
        let share = (dry_kg / held_kg).min(1.0);
        let part = self.zones[from].part(share);
        self.zones[from] = self.zones[from].part(1.0 - share);
        self.zones[into].mix(&part, nature);
    }
}

/// Dealing moves matter and heat about and loses none, and leaves every zone with what its place has room for.
#[test]
fn dealing_loses_nothing_and_fills_every_place() {
    let bay = crate::larkfield::timber_bay();
    let nature = Nature::draw(&bay, &mut crate::chance::Chance::new(0, 7));
    let mut heap = Heap::empty(10.0);
    heap.specific_m3_kg = 0.006;
    for (zone, parcel) in heap.zones.iter_mut().enumerate() {
        let kg = 20.0 + 15.0 * zone as f64;
        *parcel = Parcel {
            pools_kg: [kg, 2.0 * kg, kg],
            resistant_kg: kg,
            ash_kg: 0.5 * kg,
            water_kg: 8.0 * kg,
            celsius: 20.0 + 7.0 * zone as f64,
            activity: 0.1 * zone as f64,
        };
    }
    let heat = |heap: &Heap| heap.sum(|parcel| parcel.celsius * parcel.capacity_kj_k(&nature));
    let water = |heap: &Heap| heap.sum(|parcel| parcel.water_kg);
    let before = heap.clone();
    heap.deal(&bay, &nature);
    for (what, was, is) in [
        ("dry matter", before.dry_kg(), heap.dry_kg()),
        ("water", water(&before), water(&heap)),
        ("heat", heat(&before), heat(&heap)),
    ] {
        assert!((is / was - 1.0).abs() < 1e-12, "{what}: {was} became {is}");
    }
    let shares = Shape::new(&bay, heap.volume_m3()).shares();
    for (zone, share) in shares.into_iter().enumerate() {
        let held = heap.zones[zone].dry_kg() / heap.dry_kg();
        assert!((held - share).abs() < 1e-12, "zone {zone}: {held} for {share}");
    }
}
