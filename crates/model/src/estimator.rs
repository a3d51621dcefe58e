//! From a history to its estimate: the one entry point of the model.

use jiff::civil::Date;

use crate::advice::{Advice, Gains, State, advise, worth_turning};
use crate::agenda::Change;
use crate::checkpoint::Checkpoint;
use crate::course::{Course, Snapshot, Totals};
use crate::day::Day;
use crate::draw::{Sought, quasi_normal};
use crate::ensemble::{self, Member};
use crate::estimate::{
    Assumption, Estimate, ForecastPoint, HeapNow, Maturity, Provenance, Spread, Stage, ThermalTime,
};
use crate::futures::{Future, Step, compare};
use crate::history::{History, Zone};
use crate::kinetics::{air_space_factor, moisture_factor};
use crate::learning::{DOUBTED_WEIGHT, Learning};
use crate::lesson::Lesson;
use crate::maturity::{
    RESPIRATION_SCHEME, RespirationClass, SelfHeatingClass, respiration_mg_co2c_g_vs_day, self_heating_rise_c,
};
use crate::moment::days_to_date;
use crate::observation::Observations;
use crate::prior::Prior;
use crate::probe::{SuspectReading, Suspicion, fahrenheit_to_celsius, suspects, wholly_odd};
use crate::problem::Problems;
use crate::rosenbrock::Failure;
use crate::sanitisation::{Evidence, findings};
use crate::seeds::{SPECIES, SeedSurvival};
use crate::thermal_time::{BASE_C, CAP_C, degree_days};
use crate::timeline::{Seen, Timeline};
use crate::variant::Variant;
use crate::weighted::spread;
use crate::window::{Criteria, Opening, Use, Window, daily_views};

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
pub const CAUTIONS: [&str; 5] = [
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
/// Moisture and air together under which a cool, unfinished heap counts as stalled.
const STALLED_LIMITS: f64 = 0.4;
/// Withdrawals beyond this multiple of what should be there are refused: no model error explains them.
const WITHDRAWAL_LIMIT: f64 = 2.0;

/// Estimates a batch as of its `as_of`, or of `today` where it gives none.
///
/// Deterministic: the same history, `today` and model version give the same answer. Cost grows with the number of
/// changes and with the length of the time covered, not with the number of readings beyond reading them.
pub fn estimate(history: &History, today: Date) -> Result<Estimate, EstimateError> {
    estimate_from(history, today, None).map(|(estimate, _)| estimate)
}

/// The same estimate, with what the next one of this batch can use again.
///
/// `kept` is what an earlier estimate handed back, best of the same batch; it saves work and changes nothing: any
/// checkpoint gives the answer, to the last digit, that none gives.
pub fn estimate_from(
    history: &History,
    today: Date,
    kept: Option<&Checkpoint>,
) -> Result<(Estimate, Checkpoint), EstimateError> {
    let Case { timeline, suspect, prior, observations } = Case::new(history, today)?;
    let counting = counting(&timeline, &suspect);
    let (members, basis) = ensemble::run(&timeline, &prior, &observations, kept)?;
    let mut assumptions = timeline.assumptions.clone();
    assumptions.extend(history.lesson.as_ref().map(Lesson::assumption));
    assumptions.extend(shortfalls(&timeline, &members[0])?);

    let middle = ensemble::middle(&members, timeline.as_of, observations.count() > 0);
    let batch = Batch {
        history,
        timeline: &timeline,
        counting: &counting,
        observations: &observations,
        members: &members,
        criteria: Use::ALL.map(|for_use| {
            let own = history.criteria.iter().find(|criteria| criteria.for_use == for_use);
            own.copied().unwrap_or_else(|| for_use.default_criteria())
        }),
        middle,
        now: middle.course.with_seeds(timeline.as_of),
        totals: middle.course.totals_until(timeline.as_of),
        today: Day::new(&members, timeline.as_of),
    };
    let openings = openings(&timeline, &members, &batch.criteria);
    let windows = windows(&timeline, &members, &batch.criteria, &openings, &history.ready_by);
    let stage = batch.stage(&windows);
    let suspect_readings = batch.suspect_readings(suspect);
    let learned = Learning {
        timeline: &timeline,
        basis: &basis,
        members: &members,
        observations: observations.count(),
        readings: timeline.readings.len(),
        doubted: suspect_readings.len(),
        earlier: history.lesson.as_ref().map_or(0, |lesson| lesson.batches.len()),
        openings: &openings[1].iter().map(|opening| opening.day).collect::<Vec<_>>(),
    }
    .learned();
    let estimate = Estimate {
        batch: history.batch.clone(),
        model_version: crate::VERSION.into(),
        as_of: days_to_date(timeline.as_of),
        bay: timeline.agenda.bays[timeline.agenda.bay_at(timeline.as_of)].id.clone(),
        stage,
        now: batch.heap_now(),
        balance: batch.totals.balance(),
        thermal_time: batch.thermal_time(),
        maturity: batch.maturity(),
        sanitisation: findings(&batch.evidence(&suspect_readings)),
        seeds: batch.seeds(),
        forecast: batch.forecast(),
        advice: batch.advice(stage, &windows),
        learned,
        futures: if history.compare_futures { batch.futures()? } else { Vec::new() },
        suspect_readings,
        assumptions,
        provenance: batch.provenance(),
        cautions: CAUTIONS.map(String::from).to_vec(),
        windows,
    };
    let courses = members.into_iter().map(|member| (member.draw, member.course)).collect();
    Ok((estimate, Checkpoint::new(timeline, basis, courses)))
}

/// A history understood: what happened, what was seen, and what is believed before that.
struct Case {
    timeline: Timeline,
    /// Readings set aside, by place, and why.
    suspect: Vec<(usize, Suspicion)>,
    prior: Prior,
    observations: Observations,
}

impl Case {
    fn new(history: &History, today: Date) -> Result<Self, EstimateError> {
        let timeline = Timeline::new(history, today)?;
        let mut suspect = suspects(&timeline.readings, &timeline.agenda);
        let prior = history.lesson.as_ref().map_or_else(Prior::default, Lesson::prior);
        if let Some(reason) = wholesale(&timeline, &counting(&timeline, &suspect), &prior)? {
            suspect = (0..timeline.readings.len()).map(|index| (index, reason)).collect();
        }
        let observations =
            Observations::new(&counting(&timeline, &suspect), &timeline.agenda, &timeline.sightings);
        Ok(Self { timeline, suspect, prior, observations })
    }
}

/// How much likelier, as a logarithm, another explanation of all readings must be than that they are right.
const CONVINCING: f64 = 10.0;
/// Heaps looked at for how likely readings are.
const LOOKED_AT: usize = 8;

/// Why all readings are set aside, if what heaps make likely speaks against them as a whole.
fn wholesale(timeline: &Timeline, readings: &[&Seen], prior: &Prior) -> Result<Option<Suspicion>, Failure> {
    let weather = &timeline.agenda.weather;
    let Some(odd) = wholly_odd(readings, weather) else { return Ok(None) };
    let given = Observations::new(readings, &timeline.agenda, &[]);
    let Some(until) = given.last_day() else { return Ok(None) };
    let meant: Vec<Seen> = readings
        .iter()
        .map(|seen| Seen { temperature_c: fahrenheit_to_celsius(seen.temperature_c), ..(*seen).clone() })
        .collect();
    let meant = Observations::new(&meant.iter().collect::<Vec<_>>(), &timeline.agenda, &[]);
    let (mut right, mut in_fahrenheit) = (f64::NEG_INFINITY, f64::NEG_INFINITY);
    for index in 0..LOOKED_AT {
        let draw = prior.draw(&quasi_normal(index).into());
        let shown = given.shown(&Variant::sought(&draw, timeline).course(until, None)?);
        right = right.max(given.log_density(&shown));
        in_fahrenheit = in_fahrenheit.max(meant.log_density(&shown));
    }
    let otherwise =
        if odd == Suspicion::OutOfTheHeap { given.log_density(&given.air(weather)) } else { in_fahrenheit };
    Ok((otherwise > right + CONVINCING).then_some(odd))
}

/// Readings that are not set aside.
fn counting<'a>(timeline: &'a Timeline, suspect: &[(usize, Suspicion)]) -> Vec<&'a Seen> {
    let aside = |index: usize| suspect.binary_search_by_key(&index, |(suspect, _)| *suspect).is_ok();
    timeline.readings.iter().enumerate().filter(|(index, _)| !aside(*index)).map(|(_, seen)| seen).collect()
}

/// The heaps that are plausible given a history, each with its course.
pub(crate) struct Heaps {
    pub(crate) timeline: Timeline,
    pub(crate) members: Vec<Member>,
    /// The member that speaks for all, by index.
    pub(crate) middle: usize,
}

/// The heaps that a history leaves plausible, as of its `as_of` or of `today`.
pub(crate) fn heaps(history: &History, today: Date) -> Result<Heaps, EstimateError> {
    let Case { timeline, prior, observations, .. } = Case::new(history, today)?;
    let (members, _) = ensemble::run(&timeline, &prior, &observations, None)?;
    let middle = ensemble::middle(&members, timeline.as_of, observations.count() > 0);
    let middle = members.iter().position(|member| std::ptr::eq(member, middle)).unwrap_or(0);
    Ok(Heaps { timeline, members, middle })
}

/// How plausible heaps are by what was seen of a batch and what was believed before: the log density, but for a constant, of
/// a draw. It is what estimates are fitted to; a sampler of another make can be held against them.
pub fn log_density(
    history: &History,
    today: Date,
) -> Result<impl Fn(&Sought) -> Result<f64, Failure>, EstimateError> {
    let Case { timeline, prior, observations, .. } = Case::new(history, today)?;
    let until = observations.last_day().unwrap_or(timeline.start);
    Ok(move |draw: &Sought| {
        let shown = observations.shown(&Variant::sought(draw, &timeline).course(until, None)?);
        Ok(observations.log_density(&shown) + prior.log_density(draw))
    })
}

/// A batch with its futures, and what the answers draw on.
struct Batch<'a> {
    history: &'a History,
    timeline: &'a Timeline,
    counting: &'a [&'a Seen],
    observations: &'a Observations,
    members: &'a [Member],
    criteria: [Criteria; 3],
    middle: &'a Member,
    now: Option<Snapshot>,
    totals: Totals,
    /// The members on the day of the estimate.
    today: Day<'a>,
}

impl Batch<'_> {
    /// The bed-dressing index: under it a heap counts as unfinished.
    fn finished_index(&self) -> f64 {
        self.criteria[1].min_maturity_index
    }

    fn resting_days(&self) -> f64 {
        self.timeline.as_of - last_filled(self.timeline, self.timeline.as_of)
    }

    fn stage(&self, windows: &[Window]) -> Stage {
        let Some((snapshot, core_c)) = self.now.as_ref().zip(self.today.temperature(Zone::Core)) else {
            return Stage::Emptied;
        };
        let heap = &snapshot.heap;
        let limits = moisture_factor(heap.moisture_fraction()) * air_space_factor(heap.free_air_space());
        if self.resting_days() < FILLING_DAYS {
            Stage::Filling
        } else if core_c.p50 > HOT_C {
            Stage::Hot
        } else if windows.iter().any(|window| window.open_now_probability >= 0.5) {
            Stage::Ready
        } else if limits < STALLED_LIMITS && heap.degraded_fraction() < self.finished_index() {
            Stage::Stalled
        } else {
            Stage::Curing
        }
    }

    fn heap_now(&self) -> Option<HeapNow> {
        let Snapshot { heap, bay, .. } = self.now.as_ref()?;
        Some(HeapNow {
            core_c: self.today.temperature(Zone::Core)?,
            edge_c: self.today.temperature(Zone::Edge)?,
            air_c: self.timeline.agenda.weather.at(self.timeline.as_of).0,
            volume_m3: self.today.volume_m3()?,
            fill_fraction: heap.volume_m3() / self.timeline.agenda.bays[*bay].capacity_m3(),
            mass_kg: heap.mass_kg(),
            dry_mass_kg: heap.dry_kg(),
            moisture_fraction: self.today.spread(|s| s.heap.moisture_fraction())?,
            free_air_space_fraction: heap.free_air_space(),
            c_to_n: heap.c_to_n(),
            nitrogen_kg: heap.nitrogen_kg,
        })
    }

    fn thermal_time(&self) -> ThermalTime {
        let Timeline { start, as_of, .. } = self.timeline;
        let found = degree_days(&self.middle.course, self.counting, *start, *as_of);
        ThermalTime {
            base_c: BASE_C,
            cap_c: CAP_C,
            degree_days_c: found.all_c,
            measured_fraction: found.covered_fraction,
            measured_degree_days_fraction: found.measured_fraction,
            effective_days: self.today.spread(|s| s.effective_days),
        }
    }

    fn maturity(&self) -> Option<Maturity> {
        let heap = &self.now.as_ref()?.heap;
        let p = &self.middle.variant.parameters;
        let respiration = respiration_mg_co2c_g_vs_day(heap, p);
        let rise = self_heating_rise_c(heap, p);
        Some(Maturity {
            index: self.today.maturity_index()?,
            respiration_mg_co2c_g_vs_day: respiration,
            respiration_class: RespirationClass::of(respiration),
            respiration_scheme: RESPIRATION_SCHEME.into(),
            self_heating_rise_c: rise,
            self_heating_class: SelfHeatingClass::of(rise),
        })
    }

    /// What counts as evidence: of readings those that are not taken to be of something else than the heap.
    fn evidence(&self, suspect: &[SuspectReading]) -> Evidence<'_> {
        let elsewhere =
            [Suspicion::LooksLikeFahrenheit, Suspicion::OutOfTheHeap, Suspicion::Spike, Suspicion::Stuck];
        let doubted = |seen: &Seen| {
            suspect.iter().any(|own| own.pointer == seen.pointer && elsewhere.contains(&own.reason))
        };
        Evidence {
            readings: self.counting.iter().copied().filter(|seen| !doubted(seen)).collect(),
            complete_from: last_filled(self.timeline, self.timeline.as_of),
            as_of: self.timeline.as_of,
            turns: turns(self.timeline).filter(|day| *day <= self.timeline.as_of).collect(),
            mix_c_to_n: self.totals.balance().mix_c_to_n,
            moistures: self
                .history
                .events
                .iter()
                .filter_map(|event| Some((event.at.days(), event.moisture?.percent? / 100.0)))
                .collect(),
        }
    }

    fn seeds(&self) -> Vec<SeedSurvival> {
        let Some(centre) = &self.now else { return Vec::new() };
        let as_of = self.timeline.as_of;
        let ends: Vec<(Snapshot, &Member)> = self
            .members
            .iter()
            .filter_map(|member| Some((member.course.with_seeds(as_of)?, member)))
            .collect();
        let whole = |index: usize| {
            let survival = |(snapshot, member): &(Snapshot, &Member)| {
                let mut lot = snapshot.heap.core.seeds;
                lot.mix(&snapshot.heap.edge.seeds);
                (lot.survival(index).powf(member.seed_log_factor.exp()), member.weight)
            };
            spread(&ends.iter().map(survival).collect::<Vec<_>>())
        };
        SPECIES
            .iter()
            .enumerate()
            .map(|(index, species)| {
                let Spread { p10, p50, p90 } = whole(index);
                SeedSurvival {
                    species: species.id.into(),
                    name: species.name.into(),
                    tolerance: species.tolerance,
                    core_fraction: centre.heap.core.seeds.survival(index),
                    edge_fraction: centre.heap.edge.seeds.survival(index),
                    p10_fraction: p10,
                    p50_fraction: p50,
                    p90_fraction: p90,
                    source: species.source.into(),
                }
            })
            .collect()
    }

    /// Points at the end of every `step_days`-th day, the day of the estimate among them.
    fn forecast(&self) -> Vec<ForecastPoint> {
        let Timeline { start, as_of, until, step_days, .. } = self.timeline;
        let step = f64::from(*step_days);
        let mut day = as_of - ((as_of - start) / step).floor().max(0.0) * step;
        let mut points = Vec::new();
        while day <= until + 1e-9 {
            points.extend(self.forecast_point(day));
            day += step;
        }
        points
    }

    /// The members on one day, `None` where the bay is empty in all of them.
    fn forecast_point(&self, day: f64) -> Option<ForecastPoint> {
        let members = Day::new(self.members, day);
        Some(ForecastPoint {
            date: days_to_date(day),
            core_c: members.temperature(Zone::Core)?,
            edge_c: members.temperature(Zone::Edge)?,
            volume_m3: members.volume_m3()?,
            moisture_fraction: members.spread(|s| s.heap.moisture_fraction())?,
            maturity_index: members.maturity_index()?,
        })
    }

    fn advice(&self, stage: Stage, windows: &[Window]) -> Vec<Advice> {
        let Some(snapshot) = &self.now else { return Vec::new() };
        let resting_days = self.resting_days();
        let asked = worth_turning(&snapshot.heap, resting_days, self.finished_index());
        let gained = |step: Step| asked.then(|| self.days_gained(step)).flatten();
        let last_core = self.counting.iter().rev().find(|seen| seen.zone == Zone::Core);
        advise(&State {
            heap: &snapshot.heap,
            top: self.timeline.agenda.bays[snapshot.bay].top,
            covered: covered(self.timeline),
            stage,
            today: days_to_date(self.timeline.as_of),
            north: self.history.site.latitude_deg >= 0.0,
            last_core: last_core.map(|seen| (self.timeline.as_of - seen.day, seen.temperature_c)),
            resting_days,
            windows,
            gains: Gains {
                turn_now: gained(Step::TurnNow),
                turn_later: gained(Step::TurnInTwoWeeks),
                add_wood: gained(Step::AddWood),
                cover: gained(Step::Cover),
            },
            finished_index: self.finished_index(),
        })
    }

    /// Days by which a step would bring the bed-dressing window of the middle member forward.
    fn days_gained(&self, step: Step) -> Option<f64> {
        let Timeline { as_of, until, .. } = *self.timeline;
        let bay = self.timeline.agenda.bay_at(as_of);
        if !step.possible(self.timeline.agenda.bays[bay].top, covered(self.timeline)) {
            return None;
        }
        let done = step.course(self.middle, self.timeline).ok()?;
        let opens = |course: &Course| {
            let views = daily_views(course, last_filled(self.timeline, until), until);
            self.criteria[1].opening(&views).day
        };
        let gained = opens(&self.middle.course) - opens(&done);
        gained.is_finite().then_some(gained)
    }

    /// What could be done and what would come of it.
    fn futures(&self) -> Result<Vec<Future>, Failure> {
        if self.now.is_none() {
            return Ok(Vec::new());
        }
        let top = self.timeline.agenda.bays[self.timeline.agenda.bay_at(self.timeline.as_of)].top;
        let steps = Step::ALL.into_iter().filter(|step| step.possible(top, covered(self.timeline)));
        let from = last_filled(self.timeline, self.timeline.until);
        compare(self.members, self.timeline, &self.criteria[1], from, steps)
    }

    /// Readings set aside, and those that the middle member makes so unlikely that they count for little.
    fn suspect_readings(&self, aside: Vec<(usize, Suspicion)>) -> Vec<SuspectReading> {
        let readings = &self.timeline.readings;
        let mut found: Vec<(usize, Suspicion, f64)> =
            aside.into_iter().map(|(index, reason)| (index, reason, 0.0)).collect();
        for (seen, innovation) in self.observations.innovations(&self.middle.judged, self.counting) {
            let weight = innovation.weight().min(1.0);
            if weight < DOUBTED_WEIGHT
                && let Some(index) = readings.iter().position(|own| std::ptr::eq(own, seen))
            {
                let zones =
                    [Zone::Core, Zone::Edge].map(|zone| self.middle.course.temperature_c(zone, seen.day));
                let air_c = seen.ambient_c.unwrap_or_else(|| self.timeline.agenda.weather.at(seen.day).0);
                found.push((index, Suspicion::of(seen, zones, air_c), weight));
            }
        }
        found.sort_by_key(|(index, ..)| *index);
        found.into_iter().map(|(index, reason, weight)| readings[index].suspected(reason, weight)).collect()
    }

    /// Dry matter by the batch it came from: this one's own additions and each merged batch as it arrived.
    fn provenance(&self) -> Vec<Provenance> {
        let all = self.totals.flows.dry_in_kg;
        let agenda = &self.timeline.agenda;
        let merged = &self.middle.course.merged;
        let brought: Vec<_> = merged.iter().filter(|merged| merged.day <= self.timeline.as_of).collect();
        let own = all - brought.iter().map(|merged| merged.dry_kg()).sum::<f64>();
        let mut shares = vec![(&agenda.batch, own)];
        shares.extend(brought.iter().map(|merged| (&agenda.sources[merged.source].batch, merged.dry_kg())));
        shares
            .into_iter()
            .filter(|(_, dry_kg)| *dry_kg > 1e-9 * all)
            .map(|(batch, dry_in_kg)| Provenance { batch: batch.clone(), dry_in_kg, share: dry_in_kg / all })
            .collect()
    }
}

/// Withdrawals and fillings that found another heap than the model's: assumptions, or problems where absurd.
fn shortfalls(timeline: &Timeline, member: &Member) -> Result<Vec<Assumption>, Problems> {
    let mut assumed = Vec::new();
    let mut problems = Problems::default();
    for shortfall in &member.course.shortfalls {
        let pointer = &timeline.pointers[shortfall.change];
        let there = shortfall.available_m3;
        match timeline.agenda.changes[shortfall.change].change {
            Change::Withdraw(Some(volume)) if volume > WITHDRAWAL_LIMIT * there => {
                problems.add(
                    format!("{pointer}/withdrawal/volume_m3"),
                    volume,
                    format!("0 to {:.2}: the bay should hold about {there:.2} m³", WITHDRAWAL_LIMIT * there),
                );
            }
            Change::Withdraw(_) => assumed.push(Assumption {
                pointer: format!("{pointer}/withdrawal/volume_m3"),
                assumed: format!("emptied: about {there:.2} m³ was expected there"),
            }),
            _ => assumed.push(Assumption {
                pointer: format!("{pointer}/addition/filled_to_fraction"),
                assumed: format!("nothing added: the bay already held about {there:.2} m³"),
            }),
        }
    }
    problems.into_result()?;
    Ok(assumed)
}

/// Day of the last addition or merge up to `day`.
pub(crate) fn last_filled(timeline: &Timeline, day: f64) -> f64 {
    let fills = timeline.agenda.changes.iter().filter(|dated| {
        dated.day <= day
            && matches!(dated.change, Change::Add(_) | Change::FillTo { .. } | Change::Merge { .. })
    });
    fills.map(|dated| dated.day).fold(timeline.start, f64::max)
}

pub(crate) fn turns(timeline: &Timeline) -> impl Iterator<Item = f64> {
    let turning = |change: &Change| {
        matches!(change, Change::Turn | Change::MoveTo(_) | Change::Merge { mixed: true, .. })
    };
    timeline.agenda.changes.iter().filter(move |dated| turning(&dated.change)).map(|dated| dated.day)
}

fn covered(timeline: &Timeline) -> bool {
    let known = timeline.agenda.changes.iter().take_while(|dated| dated.day <= timeline.as_of);
    known.fold(false, |covered, dated| match dated.change {
        Change::Cover(on) => on,
        Change::MoveTo(_) => false,
        _ => covered,
    })
}

/// Openings for every use and member; views start once all material, planned additions included, is in.
fn openings(timeline: &Timeline, members: &[Member], criteria: &[Criteria; 3]) -> [Vec<Opening>; 3] {
    let from = last_filled(timeline, timeline.until);
    let views: Vec<_> =
        members.iter().map(|member| member.views(&member.course, from, timeline.until)).collect();
    criteria.map(|criteria| views.iter().map(|views| criteria.opening(views)).collect())
}

/// Windows for every use.
fn windows(
    timeline: &Timeline,
    members: &[Member],
    criteria: &[Criteria; 3],
    openings: &[Vec<Opening>; 3],
    ready_by: &[Date],
) -> Vec<Window> {
    let windows = criteria.iter().zip(openings).map(|(criteria, openings)| {
        let weighted = openings.iter().zip(members).map(|(opening, member)| (*opening, member.weight));
        Window::of(*criteria, &weighted.collect::<Vec<_>>(), timeline.as_of, ready_by)
    });
    windows.collect()
}
