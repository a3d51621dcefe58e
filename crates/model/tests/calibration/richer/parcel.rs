//! A parcel of matter, and how two become one.

use super::nature::{Nature, POOLS};

/// Matter of one zone.
#[derive(Clone, Copy, Debug, Default)]
pub struct Parcel {
    /// Degradable pools, kg.
    pub pools_kg: [f64; POOLS],
    /// Lignin and what it sheathes, kg.
    pub resistant_kg: f64,
    /// Ash, kg.
    pub ash_kg: f64,
    /// Water, kg.
    pub water_kg: f64,
    /// Temperature, °C.
    pub celsius: f64,
    /// Activity of its community, 0 to 1.
    pub activity: f64,
}

impl Parcel {
    /// What is left to degrade, kg.
    pub fn degradable_kg(&self) -> f64 {
        self.pools_kg.iter().sum()
    }

    /// Volatile solids, kg.
    pub fn volatile_kg(&self) -> f64 {
        self.degradable_kg() + self.resistant_kg
    }

    /// Dry mass, kg.
    pub fn dry_kg(&self) -> f64 {
        self.volatile_kg() + self.ash_kg
    }

    /// Heat capacity, kJ/K: 1.48 − 0.64 A + 4.18 W for each kg dry (Haug 1993, from memory), with the batch's factor.
    pub fn capacity_kj_k(&self, nature: &Nature) -> f64 {
        nature.capacity * (1.48 * self.dry_kg() - 0.64 * self.ash_kg) + 4.18 * self.water_kg
    }

    /// `share` of it.
    pub fn part(&self, share: f64) -> Self {
        Self {
            pools_kg: self.pools_kg.map(|kg| kg * share),
            resistant_kg: self.resistant_kg * share,
            ash_kg: self.ash_kg * share,
            water_kg: self.water_kg * share,
            ..*self
        }
    }

    /// Mixes `other` in.
    pub fn mix(&mut self, other: &Self, nature: &Nature) {
        let between = |own: f64, weight: f64, its: f64, its_weight: f64| {
            if weight + its_weight > 0.0 {
                (own * weight + its * its_weight) / (weight + its_weight)
            } else {
                own
            }
        };
        self.celsius =
            between(self.celsius, self.capacity_kj_k(nature), other.celsius, other.capacity_kj_k(nature));
        self.activity = between(self.activity, self.degradable_kg(), other.activity, other.degradable_kg());
        for (own, its) in self.pools_kg.iter_mut().zip(other.pools_kg) {
            *own += its;
        }
        self.resistant_kg += other.resistant_kg;
        self.ash_kg += other.ash_kg;
        self.water_kg += other.water_kg;
    }
}
