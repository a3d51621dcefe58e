//! Whether a plan can be carried out, step by step as a grower would, from the season and the plan alone.

use std::collections::HashMap;

use baycast_model::plan::answer::{Action, Plan, Step};
use baycast_model::plan::season::Season;
use jiff::civil::Date;

/// What stands in a bay.
#[derive(Clone, Debug, Default)]
struct Heap {
    batches: Vec<String>,
    volume_m3: f64,
}

/// All that is wrong with a plan.
pub fn faults(season: &Season, plan: &Plan) -> Vec<String> {
    let mut faults = Vec::new();
    let capacity: HashMap<&str, f64> =
        season.bays.iter().map(|bay| (bay.id.as_str(), bay.capacity_m3())).collect();
    let mut bays: HashMap<String, Heap> = HashMap::new();
    for own in &season.batches {
        let heap = Heap { batches: vec![own.history.batch.clone()], ..Heap::default() };
        bays.insert(own.bay().to_owned(), heap);
    }
    let (mut filling, mut closed): (Option<String>, HashMap<String, Date>) = (None, HashMap::new());
    let (mut turned, mut forked): (Vec<String>, HashMap<Date, u32>) = (Vec::new(), HashMap::new());
    let rest_days = i64::from(season.rest_weeks.unwrap_or(4)) * 7;
    let mut last: Option<Date> = None;
    let stands = |bays: &HashMap<String, Heap>, step: &Step| {
        bays.get(&step.bay).is_some_and(|heap| heap.batches.contains(&step.batch))
    };
    for step in &plan.steps {
        let mut fault = |text: &str| faults.push(format!("{text}: {step:?}"));
        if last.is_some_and(|last| step.on < last) || step.on < plan.from || step.on >= plan.until {
            fault("out of order or of the season");
        }
        last = Some(step.on);
        if !matches!(step.action, Action::Fill) && !stands(&bays, step) {
            fault("the batch is not in that bay");
        }
        match step.action {
            Action::Fill => {
                if filling.is_some() {
                    fault("another bay is being filled");
                }
                let standing =
                    season.batches.iter().any(|own| own.filling && own.history.batch == step.batch);
                if !standing && bays.get(&step.bay).is_some_and(|heap| !heap.batches.is_empty()) {
                    fault("the bay is not empty");
                }
                bays.insert(step.bay.clone(), Heap { batches: vec![step.batch.clone()], ..Heap::default() });
                filling = Some(step.batch.clone());
            }
            Action::Close => {
                if filling.as_ref() != Some(&step.batch) {
                    fault("it was not being filled");
                }
                filling = None;
                closed.insert(step.batch.clone(), step.on);
            }
            Action::Turn => {
                let volume_m3 = step.volume_m3.unwrap_or(f64::NAN);
                let to = step.to_bay.clone().unwrap_or_default();
                if turned.contains(&step.batch) {
                    fault("turned twice");
                }
                if filling.as_ref() == Some(&step.batch) {
                    fault("turned while it is filled");
                }
                if let Some(closed) = closed.get(&step.batch)
                    && i64::from((step.on - *closed).get_days()) < rest_days
                    && (step.on - *closed).get_months() == 0
                {
                    fault("turned before it rested");
                }
                *forked.entry(step.on).or_default() += 1;
                turned.push(step.batch.clone());
                if let Some(heap) = bays.get_mut(&step.bay) {
                    heap.batches.retain(|batch| *batch != step.batch);
                }
                let heap = bays.entry(to.clone()).or_default();
                if heap.batches.iter().any(|other| Some(other) != step.with_batch.as_ref()) || to == step.bay
                {
                    fault("the bay turned into is not free");
                }
                if heap.batches.len() > 1 {
                    fault("more than two in one bay");
                }
                heap.batches.push(step.batch.clone());
                heap.volume_m3 += volume_m3;
                if heap.volume_m3.is_nan() || heap.volume_m3 > capacity[to.as_str()] * 1.0001 {
                    fault("it does not fit");
                }
            }
            Action::Empty => {
                if let Some(heap) = bays.get_mut(&step.bay) {
                    heap.batches.retain(|batch| *batch != step.batch);
                    heap.volume_m3 = 0.0;
                }
                if filling.as_ref() == Some(&step.batch) {
                    fault("emptied while it is filled");
                }
            }
            Action::Spread | Action::Cure | Action::Cover => {}
        }
    }
    let most = season.turns_per_week.unwrap_or(2);
    faults.extend(
        forked.iter().filter(|(_, count)| **count > most).map(|(on, _)| format!("too much forking on {on}")),
    );
    amounts(season, plan, &mut faults);
    faults
}

/// Whether demands add up, and no batch gives more than it has.
fn amounts(season: &Season, plan: &Plan, faults: &mut Vec<String>) {
    for demand in &plan.demands {
        let own = season.demands.iter().find(|own| own.id == demand.demand).expect("a demand of the season");
        let given: f64 = demand.taken_from.iter().map(|draw| draw.volume_m3.p50).sum();
        let needed = own.volume_m3.unwrap_or_else(|| own.area_m2.unwrap() * own.depth_m.unwrap());
        if (given + demand.short_m3 - needed).abs() > 1e-6 && given < needed {
            faults.push(format!("what is given and what is missing make no whole: {demand:?}"));
        }
        let ordered = demand.expected_m3.p10 <= demand.expected_m3.p50
            && demand.expected_m3.p50 <= demand.expected_m3.p90;
        if !ordered {
            faults.push(format!("no range: {demand:?}"));
        }
    }
    for step in &plan.steps {
        let Some(demand) = &step.demand else { continue };
        let own = season.demands.iter().find(|own| own.id == *demand);
        if own.is_none_or(|own| step.on > own.by) {
            faults.push(format!("too late for its demand, or for none: {step:?}"));
        }
    }
    for batch in &plan.batches {
        let steps = plan.steps.iter().filter(|step| step.batch == batch.batch);
        let taken: f64 =
            steps.clone().filter(|step| step.demand.is_some()).filter_map(|step| step.volume_m3).sum();
        let had = steps
            .filter(|step| matches!(step.action, Action::Turn | Action::Close))
            .filter_map(|step| step.volume_m3);
        let had = had.fold(f64::INFINITY, f64::min);
        // A heap loosened by its turn may stand a little higher than when it was forked.
        if taken > 1.1 * had {
            faults.push(format!("{} gives {taken} of {had} m³", batch.batch));
        }
    }
}
