//! How much of each material makes the best mix: of a volume, or of as much as makes a good one.

use crate::recipe::quality::misfit;
use crate::recipe::rows::of_volume;
use crate::recipe::stock::{Stock, Stocked};

/// Amounts of a mix.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Proportions {
    /// Of each material, in the order of the stock, kg.
    pub kg: Vec<f64>,
    /// Water, kg.
    pub water_kg: f64,
}

impl Proportions {
    /// So many times as much.
    pub fn times(&self, amount: f64) -> Self {
        Self { kg: self.kg.iter().map(|kg| kg * amount).collect(), water_kg: self.water_kg * amount }
    }

    /// Part of the way to another.
    pub fn towards(&self, other: &Self, share: f64) -> Self {
        if share >= 1.0 {
            return other.clone();
        }
        let part = |own: f64, its: f64| own + share * (its - own);
        Self {
            kg: self.kg.iter().zip(&other.kg).map(|(own, its)| part(*own, *its)).collect(),
            water_kg: part(self.water_kg, other.water_kg),
        }
    }
}

/// Volumes looked at where none is asked for, from a thousandth of all to all.
const LOOKS: u8 = 24;
/// How often the stretch in which the best or the largest lies is narrowed.
const NARROWINGS: usize = 30;
/// A misfit that is good: within three quarters of the way from the targets to the edge of a range. More of a good mix is better
/// than less of a perfect one.
const GOOD: f64 = 0.75;
/// What a larger mix may be worse than the best where none is good, as a misfit.
const AS_GOOD: f64 = 0.002;

/// The best mix of the volume asked for; where none is asked for, the largest that is good.
pub(crate) fn best(stock: &Stock) -> Proportions {
    // In an order of their own, so that theirs in the list makes no difference to the last digit.
    let order = order(stock);
    let mut sorted = stock.clone();
    sorted.materials = order.iter().map(|index| stock.materials[*index].clone()).collect();
    let found = match stock.volume_m3 {
        Some(volume_m3) => of_volume(&sorted, volume_m3),
        None => largest(&sorted),
    };
    let mut told = found.clone();
    for (place, index) in order.into_iter().enumerate() {
        told.kg[index] = found.kg[place];
    }
    told
}

fn order(stock: &Stock) -> Vec<usize> {
    let key = |own: &Stocked| {
        let numbers = [own.least_kg, own.most_kg, own.per_kg.matter.water_kg, own.per_kg.loose_m3];
        (own.feedstock.id.clone(), numbers.map(f64::to_bits))
    };
    let mut order: Vec<usize> = (0..stock.materials.len()).collect();
    order.sort_by_cached_key(|index| key(&stock.materials[*index]));
    order
}

/// The largest mix that is good; where none is, the largest that is as good as the best of any volume.
fn largest(stock: &Stock) -> Proportions {
    let (least, most) = stock.volumes_m3();
    let least = least.max(most / 1000.0);
    let step = (most / least).powf(1.0 / f64::from(LOOKS - 1));
    let volumes: Vec<f64> = (0..LOOKS).map(|look| (least * step.powi(look.into())).min(most)).collect();
    let looks: Vec<(f64, f64)> = volumes.iter().map(|m3| (*m3, misfit_of(stock, *m3))).collect();
    let place = (0..looks.len()).min_by(|a, b| looks[*a].1.total_cmp(&looks[*b].1)).unwrap_or_default();
    let mut good = looks[place];
    if good.1 > GOOD {
        let between = |place: usize| looks[place.min(looks.len() - 1)].0;
        good = least_between(stock, between(place.saturating_sub(1)), between(place + 1));
    }
    let good = (good.0, (good.1 + AS_GOOD).max(GOOD));
    let larger = looks.iter().rposition(|(m3, misfit)| *m3 > good.0 && *misfit <= good.1);
    let (mut found, mut beyond) = match larger {
        Some(place) => (looks[place].0, looks.get(place + 1).map_or(most, |look| look.0)),
        None => (good.0, looks.iter().map(|look| look.0).find(|m3| *m3 > good.0).unwrap_or(most)),
    };
    for _ in 0..NARROWINGS {
        let middle = f64::midpoint(found, beyond);
        if misfit_of(stock, middle) <= good.1 {
            found = middle;
        } else {
            beyond = middle;
        }
    }
    of_volume(stock, found)
}

/// The volume with the least misfit between two, and the misfit: by thirds.
fn least_between(stock: &Stock, mut low: f64, mut high: f64) -> (f64, f64) {
    for _ in 0..NARROWINGS {
        let (one, other) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
        if misfit_of(stock, one) <= misfit_of(stock, other) {
            high = other;
        } else {
            low = one;
        }
    }
    let middle = f64::midpoint(low, high);
    (middle, misfit_of(stock, middle))
}

fn misfit_of(stock: &Stock, volume_m3: f64) -> f64 {
    misfit(&stock.mix(&of_volume(stock, volume_m3)), &stock.targets)
}
