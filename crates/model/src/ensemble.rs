//! What the model does not know: a fixed, spread-out set of plausible heaps, weighed by the readings.
//!
//! Each member has its own kinetics, wall and air conductance, moisture, amounts, seed resistance and weather.
//! Members stand at the points of a low-discrepancy sequence, so that the same history always gives the same answer.

use crate::checkpoint::{Alike, Checkpoint, Earlier};
use crate::course::Course;
use crate::parameters::Parameters;
use crate::plan::{Change, Dated, Plan};
use crate::rosenbrock::{Failure, Tolerance};
use crate::timeline::{Seen, Timeline};
use crate::weighted::{mean, normal_quantile};

/// Members in an ensemble; the first is the middle of every spread.
pub const MEMBERS: usize = 48;
/// Spreads a member differs in.
const SPREADS: usize = 8;

/// Standard errors of the spreads. Estimates; only amounts follow from the history.
mod error {
    /// Kinetics, log scale.
    pub const KINETICS: f64 = 0.25;
    /// Conduction, log scale.
    pub const CONDUCTANCE: f64 = 0.2;
    /// Air flow, log scale.
    pub const AIR: f64 = 0.3;
    /// Water in what is put in, log scale of water to dry mass.
    pub const WATER: f64 = 0.15;
    /// Seed death rate, log scale: half to double at one standard error.
    pub const SEEDS: f64 = 0.7;
    /// Season's air temperature beyond what is known, °C.
    pub const SEASON_C: f64 = 1.0;
    /// A reading against the zone's mean temperature, °C: probe place, and the model's own error (of the
    /// order that Mason 2006, Waste Management 26:3-21, finds for all models reviewed).
    pub const READING_C: f64 = 6.0;
}

/// Days over which the model's error persists: readings closer than that count as one.
const PERSISTENCE_DAYS: f64 = 7.0;
/// Members that must keep carrying the answer however strongly readings speak.
const LEAST_MEMBERS: f64 = 6.0;

/// One plausible heap.
#[derive(Clone, Debug)]
pub struct Member {
    /// Its heap and constants.
    pub variant: Variant,
    /// Its course.
    pub course: Course,
    /// What each reading lies above it, °C; nothing where its bay was empty.
    pub residuals_c: Vec<Option<f64>>,
    /// Weight; all sum to 1.
    pub weight: f64,
}

/// How closely members are followed: a hundredth of a degree off their exact courses on average, four tenths at worst, and
/// a quarter of a per cent of the volume, far inside the spread between them.
pub const TOLERANCE: Tolerance =
    Tolerance { relative: 2e-4, absolute_scale: 3.0, max_step_days: 16.0, max_steps: 100_000 };

/// Runs every member to the timeline's end and weighs them by `readings`; what `kept` holds is not run again.
pub(crate) fn run(
    timeline: &Timeline,
    p: &Parameters,
    readings: &[&Seen],
    kept: Option<&Checkpoint>,
) -> Result<Vec<Member>, Failure> {
    let alike = kept.map(|kept| kept.alike(timeline));
    let mut members = Vec::with_capacity(MEMBERS);
    for index in 0..MEMBERS {
        let variant = Variant::new(index, timeline, p);
        let earlier = kept.and_then(|kept| kept.course(index)).zip(alike.as_ref());
        let earlier = earlier.map(|(course, alike)| Earlier { course, alike });
        let course = variant.plan.run_from(&variant.parameters, TOLERANCE, timeline.until, earlier)?;
        let residual_c = |seen: &&Seen| Some(seen.temperature_c - course.temperature_c(seen.zone, seen.day)?);
        members.push(Member {
            residuals_c: readings.iter().map(residual_c).collect(),
            variant,
            course,
            weight: 1.0 / MEMBERS as f64,
        });
    }
    weigh(&mut members, readings);
    Ok(members)
}

/// A member's own heap and constants.
#[derive(Clone, Debug)]
pub struct Variant {
    /// What it integrates.
    pub plan: Plan,
    /// Its constants.
    pub parameters: Parameters,
    /// Log factor on seed death rates.
    pub seed_log_factor: f64,
    /// Squared distance from the middle of all spreads, in standard errors.
    pub distance: f64,
}

impl Variant {
    fn new(index: usize, timeline: &Timeline, p: &Parameters) -> Self {
        let z = deviates(index);
        let mut parameters = *p;
        let kinetics = (error::KINETICS * z[0]).exp();
        parameters.fast_per_day *= kinetics;
        parameters.slow_per_day *= kinetics;
        parameters.resistant_per_day *= kinetics;
        let conductance = (error::CONDUCTANCE * z[1]).exp();
        parameters.conductivity_base *= conductance;
        parameters.conductivity_water *= conductance;
        parameters.conductivity_solid *= conductance;
        parameters.air_flow_kg_m2_day *= (error::AIR * z[2]).exp();
        let mut plan = timeline.plan.clone();
        let water = (error::WATER * z[3]).exp();
        let amount = (timeline.amount_error * z[4]).exp();
        vary(&mut plan, &Offsets { water, amount, season_c: error::SEASON_C * z[6], notes: z[7] });
        let distance = z.iter().map(|z| z * z).sum();
        Self { plan, parameters, seed_log_factor: error::SEEDS * z[5], distance }
    }

    /// What its course would be if `change` were made on `day`, after what else happens then.
    pub(crate) fn course_with(
        &self,
        course: &Course,
        (day, change): (f64, Change),
        until: f64,
    ) -> Result<Course, Failure> {
        let mut plan = self.plan.clone();
        let place = plan.changes.partition_point(|dated| dated.day <= day);
        plan.changes.insert(place, Dated { day, change });
        let earlier = Earlier { course, alike: &Alike::itself(&plan) };
        plan.run_from(&self.parameters, TOLERANCE, until, Some(earlier))
    }
}

/// Standard normal deviates of a member: the R sequence (M. Roberts 2018, The unreasonable effectiveness of
/// quasirandom sequences, from memory), all 0 for the first.
fn deviates(index: usize) -> [f64; SPREADS] {
    /// Positive root of x⁹ = x + 1, the generalised golden ratio of eight dimensions.
    const PHI: f64 = 1.085_070_245_491_451;
    let mut step = 1.0;
    std::array::from_fn(|_| {
        step /= PHI;
        // The first point, one half in every dimension, is the middle of every spread.
        normal_quantile((0.5 + step * index as f64).fract().clamp(1e-6, 1.0 - 1e-6))
    })
}

/// How a member's heap and season differ from the middle ones.
struct Offsets {
    /// Factor on water put in with material.
    water: f64,
    /// Factor on amounts.
    amount: f64,
    /// Warmer season, °C.
    season_c: f64,
    /// Error of moisture notes, in their standard errors: whoever squeezes reads all of them alike.
    notes: f64,
}

/// Gives the plan, and what merges into it, a member's offsets.
fn vary(plan: &mut Plan, offsets: &Offsets) {
    plan.weather.shift_c(offsets.season_c);
    for dated in &mut plan.changes {
        match &mut dated.change {
            Change::Add(material) => {
                *material = material.times(offsets.amount);
                material.matter.water_kg *= offsets.water;
            }
            Change::FillTo { per_m3, .. } => per_m3.matter.water_kg *= offsets.water,
            Change::SeeMoisture { fraction, error } => *fraction += *error * offsets.notes,
            _ => {}
        }
    }
    for source in &mut plan.sources {
        vary(source, offsets);
    }
}

/// Weighs members by how close they come to the readings.
///
/// Residuals follow Student's t with four degrees of freedom, so one odd reading cannot decide. The log likelihood is
/// scaled down to the number of independent readings, and further until at least [`LEAST_MEMBERS`] carry weight.
fn weigh(members: &mut [Member], readings: &[&Seen]) {
    const FREEDOM: f64 = 4.0;
    let (Some(first), Some(last)) = (readings.first(), readings.last()) else { return };
    let independent = (1.0 + (last.day - first.day) / PERSISTENCE_DAYS).min(readings.len() as f64);
    let scale = independent / readings.len() as f64;
    let logs: Vec<f64> = members
        .iter()
        .map(|member| {
            let sum: f64 = member
                .residuals_c
                .iter()
                .flatten()
                .map(|residual_c| {
                    let residual = residual_c / error::READING_C;
                    -(FREEDOM + 1.0) / 2.0 * (residual * residual / FREEDOM).ln_1p()
                })
                .sum();
            sum * scale
        })
        .collect();
    let best = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let weights = |power: f64| -> Vec<f64> {
        let raw: Vec<f64> = logs.iter().map(|log| ((log - best) * power).exp()).collect();
        let total: f64 = raw.iter().sum();
        raw.into_iter().map(|weight| weight / total).collect()
    };
    let carrying = |weights: &[f64]| 1.0 / weights.iter().map(|weight| weight * weight).sum::<f64>();
    let (mut low, mut high) = (0.0, 1.0);
    if carrying(&weights(1.0)) < LEAST_MEMBERS {
        for _ in 0..40 {
            let middle = f64::midpoint(low, high);
            if carrying(&weights(middle)) < LEAST_MEMBERS {
                high = middle;
            } else {
                low = middle;
            }
        }
    } else {
        low = 1.0;
    }
    for (member, weight) in members.iter_mut().zip(weights(low)) {
        member.weight = weight;
    }
}

/// How much being an unlikely heap counts against a member in [`middle`]: two standard errors as much as 5 °C.
const UNLIKELY: f64 = 0.25;

/// The member to speak for all: without readings the first, with everything as it was told; else the one closest to the
/// weighted means of core temperature, volume, moisture and maturity at `day`, the likelier heap of two that are close.
#[must_use]
pub fn middle(members: &[Member], day: f64, read: bool) -> &Member {
    if !read {
        return &members[0];
    }
    let view = |member: &Member| {
        let heap = member.course.at(day)?.heap;
        Some([
            heap.core.temperature_c / 5.0,
            heap.volume_m3() / 0.1,
            heap.moisture_fraction() / 0.05,
            heap.degraded_fraction() / 0.05,
        ])
    };
    let views: Vec<(&Member, [f64; 4])> =
        members.iter().filter_map(|member| Some((member, view(member)?))).collect();
    let centre: [f64; 4] = std::array::from_fn(|i| {
        mean(&views.iter().map(|(member, view)| (view[i], member.weight)).collect::<Vec<_>>())
    });
    let distance = |(member, view): &(&Member, [f64; 4])| {
        let off: f64 = view.iter().zip(centre).map(|(value, mean)| (value - mean).powi(2)).sum();
        off + UNLIKELY * member.variant.distance
    };
    views.iter().min_by(|a, b| distance(a).total_cmp(&distance(b))).map_or(&members[0], |(member, _)| member)
}
