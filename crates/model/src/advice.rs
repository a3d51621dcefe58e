//! What to do, and the state it rests on.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::bay::Top;
use crate::estimate::Stage;
use crate::heap::Heap;
use crate::window::{Use, Window};

/// Something to do about the heap.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Advice {
    /// What it is about.
    pub subject: Subject,
    /// How pressing it is.
    pub urgency: Urgency,
    /// What to do, in a sentence.
    pub action: String,
    /// Why: the state it rests on, with its numbers.
    pub reason: String,
}

/// What a piece of advice is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Subject {
    /// Hot enough to catch fire.
    FireRisk,
    /// Too hot to keep its quality.
    TooHot,
    /// Too wet.
    TooWet,
    /// Too dry.
    TooDry,
    /// Too little air.
    TooLittleAir,
    /// Too much nitrogen for its carbon.
    TooMuchNitrogen,
    /// Too much carbon for its nitrogen.
    TooMuchCarbon,
    /// Stopped before it was done.
    Stalled,
    /// A turn would help.
    Turn,
    /// A cover would help.
    Cover,
    /// The edge stays cold.
    ColdEdge,
    /// A reading would help.
    TakeReading,
    /// Spread it.
    Spread,
}

/// How pressing a piece of advice is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Urgency {
    /// At once.
    Now,
    /// Within the week.
    Soon,
    /// When convenient.
    Whenever,
}

/// What the rules look at.
#[derive(Clone, Copy, Debug)]
pub struct State<'a> {
    /// The heap now.
    pub heap: &'a Heap,
    /// What is over the bay.
    pub top: Top,
    /// Whether a cover is on.
    pub covered: bool,
    /// Where it stands.
    pub stage: Stage,
    /// The day of the estimate.
    pub today: Date,
    /// Northern hemisphere.
    pub north: bool,
    /// Last core reading that counts: days ago and °C.
    pub last_core: Option<(f64, f64)>,
    /// Days since material was last added.
    pub resting_days: f64,
    /// Windows.
    pub windows: &'a [Window],
    /// What steps would gain.
    pub gains: Gains,
    /// The bed-dressing index that still counts as unfinished.
    pub finished_index: f64,
}

/// Days by which steps would bring the bed-dressing window forward, each where it is possible and was worth asking.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Gains {
    /// A turn today.
    pub turn_now: Option<f64>,
    /// A turn in two weeks.
    pub turn_later: Option<f64>,
    /// A turn today with wood forked in.
    pub add_wood: Option<f64>,
    /// A cover today.
    pub cover: Option<f64>,
}

/// Core temperature that costs quality, °C. Common practice, no source.
pub const TOO_HOT_C: f64 = 70.0;
/// Watch closely above this, °C: USDA-NRCS 2002, Job Sheet 317 (165 °F, read).
pub const WATCH_C: f64 = 73.9;
/// Cool at once above this, °C: USDA-NRCS 2002, Job Sheet 317 (185 °F, read). Advised already from 80.
pub const FIRE_C: f64 = 80.0;
/// Wetter than this is too wet, wet basis: upper end of the acceptable mix (Rynk and others 2022, The Composting
/// Handbook, table 4.2: 40-65 %, read in an excerpt) and five points of grace for fresh greens.
const WET: f64 = 0.70;
/// Drier than this is too dry, wet basis (same table).
const DRY: f64 = 0.40;
/// Free air space under which a heap is slow (technical note on composting basics: adequate over 20 %, read).
const AIRLESS: f64 = 0.20;

/// A turn is work: it is advised from this gain on, days.
const LEAST_GAIN_DAYS: f64 = 4.0;

/// All advice for a state, the most pressing first.
#[must_use]
pub fn advise(state: &State<'_>) -> Vec<Advice> {
    let mut advice = Vec::new();
    if state.stage == Stage::Emptied {
        return advice;
    }
    heat(state, &mut advice);
    water(state, &mut advice);
    air_and_mix(state, &mut advice);
    progress(state, &mut advice);
    advice.sort_by_key(|piece| piece.urgency);
    advice
}

fn say(advice: &mut Vec<Advice>, subject: Subject, urgency: Urgency, action: &str, reason: String) {
    advice.push(Advice { subject, urgency, action: action.into(), reason });
}

fn heat(state: &State<'_>, advice: &mut Vec<Advice>) {
    let heap = state.heap;
    // A reading of the last three days outranks the model.
    let (core_c, whose) = match state.last_core {
        Some((days, celsius)) if days <= 3.0 => (celsius, "read"),
        _ => (heap.core.temperature_c, "expected"),
    };
    if core_c >= FIRE_C {
        say(
            advice,
            Subject::FireRisk,
            Urgency::Now,
            "Keep people back, do not open a heap that smokes, have water at hand and cool it at once: wet it through \
             and spread it thin, with help; call the fire service if in doubt.",
            format!("core {core_c:.0} °C {whose}; over {FIRE_C:.0} °C a heap can go on to catch fire"),
        );
    } else if core_c >= TOO_HOT_C {
        let urgency = if core_c >= WATCH_C { Urgency::Now } else { Urgency::Soon };
        say(
            advice,
            Subject::TooHot,
            urgency,
            "Add dry brown material, or turn it (mind the steam); measure daily until it falls.",
            format!("core {core_c:.0} °C {whose}; over {TOO_HOT_C:.0} °C it loses nitrogen and quality"),
        );
    }
    let cold_edge = heap.core.temperature_c > 50.0 && heap.edge.temperature_c < 40.0;
    if cold_edge && state.resting_days > 5.0 {
        say(
            advice,
            Subject::ColdEdge,
            Urgency::Whenever,
            "Line the sides with cardboard or straw, or turn the outside in.",
            format!(
                "edge {:.0} °C beside a core of {:.0} °C: weed seeds there live on",
                heap.edge.temperature_c, heap.core.temperature_c
            ),
        );
    }
}

fn water(state: &State<'_>, advice: &mut Vec<Advice>) {
    let heap = state.heap;
    let moisture = heap.moisture_fraction();
    let percent = moisture * 100.0;
    if moisture > WET {
        let action = if state.top == Top::Open && !state.covered {
            "Cover it, and fork in cardboard or shredded prunings."
        } else {
            "Fork in cardboard or shredded prunings, and let air through."
        };
        say(
            advice,
            Subject::TooWet,
            Urgency::Soon,
            action,
            format!("moisture {percent:.0} %, over {:.0} %", WET * 100.0),
        );
    } else if moisture < DRY {
        let wanted = 0.55;
        let litres = heap.dry_kg() * wanted / (1.0 - wanted) - heap.water_kg();
        say(
            advice,
            Subject::TooDry,
            Urgency::Soon,
            "Water it through, best while turning.",
            format!(
                "moisture {percent:.0} %; about {:.0} litres bring it to 55 %",
                (litres / 10.0).round() * 10.0
            ),
        );
    }
    let month = state.today.month();
    let wet_season = if state.north { matches!(month, 9..=12 | 1 | 2) } else { matches!(month, 3..=8) };
    if state.top == Top::Open && !state.covered && wet_season && moisture > 0.55 {
        say(
            advice,
            Subject::Cover,
            Urgency::Soon,
            "Cover it before the winter's rain.",
            match state.gains.cover.filter(|days| *days >= LEAST_GAIN_DAYS) {
                Some(days) => format!(
                    "open to the rain at {percent:.0} % moisture; covered, the bed-dressing window opens about {days:.0} \
                     days earlier"
                ),
                None => format!("open to the rain at {percent:.0} % moisture"),
            },
        );
    }
}

fn air_and_mix(state: &State<'_>, advice: &mut Vec<Advice>) {
    let heap = state.heap;
    let air_space = heap.free_air_space();
    let unfinished = heap.degraded_fraction() < state.finished_index;
    if air_space < AIRLESS && unfinished {
        say(
            advice,
            Subject::TooLittleAir,
            Urgency::Soon,
            "Turn it and fork in woody, shredded material.",
            format!(
                "{:.0} % of the volume is air, {:.0} % is the least to work well",
                air_space * 100.0,
                AIRLESS * 100.0
            ),
        );
    }
    let c_to_n = heap.c_to_n();
    let young = heap.degraded_fraction() < 0.25;
    if young && c_to_n < 20.0 {
        say(
            advice,
            Subject::TooMuchNitrogen,
            Urgency::Soon,
            "Add brown material: cardboard, straw, shredded prunings.",
            format!("C:N {c_to_n:.0}, under 20: it will smell and lose nitrogen"),
        );
    } else if young && c_to_n > 45.0 {
        say(
            advice,
            Subject::TooMuchCarbon,
            Urgency::Whenever,
            "Add green material: mowings, crop waste, coffee grounds, manure.",
            format!("C:N {c_to_n:.0}, over 45: it will be slow"),
        );
    }
}

fn progress(state: &State<'_>, advice: &mut Vec<Advice>) {
    if state.stage == Stage::Stalled {
        let heap = state.heap;
        say(
            advice,
            Subject::Stalled,
            Urgency::Soon,
            "Turn it, wetting or loosening it as needed; it will warm again and is not finished.",
            format!(
                "cool at {:.0} % moisture and {:.0} % air with {:.0} % of the breakdown done",
                heap.moisture_fraction() * 100.0,
                heap.free_air_space() * 100.0,
                heap.degraded_fraction() * 100.0
            ),
        );
    }
    let Gains { turn_now, turn_later, add_wood, .. } = state.gains;
    if let Some(days) = turn_now.filter(|days| *days >= LEAST_GAIN_DAYS) {
        let now = format!("a turn today brings the bed-dressing window forward by about {days:.0} days");
        let worth = |gain: &f64| *gain > days + LEAST_GAIN_DAYS;
        match (turn_later.filter(worth), add_wood.filter(worth)) {
            (Some(later), _) => say(
                advice,
                Subject::Turn,
                Urgency::Whenever,
                "Turn it in about two weeks.",
                format!("{now}, one in two weeks by {later:.0}"),
            ),
            (None, Some(wood)) => say(
                advice,
                Subject::Turn,
                Urgency::Soon,
                "Turn it now and fork in shredded prunings, a tenth of its volume.",
                format!("{now}, with the prunings by {wood:.0}"),
            ),
            (None, None) => say(advice, Subject::Turn, Urgency::Soon, "Turn it now.", now),
        }
    }
    let stale = state.last_core.is_none_or(|(days, _)| days > 14.0);
    if stale && matches!(state.stage, Stage::Filling | Stage::Hot | Stage::Curing) {
        let reason = state
            .last_core
            .map_or_else(|| "no reading yet".into(), |(days, _)| format!("last reading {days:.0} days ago"));
        say(
            advice,
            Subject::TakeReading,
            Urgency::Whenever,
            "Take a core reading: it narrows every date here.",
            reason,
        );
    }
    let open = state.windows.iter().rev().find(|window| window.open_now_probability >= 0.5);
    if let Some(window) = open
        && state.stage == Stage::Ready
    {
        let what = match window.for_use {
            Use::Mulch => "as a mulch",
            Use::BedDressing => "on beds",
            Use::Potting => "in mixes",
        };
        let until = match window.best_by.p50 {
            Some(date) if date < state.today => format!("it has been past its best since {date}"),
            Some(date) => format!("best by {date}"),
            None => "it shrinks little more before the horizon".to_owned(),
        };
        say(
            advice,
            Subject::Spread,
            Urgency::Whenever,
            &format!("Ready to use {what}: it goes on shrinking while it lies."),
            format!("window open with {:.0} % probability; {until}", window.open_now_probability * 100.0),
        );
    }
}

/// Whether a turn is worth asking about: rested, warm once, and not yet finished.
#[must_use]
pub fn worth_turning(heap: &Heap, resting_days: f64, finished_index: f64) -> bool {
    resting_days >= 7.0 && heap.degraded_fraction() < finished_index
}
