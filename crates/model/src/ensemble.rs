//! The heaps that are plausible given what was seen, each with its course.
//!
//! They are placed by what was seen up to a milestone ([`crate::placement`]), their courses run to the horizon, and weighed by
//! how well each fits all that was seen. Everything stands at fixed deviates, so that the same history always gives the same
//! answer.

use std::sync::LazyLock;

use nalgebra::{Cholesky, SMatrix, SVector};

use crate::checkpoint::{Checkpoint, Earlier};
use crate::course::Course;
use crate::discrepancy::fifths;
use crate::draw::{Draw, SOUGHT, UNKNOWNS, quasi_normal};
use crate::observation::{Judged, Observations};
use crate::placement::{Placed, Placement};
use crate::prior::Prior;
use crate::rosenbrock::Failure;
use crate::timeline::Timeline;
use crate::variant::{Variant, error};
use crate::weighted::{evened, mean};
use crate::window::{DayView, daily_views, ripened};

/// Members in an ensemble, those counted that others stand for.
pub const MEMBERS: usize = 64;
/// Unknowns of a heap's course, that of its seeds and that of its ripeness.
const SPREADS: usize = UNKNOWNS + 2;
/// The golden ratio, whose multiples fill the space between 0 and 1 evenly.
const GOLDEN: f64 = 0.618_033_988_749_894_8;
/// Members that must keep carrying the answer however strongly what was seen speaks.
const LEAST_MEMBERS: f64 = 12.0;

/// One plausible heap.
#[derive(Clone, Debug)]
pub struct Member {
    /// Where it lies among all heaps.
    pub draw: Draw,
    /// Its heap and constants.
    pub variant: Variant,
    /// Its course.
    pub course: Course,
    /// Log factor on seed death rates.
    pub seed_log_factor: f64,
    /// How much riper it is than its course has it, as a factor on the log of what is left to degrade.
    pub ripeness: f64,
    /// Deviates that its errors take, each as likely as the others.
    pub fifths: [f64; 5],
    /// What was seen says of it.
    pub judged: Judged,
    /// Weight; all sum to 1.
    pub weight: f64,
}

impl Member {
    /// Its maturity index, where its course has `degraded_fraction`.
    #[must_use]
    pub fn maturity_index(&self, degraded_fraction: f64) -> f64 {
        ripened(degraded_fraction, self.ripeness)
    }

    /// Its days from `from` to `until`, if `course` is its course.
    pub(crate) fn views(&self, course: &Course, from: f64, until: f64) -> Vec<DayView> {
        let mut views = daily_views(course, from, until);
        for view in &mut views {
            view.ripen(self.ripeness);
        }
        views
    }
}

/// Where members were placed, and by what.
#[derive(Clone, Debug)]
pub(crate) struct Basis {
    pub(crate) by: Observations,
    pub(crate) prior: Prior,
    pub(crate) placement: Placement,
}

/// Runs members to the timeline's end and weighs them by what was seen; what `kept` holds is not run again.
pub(crate) fn run(
    timeline: &Timeline,
    prior: &Prior,
    observations: &Observations,
    kept: Option<&Checkpoint>,
) -> Result<(Vec<Member>, Basis), Failure> {
    let basis = Basis::new(milestone(observations.count()), timeline, prior, observations, kept)?;
    let (members, carrying) = members(timeline, observations, &basis, kept)?;
    // Where what was seen since the milestone changes the picture, members are placed anew by all of it.
    if carrying >= LEAST_MEMBERS || basis.by.count() == observations.count() {
        return Ok((members, basis));
    }
    let basis = Basis::new(observations.count(), timeline, prior, observations, kept)?;
    Ok((self::members(timeline, observations, &basis, kept)?.0, basis))
}

impl Basis {
    fn new(
        count: usize,
        timeline: &Timeline,
        prior: &Prior,
        observations: &Observations,
        kept: Option<&Checkpoint>,
    ) -> Result<Self, Failure> {
        let by = observations.first(count);
        if let Some(basis) = kept.and_then(|kept| kept.basis(timeline, prior, &by)) {
            return Ok(basis.clone());
        }
        let placement = match by.last_day() {
            Some(until) => Placement::new(timeline, prior, &by, until, MEMBERS)?,
            None => unseen(prior),
        };
        Ok(Self { by, prior: prior.clone(), placement })
    }
}

/// How many of the observations members are placed by: steps a sixteenth apart, so that one more of many mostly leaves every
/// course as it was, and only the weights change.
fn milestone(count: usize) -> usize {
    let mut reached = 0;
    while reached + (reached / 16).max(1) <= count {
        reached += (reached / 16).max(1);
    }
    reached
}

/// The first `count` of the heaps that are plausible before anything is seen, in pairs about the middle one, which is the first,
/// run to the timeline's end.
pub(crate) fn before_anything_is_seen(timeline: &Timeline, count: usize) -> Result<Vec<Member>, Failure> {
    let nothing = Observations::new(&[], &timeline.agenda, &[]);
    let prior = Prior::default();
    let mut placement = unseen(&prior);
    placement.draws.truncate(count);
    Ok(members(timeline, &nothing, &Basis { by: nothing.clone(), prior, placement }, None)?.0)
}

/// Heaps that are plausible before anything was seen.
fn unseen(prior: &Prior) -> Placement {
    let draws = DEVIATES.iter().map(|deviates| Placed {
        draw: prior.draw(&deviates.fixed_rows::<SOUGHT>(0).into_owned()),
        count: 1.0,
        log_density: 0.0,
    });
    Placement { draws: draws.collect(), mean: prior.mean, deviation: prior.deviation }
}

/// Members where they were placed, and how many of them carry what was seen since.
fn members(
    timeline: &Timeline,
    observations: &Observations,
    Basis { by, placement, .. }: &Basis,
    kept: Option<&Checkpoint>,
) -> Result<(Vec<Member>, f64), Failure> {
    let alike = kept.map(|kept| kept.alike(timeline));
    let mut members = Vec::with_capacity(placement.draws.len());
    let mut logs = Vec::with_capacity(placement.draws.len());
    let mut since = Vec::with_capacity(placement.draws.len());
    for (index, (placed, deviates)) in placement.draws.iter().zip(DEVIATES.iter()).enumerate() {
        let draw: Draw = std::array::from_fn(|i| if i < SOUGHT { placed.draw[i] } else { deviates[i] });
        let variant = Variant::new(&draw, timeline);
        let earlier = kept.and_then(|kept| kept.course(&draw)).zip(alike.as_ref());
        let earlier = earlier.map(|(course, alike)| Earlier { course, alike });
        let course = variant.course(timeline.until, earlier)?;
        let shown = observations.shown(&course);
        let density = observations.log_density(&shown);
        // The placement made it as frequent as what it was placed by has it plausible.
        logs.push(density - placed.log_density + placed.count.ln());
        since.push(density - by.log_density(&by.shown(&course)) + placed.count.ln());
        members.push(Member {
            draw,
            variant,
            course,
            seed_log_factor: error::SEEDS * deviates[UNKNOWNS],
            fifths: fifths((GOLDEN * GOLDEN * index as f64 + 0.5).fract()),
            ripeness: (error::RIPENESS * deviates[UNKNOWNS + 1]).exp(),
            judged: observations.judge(&shown, (GOLDEN * index as f64 + 0.5).fract()).smoothed(),
            weight: 0.0,
        });
    }
    let least = LEAST_MEMBERS.min(members.len() as f64);
    let (weights, _) = evened(&logs, least);
    let (_, carrying) = evened(&since, least);
    for (member, weight) in members.iter_mut().zip(weights) {
        member.weight = weight;
    }
    Ok((members, carrying))
}

/// Deviates of the members: in the middle, and in pairs about it, with the covariance of independent standard normals.
static DEVIATES: LazyLock<Vec<SVector<f64, SPREADS>>> = LazyLock::new(|| {
    let pairs = MEMBERS / 2 - 1;
    let mut raw: Vec<SVector<f64, SPREADS>> = (1..=pairs).map(|pair| quasi_normal(pair).into()).collect();
    raw.push(SVector::zeros());
    let mut covariance = SMatrix::<f64, SPREADS, SPREADS>::zeros();
    for deviates in &raw {
        covariance += 2.0 * deviates * deviates.transpose() / MEMBERS as f64;
    }
    let root = Cholesky::new(covariance).expect("more pairs than spreads").unpack();
    let straight = root.try_inverse().expect("a Cholesky factor can be inverted");
    raw.rotate_right(1);
    raw.into_iter().map(|deviates| straight * deviates).flat_map(|deviates| [deviates, -deviates]).collect()
});

/// How much being an unlikely heap counts against a member in [`middle`]: two standard errors as much as 5 °C.
const UNLIKELY: f64 = 0.25;

/// The member to speak for all: without readings the first, with everything as it was told; else the one closest to the
/// weighted means of core temperature, volume, moisture and maturity at `day`, the likelier heap of two that are close.
#[must_use]
pub fn middle(members: &[Member], day: f64, seen: bool) -> &Member {
    if !seen {
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
        let unlikely: f64 = member.draw.iter().map(|z| z * z).sum();
        off + UNLIKELY * unlikely
    };
    views.iter().min_by(|a, b| distance(a).total_cmp(&distance(b))).map_or(&members[0], |(member, _)| member)
}
