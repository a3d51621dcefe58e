//! What compost that is needed asks for, as a grower reads it.

use baycast_model::requirement::{Requirement, RequirementStart};
use baycast_model::window::DateSpread;
use jiff::ToSpan;

use super::paragraph::labelled;
use super::table::{footer, sentence};
use super::{dates, recipe, words};

/// Where the text of a line begins.
const INDENT: usize = 18;

/// The whole answer.
pub fn table(requirement: &Requirement) -> String {
    let mut out = recipe::block(&requirement.recipe);
    let bays = match requirement.bays {
        1 => format!("one, {:.2} m³ loose", requirement.volume_each_m3),
        bays => format!("{bays} alike, {:.2} m³ loose each", requirement.volume_each_m3),
    };
    out += &labelled("  Bays", INDENT, &bays);
    for missing in &requirement.missing {
        let told =
            format!("{:.0} kg ({:.2} m³) of {}", missing.mass_kg, missing.volume_m3, missing.feedstock);
        out += &labelled("  To bring in", INDENT, &told);
    }
    out += &start("  Start at latest", requirement.likely.as_ref(), requirement);
    out += &start("  To be surer", requirement.prudent.as_ref(), requirement);
    let soonest = format!(
        "started on {}, it is ready {}; waits for {}",
        dates::full(requirement.earliest_start),
        opening(requirement.soonest, requirement),
        words::waits_for(requirement.waits_for)
    );
    out += &labelled("  Soonest", INDENT, &soonest);
    for unmet in &requirement.unmet {
        out += &labelled("  ► does not fit", INDENT, &dates::spelt(unmet));
    }
    for assumption in &requirement.assumptions {
        out += &labelled("  Assumed", INDENT, &dates::spelt(&sentence(&assumption.assumed)));
    }
    out + &footer(&requirement.cautions)
}

fn start(label: &str, start: Option<&RequirementStart>, requirement: &Requirement) -> String {
    let Some(start) = start else { return labelled(label, INDENT, "no day does") };
    let filled = if start.filled > start.on {
        format!(", filled by {}", dates::within(start.filled, start.on.year()))
    } else {
        String::new()
    };
    let text = format!(
        "{}{filled}, turned {}; ready {}; in time with {} likelihood; {:.2} m³ ({:.2} to {:.2})",
        dates::full(start.on),
        dates::within(start.turned, start.on.year()),
        opening(start.opens, requirement),
        words::percent(start.probability),
        start.volume_m3.p50,
        start.volume_m3.p10,
        start.volume_m3.p90,
    );
    labelled(label, INDENT, &text)
}

/// When a window opens, for one who asks on the earliest day: two years on nothing is told.
fn opening(opens: DateSpread, requirement: &Requirement) -> String {
    let from = requirement.earliest_start;
    dates::opening(opens, from, from.saturating_add(730.days()))
}
