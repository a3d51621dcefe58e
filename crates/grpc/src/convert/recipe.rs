//! What is on hand on the way in, recipes on the way out.

use baycast_model::recipe::{
    Amount, Ingredient, MixMeasure, MixQuality, MixStanding, OnHand, Recipe, RecipeBound, RecipeMend,
    RecipePart, Targets,
};
use baycast_service::pointer::Pointer;

use super::feedstock::feedstock;
use super::history::list;
use super::incoming::Incoming;
use super::word::word;
use crate::proto;

word!(RecipeBound, proto::RecipeBound { Least Most });
word!(MixMeasure, proto::MixMeasure { CToN Moisture FreeAirSpace BulkDensity });
word!(MixStanding, proto::MixStanding { Below Within Above });

/// What a caller has on hand, as far as it can be read.
pub fn on_hand(message: proto::OnHand, at: Pointer<'_>, incoming: &mut Incoming) -> OnHand {
    let proto::OnHand { ingredients, feedstocks, barrow_m3, max_water_litres, volume_m3, targets: aims } =
        message;
    OnHand {
        ingredients: list(ingredients, at.member("ingredients"), incoming, ingredient),
        feedstocks: list(feedstocks, at.member("feedstocks"), incoming, feedstock),
        barrow_m3,
        max_water_litres,
        volume_m3,
        targets: aims.map(targets).unwrap_or_default(),
    }
}

/// What stands for what is absent, which is a problem noted already.
pub fn empty_handed() -> OnHand {
    OnHand {
        ingredients: Vec::new(),
        feedstocks: Vec::new(),
        barrow_m3: None,
        max_water_litres: None,
        volume_m3: None,
        targets: Targets::default(),
    }
}

/// A material on hand.
fn ingredient(message: proto::Ingredient, at: Pointer<'_>, incoming: &mut Incoming) -> Ingredient {
    let proto::Ingredient { feedstock, least, most, moisture_fraction, preparation } = message;
    let most = incoming.message(most, at.member("most"));
    Ingredient {
        feedstock,
        least: least.map(amount),
        most: most.map(amount).unwrap_or_default(),
        moisture_fraction,
        preparation: incoming.optional_word(preparation, at.member("preparation")).unwrap_or_default(),
    }
}

/// An amount.
fn amount(message: proto::Amount) -> Amount {
    let proto::Amount { mass_kg, volume_m3, barrows } = message;
    Amount { mass_kg, volume_m3, barrows }
}

/// Targets; what is not said is as usual.
fn targets(message: proto::Targets) -> Targets {
    let proto::Targets {
        c_to_n,
        min_c_to_n,
        max_c_to_n,
        moisture_fraction,
        min_moisture_fraction,
        max_moisture_fraction,
        min_free_air_space_fraction,
    } = message;
    let usual = Targets::default();
    Targets {
        c_to_n: c_to_n.unwrap_or(usual.c_to_n),
        min_c_to_n: min_c_to_n.unwrap_or(usual.min_c_to_n),
        max_c_to_n: max_c_to_n.unwrap_or(usual.max_c_to_n),
        moisture_fraction: moisture_fraction.unwrap_or(usual.moisture_fraction),
        min_moisture_fraction: min_moisture_fraction.unwrap_or(usual.min_moisture_fraction),
        max_moisture_fraction: max_moisture_fraction.unwrap_or(usual.max_moisture_fraction),
        min_free_air_space_fraction: min_free_air_space_fraction.unwrap_or(usual.min_free_air_space_fraction),
    }
}

impl From<Recipe> for proto::Recipe {
    fn from(recipe: Recipe) -> Self {
        let Recipe {
            model_version,
            parts,
            water_litres,
            mass_kg,
            volume_m3,
            barrows,
            qualities,
            mends,
            assumptions,
            cautions,
        } = recipe;
        Self {
            model_version,
            parts: parts.into_iter().map(Into::into).collect(),
            water_litres,
            mass_kg,
            volume_m3,
            barrows,
            qualities: qualities.into_iter().map(Into::into).collect(),
            mends: mends.into_iter().map(Into::into).collect(),
            assumptions: assumptions.into_iter().map(Into::into).collect(),
            cautions,
        }
    }
}

impl From<RecipePart> for proto::RecipePart {
    fn from(part: RecipePart) -> Self {
        let RecipePart { feedstock, name, mass_kg, volume_m3, barrows, bound, note } = part;
        let bound = bound.map_or(proto::RecipeBound::Unspecified, Into::into).into();
        Self { feedstock, name, mass_kg, volume_m3, barrows, bound, note }
    }
}

impl From<MixQuality> for proto::MixQuality {
    fn from(quality: MixQuality) -> Self {
        let MixQuality { measure, value, target, least, most, standing } = quality;
        Self {
            measure: proto::MixMeasure::from(measure).into(),
            value,
            target,
            least,
            most,
            standing: proto::MixStanding::from(standing).into(),
        }
    }
}

impl From<RecipeMend> for proto::RecipeMend {
    fn from(mend: RecipeMend) -> Self {
        let RecipeMend { measure, feedstock, mass_kg, volume_m3, action } = mend;
        Self { measure: proto::MixMeasure::from(measure).into(), feedstock, mass_kg, volume_m3, action }
    }
}
