//! Whether a plan says that what comes in is no mix that heats well.

use baycast_model::feedstock::default_feedstocks;
use baycast_model::history::Preparation;
use baycast_model::plan::answer::{Conflict, ConflictKind, Plan};
use baycast_model::plan::plan;
use baycast_model::plan::season::{Inflow, Season};
use jiff::civil::date;

use crate::farms;

fn inflow(feedstock: &str, mass_kg_week: Option<f64>, volume_m3_week: Option<f64>) -> Inflow {
    let (from, until, barrows_week) = (None, None, None);
    let preparation = Preparation::AsListed;
    Inflow {
        feedstock: feedstock.into(),
        from,
        until,
        mass_kg_week,
        volume_m3_week,
        barrows_week,
        preparation,
    }
}

fn planned(season: &Season) -> Plan {
    plan(season, date(2026, 1, 1)).expect("a plan")
}

fn poor(plan: &Plan) -> Vec<&Conflict> {
    plan.conflicts.iter().filter(|own| own.kind == ConflictKind::PoorMix).collect()
}

#[test]
fn mowings_alone_are_too_wet_and_what_the_plan_asks_for_mends_that() {
    let mut season = farms::season(2);
    season.batches.clear();
    season.demands.clear();
    season.inflows = vec![inflow("grass_mowings", Some(80.0), None), inflow("cardboard", Some(4.0), None)];
    let wet = planned(&season);
    let [told] = poor(&wet)[..] else { panic!("{:?}", wet.conflicts) };
    // Water over mass, by the table's moistures (recipe equation of NRAES-54, from memory; its moisture form read).
    let table = default_feedstocks();
    let moist = |id: &str| table.iter().find(|own| own.id == id).expect("a feedstock").moisture_fraction;
    let moisture = (80.0 * moist("grass_mowings") + 4.0 * moist("cardboard")) / 84.0;
    let said = format!("Moisture: {:.0} %, over 65 %", 100.0 * moisture);
    assert!(moisture > 0.67 && told.text.contains(&said), "{said} in {}", told.text);

    let [remedy] = &told.remedies[..] else { panic!("{told:?}") };
    let named =
        table.iter().find(|own| remedy.text.contains(&format!("more of {}", own.name.to_lowercase())));
    let weeks = f64::from(season.weeks.expect("weeks"));
    let each_week = remedy.volume_m3.expect("a volume") / weeks;
    season.inflows.push(inflow(&named.expect("a feedstock").id, None, Some(1.05 * each_week)));
    let mended = planned(&season);
    let still = poor(&mended).into_iter().any(|own| own.text.contains("Moisture"));
    assert!(!still, "{:?} after {}", poor(&mended), remedy.text);
}
