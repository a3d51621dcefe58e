//! From a history to its estimate: the one entry point of the model.

use jiff::civil::Date;

use crate::advice::{State, advise, worth_turning};
use crate::ensemble::{self, Member};
use crate::estimate::{
    Balance, Estimate, ForecastPoint, HeapNow, Maturity, Provenance, Spread, Stage, ThermalTime,
};
use crate::history::{History, Zone};
use crate::kinetics::{air_space_factor, moisture_factor};
use crate::maturity::{
    RESPIRATION_SCHEME, RespirationClass, SelfHeatingClass, respiration_mg_co2c_g_vs_day, self_heating_rise_c,
};
use crate::moisture::moisture_fraction;
use crate::moment::days_to_date;
use crate::parameters::Parameters;
use crate::probe::{SuspectReading, suspects};
use crate::problem::Problems;
use crate::rosenbrock::Failure;
use crate::sanitisation::{Evidence, findings};
use crate::seeds::{SPECIES, SeedSurvival};
use crate::simulation::{Change, Dated, Snapshot, Totals};
use crate::thermal_time::{BASE_C, CAP_C, degree_days};
use crate::timeline::{Seen, Timeline};
use crate::weighted::spread;
use crate::window::{Criteria, Use, Window, daily_views};

/// Why no estimate could be made.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum EstimateError {
    /// The history holds values that cannot be used.
    #[error(transparent)]
    Invalid(#[from] Problems),
    /// The balance could not be integrated: a fault of the model, not of the history.
    #[error("the balance could not be integrated: {0}")]
    Integration(#[from] Failure),
}

/// What every reader should bear in mind.
const CAUTIONS: [&str; 5] = [
    "Estimates are no measurement: before relying on heat against pathogens or weeds, measure, and follow local rules \
     and licensed practice. A forecast is never evidence that a sanitisation rule was met.",
    "A hot core scalds and steams when opened; heaps over 80 °C can catch fire. Do not climb on or tunnel into a heap.",
    "Turning throws up spores and dust, which can carry moulds and Legionella: damp the heap down, stand upwind, wear a \
     mask and gloves, wash hands.",
    "Manure and food waste can carry pathogens: keep unproven compost off crops eaten raw.",
    "No compost is free of weed seeds, and ready does not mean free of herbicide: test manure, hay, straw and mowings of \
     unknown origin with beans or peas before spreading.",
];

/// Days after an addition during which a bay counts as being filled.
const FILLING_DAYS: f64 = 10.0;
/// Core temperature from which a heap counts as hot, °C.
const HOT_C: f64 = 40.0;
/// Withdrawals beyond this multiple of what should be there are refused: no model error explains them.
const WITHDRAWAL_LIMIT: f64 = 2.0;

/// Estimates a batch as of its `as_of`, or of `today` where it gives none.
///
/// Deterministic: the same history, `today` and model version give the same answer. Cost grows with the number of
/// changes and with the length of the time covered, not with the number of readings beyond reading them.
pub fn estimate(history: &History, today: Date) -> Result<Estimate, EstimateError> {
    let mut timeline = Timeline::new(history, today)?;
    let parameters = Parameters::default();
    let suspect = suspects(&timeline.readings, &timeline.plan);
    let counting: Vec<&Seen> = timeline
        .readings
        .iter()
        .enumerate()
        .filter(|(index, _)| !suspect.iter().any(|(other, _)| other == index))
        .map(|(_, seen)| seen)
        .collect();
    let members = ensemble::run(&timeline, &parameters, &counting)?;
    let assumed = shortfalls(&timeline, &members[0])?;

    let criteria = Use::ALL.map(|for_use| {
        let own = history.criteria.iter().find(|criteria| criteria.for_use == for_use);
        own.copied().unwrap_or_else(|| for_use.default_criteria())
    });
    let windows = windows(&timeline, &members, &criteria);
    let middle = ensemble::middle(&members, timeline.as_of);
    let now = middle.course.with_seeds(timeline.as_of);
    let stage = stage(&timeline, now.as_ref(), &windows, criteria[1].min_maturity_index);
    let air_c = timeline.plan.weather.at(timeline.as_of).0;

    let totals = middle.course.totals_until(timeline.as_of);
    let evidence = Evidence {
        readings: counting.clone(),
        complete_from: last_filled(&timeline, timeline.as_of),
        as_of: timeline.as_of,
        turns: turns(&timeline).collect(),
        mix_c_to_n: totals.carbon_in_kg / totals.nitrogen_in_kg,
        moistures: history
            .events
            .iter()
            .filter_map(|event| Some((event.at.days(), event.moisture?.percent? / 100.0)))
            .collect(),
    };
    let (degree_days_c, measured_fraction) =
        degree_days(&middle.course, &counting, timeline.start, timeline.as_of);
    let at_now = |of: &dyn Fn(&Snapshot) -> f64| over(&members, timeline.as_of, of);

    let advice = now.as_ref().map_or_else(Vec::new, |snapshot| {
        let resting_days = timeline.as_of - last_filled(&timeline, timeline.as_of);
        let finished_index = criteria[1].min_maturity_index;
        let turned = worth_turning(&snapshot.heap, resting_days, finished_index)
            .then(|| turned_today(&timeline, &members, &criteria))
            .flatten();
        let bay = &timeline.plan.bays[snapshot.bay];
        advise(&State {
            snapshot,
            top: bay.top,
            covered: covered(&timeline),
            stage,
            month: days_to_date(timeline.as_of).month(),
            north: history.site.latitude_deg >= 0.0,
            air_c,
            last_core: counting
                .iter()
                .rev()
                .find(|seen| seen.zone == Zone::Core)
                .map(|seen| (timeline.as_of - seen.day, seen.temperature_c)),
            turns: turns(&timeline).count(),
            resting_days,
            windows: &windows,
            if_turned: turned.as_deref(),
            finished_index,
        })
    });

    let maturity =
        maturity(now.as_ref(), &middle.parameters, at_now(&|snapshot| snapshot.heap.degraded_fraction()));
    let estimate = Estimate {
        batch: history.batch.clone(),
        model_version: crate::VERSION.into(),
        as_of: days_to_date(timeline.as_of),
        bay: timeline.plan.bays[bay_now(&timeline)].id.clone(),
        stage,
        now: heap_now(&timeline, now.as_ref(), &members, air_c),
        balance: balance(&totals),
        thermal_time: ThermalTime {
            base_c: BASE_C,
            cap_c: CAP_C,
            degree_days_c,
            measured_fraction,
            effective_days: at_now(&|snapshot| snapshot.effective_days),
        },
        maturity,
        windows,
        sanitisation: findings(&evidence),
        seeds: seeds(&members, middle, timeline.as_of),
        forecast: forecast(&timeline, &members),
        advice,
        suspect_readings: suspect
            .into_iter()
            .map(|(index, reason)| {
                let seen = &timeline.readings[index];
                SuspectReading {
                    pointer: seen.pointer.clone(),
                    at: seen.at,
                    temperature_c: seen.temperature_c,
                    reason,
                }
            })
            .collect(),
        assumptions: {
            timeline.assumptions.extend(assumed);
            std::mem::take(&mut timeline.assumptions)
        },
        provenance: provenance(&timeline, middle),
        cautions: CAUTIONS.map(String::from).to_vec(),
    };
    Ok(estimate)
}

/// A quantity over the members that have a heap at `day`.
fn over(members: &[Member], day: f64, of: &dyn Fn(&Snapshot) -> f64) -> Spread {
    let values: Vec<(f64, f64)> =
        members.iter().filter_map(|member| Some((of(&member.course.at(day)?), member.weight))).collect();
    if values.is_empty() { Spread { p10: 0.0, p50: 0.0, p90: 0.0 } } else { spread(&values) }
}

/// Withdrawals and fillings that found another heap than the model's: assumptions, or problems where absurd.
fn shortfalls(timeline: &Timeline, member: &Member) -> Result<Vec<crate::estimate::Assumption>, Problems> {
    let mut assumed = Vec::new();
    let mut problems = Problems::default();
    for shortfall in &member.course.shortfalls {
        let pointer = &timeline.pointers[shortfall.change];
        let there = shortfall.available_m3;
        match timeline.plan.changes[shortfall.change].change {
            Change::Withdraw(Some(volume)) if volume > WITHDRAWAL_LIMIT * there => {
                problems.add(
                    format!("{pointer}/withdrawal/volume_m3"),
                    volume,
                    format!("0 to {:.2}: the bay should hold about {there:.2} m³", WITHDRAWAL_LIMIT * there),
                );
            }
            Change::Withdraw(_) => assumed.push(crate::estimate::Assumption {
                pointer: format!("{pointer}/withdrawal/volume_m3"),
                assumed: format!("emptied: about {there:.2} m³ was expected there"),
            }),
            _ => assumed.push(crate::estimate::Assumption {
                pointer: format!("{pointer}/addition/filled_to_fraction"),
                assumed: format!("nothing added: the bay already held about {there:.2} m³"),
            }),
        }
    }
    problems.into_result()?;
    Ok(assumed)
}

/// Day of the last addition or merge up to `day`.
fn last_filled(timeline: &Timeline, day: f64) -> f64 {
    let fills = timeline.plan.changes.iter().filter(|dated| {
        dated.day <= day
            && matches!(dated.change, Change::Add(_) | Change::FillTo { .. } | Change::Merge { .. })
    });
    fills.map(|dated| dated.day).fold(timeline.start, f64::max)
}

fn turns(timeline: &Timeline) -> impl Iterator<Item = f64> {
    let turning = |change: &Change| {
        matches!(change, Change::Turn | Change::MoveTo(_) | Change::Merge { mixed: true, .. })
    };
    timeline.plan.changes.iter().filter(move |dated| turning(&dated.change)).map(|dated| dated.day)
}

fn bay_now(timeline: &Timeline) -> usize {
    let moves = timeline.plan.changes.iter().take_while(|dated| dated.day <= timeline.as_of);
    moves.fold(0, |bay, dated| if let Change::MoveTo(to) = dated.change { to } else { bay })
}

fn covered(timeline: &Timeline) -> bool {
    let known = timeline.plan.changes.iter().take_while(|dated| dated.day <= timeline.as_of);
    known.fold(false, |covered, dated| match dated.change {
        Change::Cover(on) => on,
        Change::MoveTo(_) => false,
        _ => covered,
    })
}

/// Windows for every use; views start once all material, planned additions included, is in.
fn windows(timeline: &Timeline, members: &[Member], criteria: &[Criteria; 3]) -> Vec<Window> {
    let from = last_filled(timeline, timeline.until);
    let views: Vec<_> = members
        .iter()
        .map(|member| {
            daily_views(&member.course, &member.parameters, &timeline.plan.weather, from, timeline.until)
        })
        .collect();
    criteria
        .iter()
        .map(|criteria| {
            let openings: Vec<_> = views
                .iter()
                .zip(members)
                .map(|(views, member)| (criteria.opening(views), member.weight))
                .collect();
            Window::of(*criteria, &openings, timeline.as_of)
        })
        .collect()
}

/// Windows of the same members if the heap were turned on the day of the estimate.
fn turned_today(timeline: &Timeline, members: &[Member], criteria: &[Criteria; 3]) -> Option<Vec<Window>> {
    let mut turned = timeline.clone();
    let place = turned.plan.changes.partition_point(|dated| dated.day <= timeline.as_of);
    turned.plan.changes.insert(place, Dated { day: timeline.as_of, change: Change::Turn });
    let parameters = Parameters::default();
    let mut futures = ensemble::run(&turned, &parameters, &[]).ok()?;
    for (future, member) in futures.iter_mut().zip(members) {
        future.weight = member.weight;
    }
    Some(windows(&turned, &futures, criteria))
}

fn stage(timeline: &Timeline, now: Option<&Snapshot>, windows: &[Window], finished_index: f64) -> Stage {
    let Some(snapshot) = now else { return Stage::Emptied };
    let heap = &snapshot.heap;
    let limits = moisture_factor(heap.moisture_fraction()) * air_space_factor(heap.free_air_space());
    if timeline.as_of - last_filled(timeline, timeline.as_of) < FILLING_DAYS {
        Stage::Filling
    } else if windows.iter().any(|window| window.open_now_probability >= 0.5) {
        Stage::Ready
    } else if heap.core.temperature_c > HOT_C {
        Stage::Hot
    } else if limits < 0.4 && heap.degraded_fraction() < finished_index {
        Stage::Stalled
    } else {
        Stage::Curing
    }
}

fn heap_now(timeline: &Timeline, now: Option<&Snapshot>, members: &[Member], air_c: f64) -> HeapNow {
    let at = |of: &dyn Fn(&Snapshot) -> f64| over(members, timeline.as_of, of);
    let heap = now.map(|snapshot| snapshot.heap);
    let value = |of: &dyn Fn(&crate::heap::Heap) -> f64| heap.as_ref().map_or(0.0, of);
    let capacity = timeline.plan.bays[bay_now(timeline)].capacity_m3();
    HeapNow {
        core_c: at(&|s| s.heap.core.temperature_c),
        edge_c: at(&|s| s.heap.edge.temperature_c),
        air_c,
        volume_m3: at(&|s| s.heap.volume_m3()),
        fill_fraction: value(&|heap| heap.volume_m3()) / capacity,
        mass_kg: value(&|heap| heap.mass_kg()),
        dry_mass_kg: value(&|heap| heap.dry_kg()),
        moisture_fraction: at(&|s| s.heap.moisture_fraction()),
        free_air_space_fraction: value(&|heap| heap.free_air_space()),
        c_to_n: value(&|heap| heap.c_to_n()),
        nitrogen_kg: value(&|heap| heap.nitrogen_kg),
    }
}

fn balance(totals: &Totals) -> Balance {
    Balance {
        dry_in_kg: totals.dry_in_kg,
        dry_degraded_kg: totals.dry_degraded_kg,
        dry_withdrawn_kg: totals.dry_withdrawn_kg,
        water_in_kg: totals.water_in_kg,
        rain_kg: totals.rain_kg,
        metabolic_water_kg: totals.metabolic_water_kg,
        evaporated_kg: totals.evaporated_kg,
        drained_kg: totals.drained_kg,
        water_withdrawn_kg: totals.water_withdrawn_kg,
        water_corrected_kg: totals.water_corrected_kg,
        mix_c_to_n: totals.carbon_in_kg / totals.nitrogen_in_kg,
        mix_moisture_fraction: moisture_fraction(totals.material_water_kg, totals.dry_in_kg),
        volume_in_m3: totals.volume_in_m3,
    }
}

fn maturity(now: Option<&Snapshot>, p: &Parameters, index: Spread) -> Maturity {
    let (respiration, rise) = now
        .map_or((0.0, 0.0), |s| (respiration_mg_co2c_g_vs_day(&s.heap, p), self_heating_rise_c(&s.heap, p)));
    Maturity {
        index,
        respiration_mg_co2c_g_vs_day: respiration,
        respiration_class: RespirationClass::of(respiration),
        respiration_scheme: RESPIRATION_SCHEME.into(),
        self_heating_rise_c: rise,
        self_heating_class: SelfHeatingClass::of(rise),
    }
}

fn seeds(members: &[Member], middle: &Member, as_of: f64) -> Vec<SeedSurvival> {
    let Some(centre) = middle.course.with_seeds(as_of) else { return Vec::new() };
    let ends: Vec<(Snapshot, &Member)> =
        members.iter().filter_map(|member| Some((member.course.with_seeds(as_of)?, member))).collect();
    SPECIES
        .iter()
        .enumerate()
        .map(|(index, species)| {
            let values: Vec<(f64, f64)> = ends
                .iter()
                .map(|(snapshot, member)| {
                    let mut lot = snapshot.heap.core.seeds;
                    lot.mix(&snapshot.heap.edge.seeds);
                    (lot.survival(index).powf(member.seed_log_factor.exp()), member.weight)
                })
                .collect();
            let whole = spread(&values);
            SeedSurvival {
                species: species.id.into(),
                name: species.name.into(),
                tolerance: species.tolerance,
                core_fraction: centre.heap.core.seeds.survival(index),
                edge_fraction: centre.heap.edge.seeds.survival(index),
                p10_fraction: whole.p10,
                p50_fraction: whole.p50,
                p90_fraction: whole.p90,
                source: species.source.into(),
            }
        })
        .collect()
}

/// Points at the end of every `step_days`-th day, the day of the estimate among them.
fn forecast(timeline: &Timeline, members: &[Member]) -> Vec<ForecastPoint> {
    let step = f64::from(timeline.step_days);
    let back = ((timeline.as_of - timeline.start) / step).floor().max(0.0);
    let mut day = timeline.as_of - back * step;
    let mut points = Vec::new();
    while day <= timeline.until + 1e-9 {
        let at = |of: &dyn Fn(&Snapshot) -> f64| over(members, day, of);
        if members.iter().any(|member| member.course.at(day).is_some()) {
            points.push(ForecastPoint {
                date: days_to_date(day),
                core_c: at(&|s| s.heap.core.temperature_c),
                edge_c: at(&|s| s.heap.edge.temperature_c),
                volume_m3: at(&|s| s.heap.volume_m3()),
                moisture_fraction: at(&|s| s.heap.moisture_fraction()),
                maturity_index: at(&|s| s.heap.degraded_fraction()),
            });
        }
        day += step;
    }
    points
}

/// Dry matter by the batch it came from: this one's own additions and each merged batch as it arrived.
fn provenance(timeline: &Timeline, middle: &Member) -> Vec<Provenance> {
    let all = middle.course.totals_until(timeline.as_of).dry_in_kg;
    let brought: Vec<_> = middle.course.merged.iter().filter(|merged| merged.day <= timeline.as_of).collect();
    let own = all - brought.iter().map(|merged| merged.dry_kg).sum::<f64>();
    let mut shares = vec![(&timeline.plan.batch, own)];
    shares.extend(brought.iter().map(|merged| (&timeline.plan.sources[merged.source].batch, merged.dry_kg)));
    shares
        .into_iter()
        .filter(|(_, dry_kg)| *dry_kg > 1e-9 * all)
        .map(|(batch, dry_in_kg)| Provenance { batch: batch.clone(), dry_in_kg, share: dry_in_kg / all })
        .collect()
}
