//! Survival of weed seeds and roots in a heap.
//!
//! Each species dies at a hazard that never falls with heat: slow attrition (rot, premature germination) that
//! reaches its full rate at 30 °C, and above the species' own threshold a thermal hazard that grows tenfold for
//! each [`Z_C`] degrees. Both need moisture. What the hazards were set by stands beside each species; the hours
//! of the best-known laboratory study could not be read, so the rates are estimates between published points and
//! answers carry a wide range. Published work finds that temperature explains only 17-29 % of the variation in
//! the field (Larney & Blackshaw 2003, J. Environ. Qual. 32, abstract read).

use serde::{Deserialize, Serialize};

use crate::kinetics::moisture_factor;

/// How much heat a species stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Tolerance {
    /// Dies early, at moderate heat.
    Soft,
    /// Needs sustained heat.
    Medium,
    /// Hard-seeded: common regimes leave some alive.
    Hard,
}

/// Expected survival of one species, as shares of the viable seeds that went in.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SeedSurvival {
    /// Species id.
    pub species: String,
    /// Common and botanical name.
    pub name: String,
    /// Its class.
    pub tolerance: Tolerance,
    /// In what is now the core, middle estimate.
    pub core_fraction: f64,
    /// In what is now the edge, middle estimate.
    pub edge_fraction: f64,
    /// In the whole heap: one in ten below.
    pub p10_fraction: f64,
    /// In the whole heap: the middle.
    pub p50_fraction: f64,
    /// In the whole heap: nine in ten below.
    pub p90_fraction: f64,
    /// Publication the rates rest on.
    pub source: String,
}

/// A species' resistance to heat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Species {
    /// Its id.
    pub id: &'static str,
    /// Common and botanical name.
    pub name: &'static str,
    /// Its class.
    pub tolerance: Tolerance,
    /// Highest temperature that leaves it unharmed but for attrition, °C.
    pub threshold_c: f64,
    /// Hours at 55 °C, moist, that leave one seed in ten.
    pub t90_at_55_hours: f64,
    /// Loss by rot and premature germination in warm, moist matter, 1/day.
    pub attrition_per_day: f64,
    /// What the rates rest on.
    pub source: &'static str,
}

/// Degrees that make the thermal hazard ten times as large.
///
/// Fitted to two published ends: seeds of three species were all dead once moist soil had been brought to 60 °C within
/// two hours (Stapleton and others 2002, abstract read), while 50 °C takes hours to days (Dahlquist and others 2007; the
/// hours from memory).
pub const Z_C: f64 = 4.5;

/// Number of species followed.
pub const SPECIES_COUNT: usize = 12;

const DAHLQUIST: &str = "Dahlquist, Prather & Stapleton 2007, Time and temperature requirements for weed seed thermal \
     death, Weed Science 55:619-625: threshold and rank from the abstract (read); rate by Stapleton and others 2002, \
     High temperature solarization for production of weed-free container soils (abstract read, citation from memory)";
const THOMPSON: &str = "Thompson, Jones & Blair 1997, ten imbibed arable weeds heated for 0.5-16 days (abstract read; \
     authors and year from memory): threshold and rank, rate estimated";
const TOMPKINS: &str = "Tompkins, Chaw & Abiola 1998, weed seeds in windrows at 55-65 °C, Compost Science & Utilization \
     (abstract read; citation from memory): none viable after 28 days, rate estimated";
const EGHBALL: &str = "Eghball & Lesoing 2000, Viability of weed seeds following manure windrow composting, Compost \
     Science & Utilization (abstract read): 14 % alive after 4-5 months under 60 °C";
const JACOBS: &str = "Jacobs, Tubeileh & Steinmaus 2024, Agronomy 14:275 (abstract read): most tolerant class at \
     40-60 °C, rate estimated";
const PRACTICE: &str =
    "common practice, no source: roots and rhizomes rot in a few warm moist months without great heat";

/// The species followed, from soft to hard.
pub const SPECIES: [Species; SPECIES_COUNT] = {
    use Tolerance::{Hard, Medium, Soft};
    const fn s(
        id: &'static str,
        name: &'static str,
        tolerance: Tolerance,
        threshold_c: f64,
        t90_at_55_hours: f64,
        attrition_per_day: f64,
        source: &'static str,
    ) -> Species {
        Species { id, name, tolerance, threshold_c, t90_at_55_hours, attrition_per_day, source }
    }
    [
        s("annual_sowthistle", "annual sowthistle (Sonchus oleraceus)", Soft, 38.0, 0.2, 0.06, DAHLQUIST),
        s("barnyardgrass", "barnyardgrass (Echinochloa crus-galli)", Soft, 42.0, 0.3, 0.05, DAHLQUIST),
        s("wild_oat", "wild oat (Avena fatua)", Soft, 42.0, 0.0046, 0.06, THOMPSON),
        s("black_nightshade", "black nightshade (Solanum nigrum)", Medium, 39.0, 0.5, 0.03, DAHLQUIST),
        s("common_purslane", "common purslane (Portulaca oleracea)", Medium, 46.0, 0.5, 0.03, DAHLQUIST),
        s("tumble_pigweed", "tumble pigweed (Amaranthus albus)", Medium, 42.0, 0.5, 0.03, DAHLQUIST),
        s("fat_hen", "fat hen (Chenopodium album)", Medium, 45.0, 12.0, 0.025, TOMPKINS),
        s("broad_leaved_dock", "broad-leaved dock (Rumex obtusifolius)", Hard, 56.0, 27.0, 0.015, THOMPSON),
        s("velvetleaf", "velvetleaf (Abutilon theophrasti)", Hard, 55.0, 72.0, 0.0145, EGHBALL),
        s("mallow", "mallow (Malva parviflora)", Hard, 60.0, 120.0, 0.01, JACOBS),
        s("couch_rhizomes", "couch rhizomes (Elymus repens)", Medium, 45.0, 12.0, 0.03, PRACTICE),
        s("bindweed_roots", "bindweed roots (Convolvulus arvensis)", Medium, 45.0, 12.0, 0.025, PRACTICE),
    ]
};

/// Seeds in a zone: put in, and of those alive for each species. In arbitrary units that scale with dry mass.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct SeedLot {
    /// Put in.
    pub sown: f64,
    /// Alive, by species.
    pub alive: [f64; SPECIES_COUNT],
}

impl SeedLot {
    /// Seeds of fresh material of `dry_kg`: all alive.
    #[must_use]
    pub fn fresh(dry_kg: f64) -> Self {
        Self { sown: dry_kg, alive: [dry_kg; SPECIES_COUNT] }
    }

    /// A share of the lot.
    #[must_use]
    pub fn scaled(&self, share: f64) -> Self {
        Self { sown: self.sown * share, alive: self.alive.map(|alive| alive * share) }
    }

    /// Another lot mixed in.
    pub fn mix(&mut self, other: &Self) {
        self.sown += other.sown;
        for (own, its) in self.alive.iter_mut().zip(other.alive) {
            *own += its;
        }
    }

    /// Lets the lot die of what it went through.
    pub fn die(&mut self, exposure: &Exposure) {
        for (index, alive) in self.alive.iter_mut().enumerate() {
            *alive *= (-exposure.hazard(index)).exp();
        }
    }

    /// Surviving share of a species.
    #[must_use]
    pub fn survival(&self, species: usize) -> f64 {
        if self.sown > 0.0 { self.alive[species] / self.sown } else { 0.0 }
    }
}

/// What seeds went through: the hazards of all species rest on the same few sums over time.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Exposure {
    /// Warm, moist days.
    warm_days: f64,
    /// Moist days over each species' threshold, counted as days at 55 °C.
    hot_days: [f64; SPECIES_COUNT],
}

impl Exposure {
    /// Adds `days` at a temperature and wet-basis moisture.
    pub fn add(&mut self, days: f64, temperature_c: f64, moisture_fraction: f64) {
        let warmth = ((temperature_c - 5.0) / 25.0).clamp(0.0, 1.0);
        if warmth <= 0.0 {
            return;
        }
        let moist_days = days * moisture_factor(moisture_fraction);
        self.warm_days += moist_days * warmth;
        if temperature_c <= LOWEST_THRESHOLD_C {
            return;
        }
        let hot_days = moist_days * ((temperature_c - 55.0) / Z_C * std::f64::consts::LN_10).exp();
        for (sum, species) in self.hot_days.iter_mut().zip(&SPECIES) {
            *sum += if temperature_c > species.threshold_c { hot_days } else { 0.0 };
        }
    }

    /// Hazard of a species, integrated over time.
    #[must_use]
    pub fn hazard(&self, species: usize) -> f64 {
        let Species { attrition_per_day, t90_at_55_hours, .. } = SPECIES[species];
        let thermal_per_day = 24.0 * std::f64::consts::LN_10 / t90_at_55_hours;
        attrition_per_day * self.warm_days + thermal_per_day * self.hot_days[species]
    }
}

/// Temperature up to which no species is harmed by heat, °C.
const LOWEST_THRESHOLD_C: f64 = {
    let (mut lowest, mut index) = (f64::INFINITY, 0);
    while index < SPECIES_COUNT {
        lowest = lowest.min(SPECIES[index].threshold_c);
        index += 1;
    }
    lowest
};

/// Hazard of each species, 1/day, at a temperature and wet-basis moisture.
#[must_use]
pub fn hazards_per_day(temperature_c: f64, moisture_fraction: f64) -> [f64; SPECIES_COUNT] {
    let mut day = Exposure::default();
    day.add(1.0, temperature_c, moisture_fraction);
    std::array::from_fn(|species| day.hazard(species))
}
