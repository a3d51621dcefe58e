//! Plans of seasons, held against what practice and the ground allow by a checker that knows nothing of the search.

mod checker;
mod farms;
mod larkfield;
mod mix;
mod season;
mod steady;

use baycast_model::plan::plan;
use jiff::civil::date;

/// Farms planned; `BAYCAST_FARMS` sets another number.
fn count() -> u64 {
    std::env::var("BAYCAST_FARMS").map_or(24, |count| count.parse().expect("a number of farms"))
}

#[test]
fn plans_of_generated_farms_can_be_carried_out() {
    let (mut gaps, mut short) = (Vec::new(), 0);
    for seed in 0..count() {
        let season = farms::season(seed);
        let plan = plan(&season, date(2026, 1, 1)).expect("a plan");
        let faults = checker::faults(&season, &plan);
        assert!(faults.is_empty(), "farm {seed}: {faults:#?}\n{:#?}", plan.steps);
        assert!(plan.optimum.value_m3 <= plan.optimum.bound_m3 + 1e-6, "farm {seed}: {:?}", plan.optimum);
        gaps.push(plan.optimum.gap_fraction);
        short += usize::from(plan.demands.iter().any(|demand| demand.short_m3 > 0.05 * demand.needed_m3));
    }
    gaps.sort_by(f64::total_cmp);
    let within = gaps.iter().filter(|gap| **gap <= 0.02).count();
    println!(
        "{} farms, {short} short of something; gap to the bound: middle {:.3}, largest {:.3}, within 2 %: {within}",
        gaps.len(),
        gaps[gaps.len() / 2],
        gaps[gaps.len() - 1]
    );
    assert!(short > 0 && short < gaps.len(), "farms that have enough and farms that have not: {short}");
}

#[test]
fn a_season_that_cannot_be_planned_is_told_field_by_field() {
    let mut season = farms::season(1);
    season.weeks = Some(200);
    season.bays[0].height_m = 9.0;
    season.demands[0].by = date(2020, 1, 1);
    season.inflows[0].feedstock = "moon dust".into();
    season.inflows[1].barrows_week = Some(1.0);
    let error = plan(&season, date(2026, 1, 1)).expect_err("a season that cannot be planned").to_string();
    for named in [
        "/weeks: 200",
        "/bays/0/height_m: 9",
        "/demands/0/by",
        "/inflows/0/feedstock",
        "/inflows/1: 2 amounts",
    ] {
        assert!(error.contains(named), "{named} in {error}");
    }
}

#[test]
fn without_anything_coming_in_nothing_is_filled_and_all_is_short() {
    let mut season = farms::season(2);
    season.inflows.clear();
    season.batches.clear();
    let plan = plan(&season, date(2026, 1, 1)).expect("a plan");
    assert!(plan.steps.is_empty() && plan.batches.is_empty(), "{:?}", plan.steps);
    for demand in &plan.demands {
        assert!((demand.short_m3 - demand.needed_m3).abs() < 1e-9, "{demand:?}");
        assert!((demand.short_barrows * 0.085 - demand.needed_m3).abs() < 1e-9, "{demand:?}");
    }
    assert_eq!(plan.conflicts.len(), plan.demands.len(), "{:?}", plan.conflicts);
}
