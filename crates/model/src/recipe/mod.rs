//! A mix from what is on hand that comes closest to what it should be.

pub mod bounded_least_squares;
mod mend;
mod on_hand;
pub(crate) mod proportions;
pub mod quality;
mod rows;
pub(crate) mod stock;

use serde::{Deserialize, Serialize};

use crate::estimate::Assumption;
use crate::estimator::CAUTIONS;
use crate::heap::Material;
use crate::problem::Problems;
use crate::recipe::proportions::Proportions;
use crate::recipe::stock::{Stock, Stocked};

pub use mend::RecipeMend;
pub use on_hand::{Amount, Ingredient, OnHand, Targets};
pub use quality::{MixMeasure, MixQuality, MixStanding};
pub use stock::INGREDIENTS;

/// A mix, and what it is like.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Recipe {
    /// Version of the model that answered.
    pub model_version: String,
    /// How much of each ingredient, in the order given.
    pub parts: Vec<RecipePart>,
    /// Water to add, litres.
    pub water_litres: f64,
    /// Wet mass of the mix, water included, kg.
    pub mass_kg: f64,
    /// Loose volume of the mix, m³.
    pub volume_m3: f64,
    /// Loose volume in barrow loads.
    pub barrows: f64,
    /// What the mix is like: C:N, moisture, air and bulk density.
    pub qualities: Vec<MixQuality>,
    /// What would bring each measure that is out of its range just into it, each for itself.
    pub mends: Vec<RecipeMend>,
    /// What had to be assumed.
    pub assumptions: Vec<Assumption>,
    /// What every reader should bear in mind.
    pub cautions: Vec<String>,
}

/// How much of one ingredient goes in.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RecipePart {
    /// The feedstock's id.
    pub feedstock: String,
    /// What a grower calls it.
    pub name: String,
    /// Wet mass, kg.
    pub mass_kg: f64,
    /// Loose volume, m³.
    pub volume_m3: f64,
    /// Loose volume in barrow loads.
    pub barrows: f64,
    /// The bound that it lies on, where that keeps the mix from coming closer.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bound: Option<RecipeBound>,
    /// A word of caution on the material, if any.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
}

/// A bound on the amount of an ingredient.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum RecipeBound {
    /// Less of it would be better, or none is best.
    Least,
    /// More of it would be better.
    Most,
}

/// Share of the most by which an amount may be off a bound and still lie on it.
const ON_BOUND: f64 = 0.02;

fn bound(own: &Stocked, kg: f64) -> Option<RecipeBound> {
    let near = ON_BOUND * own.most_kg;
    if kg >= own.most_kg - near {
        Some(RecipeBound::Most)
    } else if kg <= own.least_kg + near {
        Some(RecipeBound::Least)
    } else {
        None
    }
}

/// The mix of what is on hand that comes closest to its targets, or everything that is wrong with what was given.
///
/// Deterministic, and the same whatever the order of the ingredients.
pub fn recipe(on_hand: &OnHand) -> Result<Recipe, Problems> {
    let mut problems = Problems::default();
    let Some(stock) = Stock::new(on_hand, "", &mut problems) else { return Err(problems) };
    let proportions = proportions::best(&stock);
    Ok(told(&stock, &proportions))
}

/// A mix as it is told.
pub(crate) fn told(stock: &Stock, proportions: &Proportions) -> Recipe {
    let mix: Material = stock.mix(proportions);
    let barrows = |volume_m3: f64| volume_m3 / stock.barrow_m3;
    let parts = stock.materials.iter().zip(&proportions.kg).map(|(own, kg)| {
        let volume_m3 = own.per_kg.loose_m3 * kg;
        RecipePart {
            feedstock: own.feedstock.id.clone(),
            name: own.feedstock.name.clone(),
            mass_kg: *kg,
            volume_m3,
            barrows: barrows(volume_m3),
            bound: bound(own, *kg),
            note: own.feedstock.note.clone(),
        }
    });
    let qualities = quality::qualities(&mix, &stock.targets);
    Recipe {
        model_version: crate::VERSION.into(),
        parts: parts.collect(),
        water_litres: proportions.water_kg,
        mass_kg: quality::mass_kg(&mix),
        volume_m3: mix.loose_m3,
        barrows: barrows(mix.loose_m3),
        mends: mend::mends(stock, proportions, &mix, &qualities),
        qualities: qualities.to_vec(),
        assumptions: stock.assumptions.clone(),
        cautions: CAUTIONS.map(String::from).to_vec(),
    }
}
