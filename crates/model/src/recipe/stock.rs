//! What is on hand, checked, and in kilograms.

use std::collections::{HashMap, HashSet};

use crate::check::{feedstock, quoted};
use crate::estimate::Assumption;
use crate::feedstock::{Feedstock, default_feedstocks};
use crate::heap::Material;
use crate::history::Preparation;
use crate::problem::Problems;
use crate::recipe::on_hand::{Amount, Ingredient, OnHand, Targets};
use crate::recipe::proportions::Proportions;
use crate::timeline::BARROW_M3;

/// Most ingredients of one mix.
pub const INGREDIENTS: usize = 24;
/// Water that the driest mix takes to the wettest target, as a multiple of its mass.
const ENOUGH_WATER: f64 = 4.0;

/// A material on hand.
#[derive(Clone, Debug)]
pub(crate) struct Stocked {
    /// Its feedstock.
    pub feedstock: Feedstock,
    /// Whether it is shredded.
    pub preparation: Preparation,
    /// Whether its amount was told by weight.
    pub weighed: bool,
    /// One kilogram of it.
    pub per_kg: Material,
    /// The least to use, kg.
    pub least_kg: f64,
    /// The most to use, kg.
    pub most_kg: f64,
}

/// All that is on hand.
#[derive(Clone, Debug)]
pub(crate) struct Stock {
    /// The materials, in the order given.
    pub materials: Vec<Stocked>,
    /// Own feedstocks, which stand in place of those of the table.
    pub own: Vec<Feedstock>,
    /// The most water to add, kg.
    pub most_water_kg: f64,
    /// How much to mix, loose, where that is said, m³.
    pub volume_m3: Option<f64>,
    /// One barrow load, m³.
    pub barrow_m3: f64,
    /// What the mix should be.
    pub targets: Targets,
    /// What was assumed.
    pub assumptions: Vec<Assumption>,
}

impl Stock {
    /// What is on hand, or nothing where values of it, which stands at `at`, cannot be used: they are noted.
    pub fn new(on_hand: &OnHand, at: &str, problems: &mut Problems) -> Option<Self> {
        let noted = problems.0.len();
        check(on_hand, at, problems);
        let defaults = default_feedstocks();
        let known: HashMap<&str, &Feedstock> =
            defaults.iter().chain(&on_hand.feedstocks).map(|own| (own.id.as_str(), own)).collect();
        let barrow_m3 = on_hand.barrow_m3.unwrap_or(BARROW_M3);
        let mut materials = Vec::new();
        for (index, own) in on_hand.ingredients.iter().enumerate() {
            let at = format!("{at}/ingredients/{index}");
            let Some(feedstock) = known.get(own.feedstock.as_str()).copied() else {
                let accepted = "an id of the feedstock table or of one's own feedstocks";
                problems.add(format!("{at}/feedstock"), quoted(&own.feedstock), accepted);
                continue;
            };
            materials.push(material(own, feedstock, barrow_m3, &at, problems));
        }
        if problems.0.len() > noted {
            return None;
        }
        let most_kg: f64 = materials.iter().map(|own| own.most_kg).sum();
        let stock = Self {
            materials,
            own: on_hand.feedstocks.clone(),
            most_water_kg: on_hand.max_water_litres.unwrap_or(ENOUGH_WATER * most_kg),
            volume_m3: on_hand.volume_m3,
            barrow_m3,
            targets: on_hand.targets,
            assumptions: assumptions(on_hand, at),
        };
        let (least, most) = stock.volumes_m3();
        if most <= 0.0 {
            problems.add(format!("{at}/ingredients"), "nothing", "at least one with a most over 0");
        } else if let Some(volume_m3) = stock.volume_m3
            && !(least - 1e-9..=most + 1e-9).contains(&volume_m3)
        {
            let accepted =
                format!("{least:.3} to {most:.3}: what the least and the most of the ingredients come to");
            problems.add(format!("{at}/volume_m3"), volume_m3, accepted);
        }
        (problems.0.len() == noted).then_some(stock)
    }

    /// Loose volumes of the least and of the most that may be used, m³.
    pub fn volumes_m3(&self) -> (f64, f64) {
        self.materials.iter().fold((0.0, 0.0), |(least, most), own| {
            (least + own.least_kg * own.per_kg.loose_m3, most + own.most_kg * own.per_kg.loose_m3)
        })
    }

    /// The mix of amounts.
    pub fn mix(&self, proportions: &Proportions) -> Material {
        let mut mix = Material::default();
        for (own, kg) in self.materials.iter().zip(&proportions.kg) {
            mix.combine(&own.per_kg.times(*kg));
        }
        mix.matter.water_kg += proportions.water_kg;
        mix
    }
}

/// Notes every value out of range.
fn check(on_hand: &OnHand, at: &str, problems: &mut Problems) {
    let count = on_hand.ingredients.len();
    if !(1..=INGREDIENTS).contains(&count) {
        let accepted = format!("1 to {INGREDIENTS} ingredients");
        problems.add(format!("{at}/ingredients"), format!("{count} ingredients"), accepted);
    }
    let mut ids = HashSet::new();
    for (index, own) in on_hand.feedstocks.iter().enumerate() {
        feedstock(own, &format!("{at}/feedstocks/{index}"), problems);
        if !ids.insert(own.id.as_str()) {
            problems.add(format!("{at}/feedstocks/{index}/id"), quoted(&own.id), "an id used once");
        }
    }
    problems.range_if(format!("{at}/barrow_m3"), on_hand.barrow_m3, 0.01, 0.5);
    problems.range_if(format!("{at}/max_water_litres"), on_hand.max_water_litres, 0.0, 20_000.0);
    problems.range_if(format!("{at}/volume_m3"), on_hand.volume_m3, 0.01, 1000.0);
    for (index, own) in on_hand.ingredients.iter().enumerate() {
        let at = format!("{at}/ingredients/{index}");
        problems.range_if(format!("{at}/moisture_fraction"), own.moisture_fraction, 0.0, 0.98);
        if let Some(least) = &own.least {
            amount(least, &format!("{at}/least"), problems);
        }
        amount(&own.most, &format!("{at}/most"), problems);
    }
    targets(&on_hand.targets, &format!("{at}/targets"), problems);
}

fn amount(own: &Amount, at: &str, problems: &mut Problems) {
    problems.range_if(format!("{at}/mass_kg"), own.mass_kg, 0.0, 50_000.0);
    problems.range_if(format!("{at}/volume_m3"), own.volume_m3, 0.0, 100.0);
    problems.range_if(format!("{at}/barrows"), own.barrows, 0.0, 1000.0);
    let given: Vec<_> = [("mass_kg", own.mass_kg), ("volume_m3", own.volume_m3), ("barrows", own.barrows)]
        .into_iter()
        .filter_map(|(field, value)| value.map(|_| field))
        .collect();
    if given.len() != 1 {
        let given = if given.is_empty() { "none".to_owned() } else { given.join(" and ") };
        problems.add(at, given, "exactly one of mass_kg, volume_m3, barrows");
    }
}

fn targets(own: &Targets, at: &str, problems: &mut Problems) {
    let bands = [
        ("c_to_n", own.c_to_n, own.min_c_to_n, own.max_c_to_n, (10.0, 60.0)),
        (
            "moisture_fraction",
            own.moisture_fraction,
            own.min_moisture_fraction,
            own.max_moisture_fraction,
            (0.2, 0.8),
        ),
    ];
    for (field, target, least, most, (low, high)) in bands {
        problems.range(format!("{at}/min_{field}"), least, low, high);
        problems.range(format!("{at}/max_{field}"), most, low, high);
        let band = low..=high;
        problems.range(format!("{at}/{field}"), target, low, high);
        if ![target, least, most].iter().all(|own| band.contains(own)) {
            continue;
        }
        if least < most {
            if !(least..=most).contains(&target) {
                let accepted = format!("min_{field}, {least}, to max_{field}, {most}");
                problems.add(format!("{at}/{field}"), target, accepted);
            }
        } else if least < high {
            let accepted = format!("over min_{field}, {least}, and up to {high}");
            problems.add(format!("{at}/max_{field}"), most, accepted);
        } else {
            let accepted = format!("{low} or more, and below max_{field}, {most}");
            problems.add(format!("{at}/min_{field}"), least, accepted);
        }
    }
    problems.range(format!("{at}/min_free_air_space_fraction"), own.min_free_air_space_fraction, 0.0, 0.6);
}

fn material(
    own: &Ingredient,
    feedstock: &Feedstock,
    barrow_m3: f64,
    at: &str,
    problems: &mut Problems,
) -> Stocked {
    let per_kg = feedstock.material(1.0, own.moisture_fraction, 0.0, own.preparation);
    let kg = |amount: &Amount| {
        let volume_m3 = amount.volume_m3.or(amount.barrows.map(|barrows| barrows * barrow_m3));
        amount.mass_kg.or(volume_m3.map(|m3| m3 / per_kg.loose_m3)).unwrap_or_default()
    };
    let (least_kg, most_kg) = (own.least.as_ref().map_or(0.0, kg), kg(&own.most));
    // A most that is out of its range is noted already.
    if most_kg >= 0.0 && least_kg > most_kg {
        let accepted = format!("up to the most, {most_kg:.1} kg");
        problems.add(format!("{at}/least"), format!("{least_kg:.1} kg"), accepted);
    }
    Stocked {
        feedstock: feedstock.clone(),
        preparation: own.preparation,
        weighed: own.most.mass_kg.is_some(),
        per_kg,
        least_kg,
        most_kg,
    }
}

/// That a barrow load was taken to be of the usual size, where amounts are told in them.
fn assumptions(on_hand: &OnHand, at: &str) -> Vec<Assumption> {
    let by_barrow = |own: &Ingredient| {
        own.most.barrows.is_some() || own.least.is_some_and(|least| least.barrows.is_some())
    };
    let assumed = on_hand.barrow_m3.is_none() && on_hand.ingredients.iter().any(by_barrow);
    let told =
        || Assumption { pointer: format!("{at}/barrow_m3"), assumed: format!("a barrow of {BARROW_M3} m³") };
    assumed.then(told).into_iter().collect()
}
