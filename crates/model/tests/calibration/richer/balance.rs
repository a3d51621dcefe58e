//! One step of heat, water and matter: temperatures by the linearly implicit Euler method, the rest explicitly.

use baycast_model::bay::{Bay, Top};

use super::air::{enthalpy_kj_kg, humidity};
use super::heap::Heap;
use super::nature::{Nature, POOLS, envelope_m2k_w};
use super::parcel::Parcel;
use super::shape::{BASE, CORE, SIDE, Shape, TOP, ZONES};

/// kJ a day in one watt.
const KJ_DAY_PER_W: f64 = 86.4;
/// How loosely the zones lie against the mean: the lower, the denser.
const LOOSENESS: [f64; ZONES] = [0.97, 1.0, 1.0, 1.02, 1.08, 0.90];
/// Share of each core zone's mass in the core's flow: air goes up around the middle.
const REACHED: [f64; 3] = [0.7, 0.9, 1.1];
/// Pairs of neighbours, in the order of [`Shape::inside_m`].
const NEIGHBOURS: [(usize, usize); 5] = [(0, 1), (1, 2), (2, SIDE), (2, TOP), (2, BASE)];
/// Days in which the ground under a heap follows the air.
const GROUND_DAYS: f64 = 20.0;

/// What the sky does to a heap in one step.
#[derive(Clone, Copy, Debug)]
pub struct Sky {
    /// Air, °C.
    pub air_c: f64,
    /// Relative humidity.
    pub humidity: f64,
    /// Rain, mm a day.
    pub rain_mm: f64,
}

/// A bay with its walls, and the constants of its batch.
pub struct Place<'a> {
    /// The bay.
    pub bay: &'a Bay,
    /// The constants.
    pub nature: &'a Nature,
}

/// What each zone does at one moment.
struct Rates {
    /// Breakdown by pool and of the resistant, kg/day.
    lost: [[f64; POOLS + 1]; ZONES],
    /// Air through it, kg/day.
    air_kg_day: [f64; ZONES],
    growth: [f64; ZONES],
}

impl Place<'_> {
    /// Moves the heap on by `days`.
    pub fn step(&self, heap: &mut Heap, sky: &Sky, days: f64) {
        let shape = Shape::new(self.bay, heap.volume_m3());
        let rates = self.rates(heap, &shape, sky);
        let exhaust = self.exhaust(heap);
        self.warm(heap, &shape, &rates, &exhaust, sky, days);
        self.wet(heap, &rates, &exhaust, sky, days);
        self.consume(heap, &rates, days);
        self.settle(heap, days);
        heap.ground_c += days / GROUND_DAYS * (sky.air_c - heap.ground_c);
    }

    fn air_spaces(&self, heap: &Heap) -> [f64; ZONES] {
        let mat = 1.0 - self.nature.matting * heap.matting_in_kg / heap.dry_in_kg;
        std::array::from_fn(|zone| {
            let parcel = &heap.zones[zone];
            let volume_m3 = heap.specific_m3_kg * LOOSENESS[zone] * parcel.dry_kg();
            let filled_m3 = parcel.water_kg / 1000.0
                + parcel.volatile_kg() / self.nature.solid_kg_m3
                + parcel.ash_kg / 2500.0;
            mat * (1.0 - filled_m3 / volume_m3).max(0.0)
        })
    }

    /// Air through each zone, kg/day: drawn by warmth and wind through the open faces.
    fn draught(&self, heap: &Heap, shape: &Shape, spaces: &[f64; ZONES], sky: &Sky) -> [f64; ZONES] {
        let nature = self.nature;
        let [sides, top, base] = nature.openness;
        let over_c = (heap.mean_c(0..ZONES) - sky.air_c).max(0.0);
        let flux = nature.draught_kg_m2_day * (nature.wind + (over_c / 30.0).sqrt());
        let open = top * if heap.covered { 0.5 } else { 1.0 };
        let faces = [sides * shape.sides_m2, open * shape.floor_m2, base * shape.floor_m2];
        let dry_kg = heap.dry_kg();
        let core_kg: f64 = CORE.map(|zone| heap.zones[zone].dry_kg()).sum();
        let total = flux * faces.iter().sum::<f64>();
        let core = nature.core_draught * core_kg / dry_kg * total;
        let outside = (total - core) / faces.iter().sum::<f64>();
        let through = |zone: usize| {
            let flow = if zone < 3 {
                core * REACHED[zone] * heap.zones[zone].dry_kg() / core_kg
            } else {
                outside * faces[zone - 3]
            };
            // Pores close as they fill: the flow goes with the open space over that of a well-built heap.
            flow * spaces[zone] / 0.4
        };
        std::array::from_fn(through)
    }

    fn rates(&self, heap: &Heap, shape: &Shape, sky: &Sky) -> Rates {
        let nature = self.nature;
        let spaces = self.air_spaces(heap);
        let air_kg_day = self.draught(heap, shape, &spaces, sky);
        let mut rates = Rates { lost: [[0.0; POOLS + 1]; ZONES], air_kg_day, growth: [0.0; ZONES] };
        for zone in 0..ZONES {
            let parcel = &heap.zones[zone];
            let dry_kg = parcel.dry_kg();
            let moisture = parcel.water_kg / (parcel.water_kg + dry_kg);
            let space = spaces[zone] * spaces[zone];
            let half = nature.half_air_space * nature.half_air_space;
            let open = space / (space + half);
            let moist = nature.moistness(moisture);
            let warmth = nature.warmth(parcel.celsius);
            let from_best = (parcel.celsius - 28.0) / 12.0;
            let fungal = nature.fungal_per_day * (-from_best * from_best).exp() * parcel.resistant_kg;
            let pools: [f64; POOLS] = std::array::from_fn(|pool| {
                nature.rates_per_day[pool] * parcel.pools_kg[pool] * parcel.activity * warmth
            });
            let wanted_kg_day = moist * open * (pools.iter().sum::<f64>() + fungal);
            let oxygen_kg_kg = nature.heat_kj_kg / nature.heat_kj_kg_oxygen;
            // Diffusion through the pores brings as much as a small flow would.
            let diffused = 0.3 * dry_kg * spaces[zone];
            let supply = 0.2314 * (air_kg_day[zone] + diffused);
            let aired = open * oxygen_share(supply, oxygen_kg_kg * wanted_kg_day, nature.half_oxygen);
            let share = moist * (nature.airless + (1.0 - nature.airless) * aired);
            for (lost, wanted) in rates.lost[zone].iter_mut().zip(pools) {
                *lost = share * wanted;
            }
            rates.lost[zone][POOLS] = share * fungal;
            // Over 72 °C even the heat-loving die back.
            let dying = 0.2 * (parcel.celsius - 72.0).max(0.0);
            rates.growth[zone] =
                nature.growth_per_day * warmth * share * parcel.activity * (1.0 - parcel.activity)
                    - dying * parcel.activity;
        }
        rates
    }

    /// Humidity and its slope with temperature of the air leaving each zone.
    fn exhaust(&self, heap: &Heap) -> [(f64, f64); ZONES] {
        heap.zones.map(|parcel| {
            let held = 1.0 - (-parcel.water_kg / parcel.dry_kg() / self.nature.drying).exp();
            humidity(parcel.celsius, held)
        })
    }

    /// Conductances to the air of side and top, and to the ground of the base, W/K.
    fn outside_w_k(&self, heap: &Heap, shape: &Shape, conductivity: f64) -> [f64; 3] {
        let nature = self.nature;
        let layer = shape.edge_m / 2.0 / conductivity;
        let [side, top] = envelope_m2k_w(self.bay, heap.covered);
        [
            shape.sides_m2 / (layer + side * nature.envelope),
            shape.floor_m2 / (layer + top * nature.envelope),
            shape.floor_m2 / (layer + nature.ground_m2k_w),
        ]
    }

    /// Conductivity of the moist matter: the geometric mean of its parts by volume, W/(m K).
    fn conductivity(&self, heap: &Heap) -> f64 {
        let volume_m3 = heap.volume_m3();
        let water = (heap.sum(|parcel| parcel.water_kg) / 1000.0 / volume_m3).min(0.9);
        let solids = heap
            .sum(|parcel| parcel.volatile_kg() / self.nature.solid_kg_m3 + parcel.ash_kg / 2500.0)
            / volume_m3;
        let air = (1.0 - water - solids).max(0.0);
        let logs: f64 = water * f64::ln(0.6) + solids * f64::ln(0.3) + air * f64::ln(0.026 * 2.0);
        let warm = 1.0 + self.nature.vapour_per_k * (heap.mean_c(0..ZONES) - 20.0).max(0.0);
        self.nature.conductivity * logs.exp() * warm
    }

    fn warm(
        &self,
        heap: &mut Heap,
        shape: &Shape,
        rates: &Rates,
        exhaust: &[(f64, f64); ZONES],
        sky: &Sky,
        days: f64,
    ) {
        let nature = self.nature;
        let conductivity = self.conductivity(heap);
        let mut matrix = [[0.0; ZONES]; ZONES];
        let mut right = [0.0; ZONES];
        let celsius = heap.zones.map(|parcel| parcel.celsius);
        let outside = enthalpy_kj_kg(sky.air_c, humidity(sky.air_c, sky.humidity).0);
        let slope = |zone: usize| 1.006 + exhaust[zone].1 * 2501.0;
        let enthalpy = |zone: usize| enthalpy_kj_kg(celsius[zone], exhaust[zone].0);
        for zone in 0..ZONES {
            matrix[zone][zone] += heap.zones[zone].capacity_kj_k(nature) / days;
            right[zone] += nature.heat_kj_kg * rates.lost[zone].iter().sum::<f64>();
            let flow = rates.air_kg_day[zone];
            right[zone] -= flow * (enthalpy(zone) - outside);
            matrix[zone][zone] += flow * slope(zone);
        }
        for zone in CORE {
            let flow = nature.exhaust_through_top * rates.air_kg_day[zone];
            let given = enthalpy(zone) - enthalpy(TOP);
            if given > 0.0 {
                right[TOP] += flow * given;
                matrix[TOP][TOP] += flow * slope(TOP);
            }
        }
        for ((a, b), factor) in NEIGHBOURS.into_iter().zip(shape.inside_m()) {
            let conductance = KJ_DAY_PER_W * conductivity * factor;
            right[a] += conductance * (celsius[b] - celsius[a]);
            right[b] += conductance * (celsius[a] - celsius[b]);
            matrix[a][a] += conductance;
            matrix[b][b] += conductance;
            matrix[a][b] -= conductance;
            matrix[b][a] -= conductance;
        }
        let [side, top, base] = self.outside_w_k(heap, shape, conductivity);
        for (zone, conductance, beyond_c) in
            [(SIDE, side, sky.air_c), (TOP, top, sky.air_c), (BASE, base, heap.ground_c)]
        {
            right[zone] += KJ_DAY_PER_W * conductance * (beyond_c - celsius[zone]);
            matrix[zone][zone] += KJ_DAY_PER_W * conductance;
        }
        let rain_kg_day = self.rain_kg_day(heap, sky);
        right[TOP] += 4.18 * rain_kg_day * (sky.air_c - celsius[TOP]);
        for (parcel, change) in heap.zones.iter_mut().zip(solve(matrix, right)) {
            parcel.celsius += change;
        }
    }

    fn rain_kg_day(&self, heap: &Heap, sky: &Sky) -> f64 {
        if self.bay.top == Top::Open && !heap.covered {
            self.nature.rain_intake * sky.rain_mm * self.bay.length_m * self.bay.width_m
        } else {
            0.0
        }
    }

    fn wet(&self, heap: &mut Heap, rates: &Rates, exhaust: &[(f64, f64); ZONES], sky: &Sky, days: f64) {
        let nature = self.nature;
        let outside = humidity(sky.air_c, sky.humidity).0;
        let mut change: [f64; ZONES] = std::array::from_fn(|zone| {
            nature.metabolic_water * rates.lost[zone].iter().sum::<f64>()
                - rates.air_kg_day[zone] * (exhaust[zone].0 - outside)
        });
        for zone in CORE {
            let flow = nature.exhaust_through_top * rates.air_kg_day[zone];
            change[TOP] += flow * (exhaust[zone].0 - exhaust[TOP].0).max(0.0);
        }
        change[TOP] += self.rain_kg_day(heap, sky);
        // What a zone cannot hold runs down: through the core to the base and out.
        for (zone, below) in [(TOP, 2), (2, 1), (1, 0), (0, BASE), (SIDE, BASE)] {
            let drained = self.drained_kg_day(heap, zone);
            change[zone] -= drained;
            change[below] += drained;
        }
        change[BASE] -= self.drained_kg_day(heap, BASE);
        for (parcel, change) in heap.zones.iter_mut().zip(change) {
            parcel.water_kg = (parcel.water_kg + change * days).max(0.01 * parcel.dry_kg());
        }
    }

    fn drained_kg_day(&self, heap: &Heap, zone: usize) -> f64 {
        let parcel = &heap.zones[zone];
        let over_kg = parcel.water_kg - self.nature.field_capacity * parcel.dry_kg();
        self.nature.drainage_per_day * over_kg.max(0.0)
    }

    fn consume(&self, heap: &mut Heap, rates: &Rates, days: f64) {
        let volatile_kg = heap.sum(Parcel::volatile_kg);
        let lost_kg = days * rates.lost.iter().flatten().sum::<f64>();
        for (zone, parcel) in heap.zones.iter_mut().enumerate() {
            for (kg, lost) in parcel.pools_kg.iter_mut().zip(rates.lost[zone]) {
                *kg = (*kg - days * lost).max(0.0);
            }
            parcel.resistant_kg -= days * rates.lost[zone][POOLS];
            parcel.activity = (parcel.activity + days * rates.growth[zone]).clamp(0.001, 1.0);
        }
        let (share, half) = self.nature.ammonia;
        let escaping = share / (1.0 + ((heap.carbon_kg / heap.nitrogen_kg - half) / 4.0).exp());
        heap.nitrogen_kg *= 1.0 - escaping * lost_kg / volatile_kg;
        heap.carbon_kg *= 1.0 - lost_kg / volatile_kg;
    }

    /// Volume of a kg of dry matter once it has sat down: the fresh mix's at first, fine compost's in the end, along a
    /// straight line of logarithms, less what load presses out and creep takes.
    pub fn resting_m3_kg(&self, heap: &Heap, loaded: bool) -> f64 {
        let nature = self.nature;
        let fresh = (heap.settled_in_m3 / heap.dry_in_kg).ln();
        let fine = -nature.fine_kg_m3.ln();
        let unloaded = (fresh + (fine - fresh) * heap.degraded()).exp();
        if !loaded {
            return unloaded;
        }
        let mass_kg = heap.sum(|parcel| parcel.water_kg + parcel.dry_kg());
        let load_kpa = mass_kg * 9.81 / (self.bay.length_m * self.bay.width_m) / 2000.0;
        let (pressed, scale_kpa) = nature.pressed;
        let (creep, per_day) = nature.creep;
        unloaded
            * (1.0 - pressed * (1.0 - (-load_kpa / scale_kpa).exp()))
            * (1.0 - creep * (1.0 - (-per_day * heap.undisturbed_days).exp()))
    }

    fn settle(&self, heap: &mut Heap, days: f64) {
        heap.undisturbed_days += days;
        let over = heap.specific_m3_kg - self.resting_m3_kg(heap, true);
        heap.specific_m3_kg -= days * self.nature.settling_per_day * over.max(0.0);
    }
}

/// Share of full speed where pore oxygen `y` (% by volume) balances supply and demand: the positive root of
/// `supply (20.95 − y)/20.95 = demand · y/(y + half)`.
fn oxygen_share(supply_kg_day: f64, demand_kg_day: f64, half: f64) -> f64 {
    const OUTSIDE: f64 = 20.95;
    if demand_kg_day <= 0.0 {
        return OUTSIDE / (OUTSIDE + half);
    }
    let ratio = demand_kg_day * OUTSIDE / supply_kg_day.max(1e-9);
    let middle = 0.5 * (OUTSIDE - half - ratio);
    let y = middle + (middle * middle + half * OUTSIDE).sqrt();
    y / (y + half)
}

/// Solves a small system that its diagonal dominates, by Gauss.
fn solve(mut matrix: [[f64; ZONES]; ZONES], mut right: [f64; ZONES]) -> [f64; ZONES] {
    for pivot in 0..ZONES {
        for row in pivot + 1..ZONES {
            let factor = matrix[row][pivot] / matrix[pivot][pivot];
            if factor != 0.0 {
                let upper = matrix[pivot];
                for (entry, above) in matrix[row].iter_mut().zip(upper).skip(pivot) {
                    *entry -= factor * above;
                }
                right[row] -= factor * right[pivot];
            }
        }
    }
    for row in (0..ZONES).rev() {
        for column in row + 1..ZONES {
            right[row] -= matrix[row][column] * right[column];
        }
        right[row] /= matrix[row][row];
    }
    right
}
