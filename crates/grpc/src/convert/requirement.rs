//! What is needed on the way in, what it asks for on the way out.

use baycast_model::requirement::{CompostWanted, MissingMaterial, Need, Requirement, RequirementStart};
use baycast_model::window::Use;
use baycast_service::pointer::Pointer;
use baycast_service::records::FarmNeed;
use jiff::civil::Date;

use super::bay::{bay, nothing};
use super::incoming::Incoming;
use super::recipe::{empty_handed, on_hand};
use super::site::{nowhere, site};
use crate::proto;

/// Which dates are read.
const DATE: &str = "a date like 2026-04-30";

/// What a caller needs, as far as it can be read.
pub fn need(message: proto::Need, at: Pointer<'_>, incoming: &mut Incoming) -> Need {
    let proto::Need { site: place, bay: kind, wanted, on_hand } = message;
    let place = incoming.message(place, at.member("site"));
    let kind = incoming.message(kind, at.member("bay"));
    Need {
        site: place.map_or_else(nowhere, |place| site(place, at.member("site"), incoming)),
        bay: kind.map_or_else(nothing, |kind| bay(kind, at.member("bay"), incoming)),
        wanted: compost(wanted, at, incoming),
        on_hand: held(on_hand, at, incoming),
    }
}

/// What a caller needs on a farm, as far as it can be read.
pub fn farm_need(message: proto::FarmNeed, at: Pointer<'_>, incoming: &mut Incoming) -> FarmNeed {
    let proto::FarmNeed { bay, wanted, on_hand } = message;
    FarmNeed { bay, wanted: compost(wanted, at, incoming), on_hand: held(on_hand, at, incoming) }
}

/// What it is made from.
fn held(
    message: Option<proto::OnHand>,
    at: Pointer<'_>,
    incoming: &mut Incoming,
) -> baycast_model::recipe::OnHand {
    let at = at.member("on_hand");
    let message = incoming.message(message, at);
    message.map_or_else(empty_handed, |message| on_hand(message, at, incoming))
}

/// How much is needed, what for and by when.
fn compost(message: Option<proto::CompostWanted>, at: Pointer<'_>, incoming: &mut Incoming) -> CompostWanted {
    let at = at.member("wanted");
    let proto::CompostWanted {
        r#use: for_use,
        volume_m3,
        by,
        earliest_start,
        filling_weeks,
        turn_after_days,
    } = incoming.message(message, at).unwrap_or_default();
    CompostWanted {
        for_use: incoming.word(for_use, at.member("use")).unwrap_or(Use::Mulch),
        volume_m3: incoming.number(volume_m3, at.member("volume_m3")),
        by: incoming.parsed(&by, at.member("by"), DATE).unwrap_or(Date::ZERO),
        earliest_start: earliest_start
            .and_then(|text| incoming.parsed(&text, at.member("earliest_start"), DATE)),
        filling_weeks,
        turn_after_days,
    }
}

impl From<Requirement> for proto::Requirement {
    fn from(requirement: Requirement) -> Self {
        let Requirement {
            model_version,
            earliest_start,
            recipe,
            bays,
            volume_each_m3,
            missing,
            likely,
            prudent,
            soonest,
            waits_for,
            unmet,
            assumptions,
            cautions,
        } = requirement;
        Self {
            model_version,
            earliest_start: earliest_start.to_string(),
            recipe: Some(recipe.into()),
            bays,
            volume_each_m3,
            missing: missing.into_iter().map(Into::into).collect(),
            likely: likely.map(Into::into),
            prudent: prudent.map(Into::into),
            soonest: Some(soonest.into()),
            waits_for: proto::Criterion::from(waits_for).into(),
            unmet,
            assumptions: assumptions.into_iter().map(Into::into).collect(),
            cautions,
        }
    }
}

impl From<RequirementStart> for proto::RequirementStart {
    fn from(start: RequirementStart) -> Self {
        let RequirementStart { on, filled, turned, opens, best_by, probability, volume_m3 } = start;
        Self {
            on: on.to_string(),
            filled: filled.to_string(),
            turned: turned.to_string(),
            opens: Some(opens.into()),
            best_by: Some(best_by.into()),
            probability,
            volume_m3: Some(volume_m3.into()),
        }
    }
}

impl From<MissingMaterial> for proto::MissingMaterial {
    fn from(missing: MissingMaterial) -> Self {
        let MissingMaterial { feedstock, mass_kg, volume_m3 } = missing;
        Self { feedstock, mass_kg, volume_m3 }
    }
}
