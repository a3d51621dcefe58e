//! The inverse question: what must be mixed, how much of it and from when on, for compost that is needed by a day.

mod aim;
mod batch;
mod latest;
mod need;
mod sizing;

use jiff::ToSpan;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::ensemble::MEMBERS;
use crate::estimate::{Assumption, Spread};
use crate::estimator::{CAUTIONS, EstimateError};
use crate::problem::Problems;
use crate::recipe::stock::Stock;
use crate::recipe::{MixStanding, Recipe, told};
use crate::window::{Criterion, DateSpread};
use aim::{Aimed, aimed};
use batch::Batch;
use sizing::AHEAD_DAYS;

pub use need::{CompostWanted, Need};

/// What compost that is needed asks for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Requirement {
    /// Version of the model that answered.
    pub model_version: String,
    /// The earliest start that was looked at.
    #[cfg_attr(feature = "schema", schema(value_type = String, format = Date))]
    pub earliest_start: Date,
    /// What is mixed, for all bays together. It may ask for more than is on hand: `missing` has how much.
    pub recipe: Recipe,
    /// Into how many bays alike it goes.
    pub bays: u32,
    /// Loose volume that goes into each, m³.
    pub volume_each_m3: f64,
    /// What is to be brought in beyond what is on hand.
    pub missing: Vec<MissingMaterial>,
    /// The latest start for which it is ready in time as likely as not; absent where there is none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub likely: Option<RequirementStart>,
    /// The latest start for which it is ready in time in nine cases of ten; absent where there is none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub prudent: Option<RequirementStart>,
    /// When it is ready if started on the earliest day.
    pub soonest: DateSpread,
    /// What it then waits for most often.
    pub waits_for: Criterion,
    /// What does not fit, in sentences.
    pub unmet: Vec<String>,
    /// What had to be assumed.
    pub assumptions: Vec<Assumption>,
    /// What every reader should bear in mind.
    pub cautions: Vec<String>,
}

/// A start, and what comes of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RequirementStart {
    /// The first filling.
    #[cfg_attr(feature = "schema", schema(value_type = String, format = Date))]
    pub on: Date,
    /// The last filling.
    #[cfg_attr(feature = "schema", schema(value_type = String, format = Date))]
    pub filled: Date,
    /// The turn.
    #[cfg_attr(feature = "schema", schema(value_type = String, format = Date))]
    pub turned: Date,
    /// When the window opens.
    pub opens: DateSpread,
    /// Day by which further shrinkage has cost the set share of the volume at opening.
    pub best_by: DateSpread,
    /// Probability that it has opened by the day of need, 0 to 1.
    pub probability: f64,
    /// Volume when it opens, of all bays, m³.
    pub volume_m3: Spread,
}

/// Material that is not on hand.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct MissingMaterial {
    /// The feedstock's id.
    pub feedstock: String,
    /// Wet mass, kg.
    pub mass_kg: f64,
    /// Loose volume, m³.
    pub volume_m3: f64,
}

/// Less than this is not missing, kg.
const NOTHING_KG: f64 = 0.05;

/// What the compost needed asks for, with `today` as the earliest start where none is named; or everything that is wrong with
/// what was given.
///
/// Deterministic. The amount is the one of which the middle volume at opening is what is needed; starts are found by the same
/// heaps that any estimate begins with.
pub fn requirement(need: &Need, today: Date) -> Result<Requirement, EstimateError> {
    let earliest = need.wanted.earliest_start.unwrap_or(today);
    let mut problems = Problems::default();
    need::check(need, earliest, &mut problems);
    let stock = Stock::new(&need.on_hand, "/on_hand", &mut problems);
    problems.into_result()?;
    let Some(stock) = stock else { return Err(Problems::default().into()) };

    let Aimed { stock, sized, searched } = aimed(need, &stock, earliest)?;
    let mix = sized.in_one_bay();
    let batch = Batch { need, stock: &stock, mix: &mix };
    let start = |sure: f64| -> Result<Option<RequirementStart>, EstimateError> {
        searched.latest(&batch, sure)?.map_or(Ok(None), |on| start(&batch, on, sized.bays))
    };
    let (likely, prudent) = (start(0.5)?, start(0.9)?);
    let soonest = batch.started(earliest, MEMBERS, AHEAD_DAYS)?;
    let (soonest, waits_for) = (soonest.opens(), soonest.binding());
    let recipe = told(&stock, &sized.mix);
    let missing: Vec<_> = missing(&stock, &recipe);
    Ok(Requirement {
        model_version: crate::VERSION.into(),
        earliest_start: earliest,
        bays: sized.bays,
        volume_each_m3: recipe.volume_m3 / f64::from(sized.bays),
        unmet: unmet(need, earliest, &recipe, &missing, (likely.as_ref(), prudent.as_ref()), soonest),
        recipe,
        missing,
        likely,
        prudent,
        soonest,
        waits_for,
        assumptions: assumptions(need, &stock, earliest),
        cautions: CAUTIONS.map(String::from).to_vec(),
    })
}

/// What comes of a start; nothing where no heap opens within the time looked at.
fn start(batch: &Batch<'_>, on: Date, bays: u32) -> Result<Option<RequirementStart>, EstimateError> {
    let outcome = batch.started(on, MEMBERS, AHEAD_DAYS)?;
    let wanted = &batch.need.wanted;
    Ok(outcome.volume_m3().map(|Spread { p10, p50, p90 }| {
        let all = f64::from(bays);
        RequirementStart {
            on,
            filled: on.saturating_add(wanted.filling_days().days()),
            turned: on.saturating_add(wanted.turn_days().days()),
            opens: outcome.opens(),
            best_by: outcome.best_by(),
            probability: outcome.opened_by(wanted.by),
            volume_m3: Spread { p10: all * p10, p50: all * p50, p90: all * p90 },
        }
    }))
}

fn missing(stock: &Stock, recipe: &Recipe) -> Vec<MissingMaterial> {
    let parts = stock.materials.iter().zip(&recipe.parts);
    let beyond = parts.filter(|(own, part)| part.mass_kg > own.most_kg + NOTHING_KG);
    let told = beyond.map(|(own, part)| MissingMaterial {
        feedstock: part.feedstock.clone(),
        mass_kg: part.mass_kg - own.most_kg,
        volume_m3: (part.mass_kg - own.most_kg) * own.per_kg.loose_m3,
    });
    told.collect()
}

/// What does not fit.
fn unmet(
    need: &Need,
    earliest: Date,
    recipe: &Recipe,
    missing: &[MissingMaterial],
    (likely, prudent): (Option<&RequirementStart>, Option<&RequirementStart>),
    soonest: DateSpread,
) -> Vec<String> {
    let by = need.wanted.by;
    let mut told = Vec::new();
    if likely.is_none() {
        let when = soonest.p50.map_or_else(|| "not within two years".into(), |day| format!("about {day}"));
        told.push(format!("It cannot be ready by {by}: started on {earliest}, it is ready {when}."));
    } else if prudent.is_none() {
        let late = soonest.p90.map_or_else(|| "over two years".into(), |day| format!("until {day}"));
        told.push(format!(
            "No start from {earliest} on is ready by {by} in nine cases of ten: even that one may take {late}."
        ));
    }
    told.extend(missing.iter().map(|missing| {
        let MissingMaterial { feedstock, mass_kg, volume_m3 } = missing;
        format!("{mass_kg:.0} kg ({volume_m3:.2} m³) more of {feedstock} than is on hand.")
    }));
    let out = recipe.qualities.iter().filter(|quality| quality.standing != MixStanding::Within);
    told.extend(out.map(crate::recipe::MixQuality::missed));
    told
}

/// What was assumed of the batch.
fn assumptions(need: &Need, stock: &Stock, earliest: Date) -> Vec<Assumption> {
    let mut assumed = stock.assumptions.clone();
    let mut assume = |pointer: &str, told: String| {
        assumed.push(Assumption { pointer: pointer.into(), assumed: told });
    };
    let (aimed, target) = (stock.targets.c_to_n, need.on_hand.targets.c_to_n);
    if aimed < target {
        assume(
            "/on_hand/targets/c_to_n",
            format!("C:N {aimed:.0} aimed at: from {target:.0} it is not ready in time in nine cases of ten"),
        );
    }
    if need.site.normals.is_none() {
        let latitude = need.site.latitude_deg;
        assume("/site/normals", format!("a temperate, maritime climate for latitude {latitude}"));
    }
    if need.wanted.earliest_start.is_none() {
        assume("/wanted/earliest_start", format!("today, {earliest}"));
    }
    if need.wanted.turn_after_days.is_none() {
        assume("/wanted/turn_after_days", format!("turned {} days after the start", need.wanted.turn_days()));
    }
    assumed
}
