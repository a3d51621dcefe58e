//! Plain words for the model's enums and for shares.

use baycast_model::advice::Urgency;
use baycast_model::estimate::Stage;
use baycast_model::futures::Step;
use baycast_model::learned::{Look, Trust};
use baycast_model::probe::Suspicion;
use baycast_model::seeds::Tolerance;
use baycast_model::window::{Criterion, Use};
use serde::Serialize;

/// The snake-case word that an enum has in JSON.
pub fn id(member: &impl Serialize) -> String {
    match serde_json::to_value(member) {
        Ok(serde_json::Value::String(word)) => word,
        _ => String::new(),
    }
}

/// A stage.
pub fn stage(stage: Stage) -> &'static str {
    match stage {
        Stage::Emptied => "emptied",
        Stage::Filling => "filling",
        Stage::Hot => "hot",
        Stage::Curing => "curing",
        Stage::Stalled => "stalled",
        Stage::Ready => "ready",
    }
}

/// A use.
pub fn purpose(purpose: Use) -> &'static str {
    match purpose {
        Use::Mulch => "lay as mulch",
        Use::BedDressing => "spread on beds",
        Use::Potting => "potting mixes",
    }
}

/// What a window waits for.
pub fn waits_for(criterion: Criterion) -> &'static str {
    match criterion {
        Criterion::MaturityIndex => "more of it to break down",
        Criterion::Respiration => "it to breathe more slowly",
        Criterion::AboveAir => "it to cool to the air",
        Criterion::CToN => "its C:N to fall",
        Criterion::TooDry => "it to be moister",
        Criterion::TooWet => "it to be drier",
    }
}

/// Moisture in a word, wet basis.
///
/// NRAES-54 (Rynk 1992, On-Farm Composting Handbook, table of desired characteristics): 40 to 65 % reasonable,
/// 50 to 60 % preferred (memory).
pub fn moisture(fraction: f64) -> &'static str {
    match fraction {
        under if under < 0.40 => "dry",
        under if under < 0.50 => "on the dry side",
        under if under <= 0.60 => "about right",
        under if under <= 0.65 => "on the wet side",
        _ => "wet",
    }
}

/// How much heat a seed stands.
pub fn tolerance(tolerance: Tolerance) -> &'static str {
    match tolerance {
        Tolerance::Soft => "easily killed",
        Tolerance::Medium => "middling",
        Tolerance::Hard => "hard-seeded",
    }
}

/// Why a reading is doubted.
pub fn suspicion(suspicion: Suspicion) -> &'static str {
    match suspicion {
        Suspicion::Stuck => "the probe kept one value",
        Suspicion::Spike => "a spike",
        Suspicion::LooksLikeFahrenheit => "it looks like °F",
        Suspicion::OutOfTheHeap => "the probe seems out of the heap",
        Suspicion::InTheShell => "the probe seems in the shell",
        Suspicion::UnlikeTheRest => "unlike the rest",
    }
}

/// What ranges rest on.
pub fn trust(trust: Trust) -> &'static str {
    match trust {
        Trust::MaterialsOnly => "materials and bay alone",
        Trust::FewReadings => "few readings",
        Trust::Readings => "what was seen",
        Trust::ReadingsDisagree => "readings that disagree",
    }
}

/// Something that can be looked at.
pub fn look(look: Look) -> &'static str {
    match look {
        Look::CoreReading => "core temperature",
        Look::EdgeReading => "edge temperature",
        Look::Moisture => "moisture, measured",
        Look::Level => "level in the bay",
    }
}

/// Something that may be done.
pub fn step(step: Step) -> &'static str {
    match step {
        Step::Leave => "leave it",
        Step::TurnNow => "turn it now",
        Step::TurnInTwoWeeks => "turn it in two weeks",
        Step::AddWood => "turn it now with wood",
        Step::Cover => "cover it now",
    }
}

/// How pressing a piece of advice is.
pub fn urgency(urgency: Urgency) -> &'static str {
    match urgency {
        Urgency::Now => "now",
        Urgency::Soon => "this week",
        Urgency::Whenever => "when it suits",
    }
}

/// A number without decimals; what rounds to nothing has no sign.
pub fn whole(number: f64) -> String {
    format!("{:.0}", number.round() + 0.0)
}

/// A share as a whole percentage.
pub fn percent(fraction: f64) -> String {
    format!("{:.0} %", fraction * 100.0)
}

/// A share of living seeds: never rounded to none and never to all.
pub fn alive(fraction: f64) -> String {
    match fraction * 100.0 {
        few if few < 1.0 => "under 1 %".into(),
        most if most > 99.0 => "nearly all".into(),
        some => format!("{some:.0} %"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_share_of_seeds_reads_as_none() {
        assert_eq!(alive(0.0), "under 1 %");
        assert_eq!(alive(0.034), "3 %");
        assert_eq!(alive(1.0), "nearly all");
    }

    #[test]
    fn nothing_has_no_sign() {
        assert_eq!([-0.4, 0.4, -0.6, 11.5].map(whole), ["0", "0", "-1", "12"]);
    }

    #[test]
    fn moisture_turns_at_the_handbook_s_bounds() {
        let words = [0.39, 0.41, 0.55, 0.62, 0.7].map(moisture);
        assert_eq!(words, ["dry", "on the dry side", "about right", "on the wet side", "wet"]);
        assert_eq!(id(&Use::BedDressing), "bed_dressing");
    }
}
