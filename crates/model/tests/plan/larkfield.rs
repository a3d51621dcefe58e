//! The plan of Larkfield, which is invented.

use baycast_model::plan::answer::ConflictKind;
use baycast_model::plan::plan;
use jiff::civil::date;

use crate::checker::faults;
use crate::season::larkfield;

#[test]
fn larkfields_plan_can_be_carried_out_and_tells_what_is_short_in_barrow_loads() {
    let season = larkfield();
    assert_eq!((season.bays.len(), season.batches.len()), (7, 7));
    let plan = plan(&season, date(2026, 9, 15)).expect("a plan");
    for step in &plan.steps {
        println!(
            "{} {:?} {} in {} {}: {}",
            step.on,
            step.action,
            step.batch,
            step.bay,
            step.to_bay.as_deref().unwrap_or(""),
            step.reason
        );
    }
    for conflict in &plan.conflicts {
        println!("{} {:?}: {}", conflict.on, conflict.kind, conflict.text);
        conflict.remedies.iter().for_each(|remedy| println!("    {}", remedy.text));
    }
    println!("{:?}", plan.optimum);
    assert!(faults(&season, &plan).is_empty(), "{:#?}", faults(&season, &plan));
    assert_eq!(plan.demands.len(), 4);
    for demand in plan.demands.iter().filter(|demand| demand.short_m3 > 0.05) {
        let told = plan.conflicts.iter().find(|conflict| {
            conflict.kind == ConflictKind::Shortfall && conflict.demand.as_ref() == Some(&demand.demand)
        });
        let told = told.unwrap_or_else(|| panic!("{demand:?} in {:?}", plan.conflicts));
        assert!(told.text.contains("m³ (") && told.text.contains("barrow loads"), "{}", told.text);
        assert!((told.barrows.unwrap() * 0.085 - told.volume_m3.unwrap()).abs() < 1e-9, "{told:?}");
        assert!(!told.remedies.is_empty(), "{told:?}");
    }
    assert!(plan.steps.iter().all(|step| !step.reason.is_empty()), "every step has its reason");
    assert!(!plan.cautions.is_empty());
}
