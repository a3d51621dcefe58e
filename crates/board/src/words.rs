//! Every English word on the board: what a translation translates.

use baycast_model::advice::Urgency;
use baycast_model::estimate::Stage;
use baycast_model::history::{Preparation, Squeeze, Zone};
use baycast_model::learned::{Input, Look, Trust};
use baycast_model::plan::answer::{Action, ConflictKind};
use baycast_model::probe::Suspicion;
use baycast_model::sanitisation::Verdict;
use baycast_model::seeds::Tolerance;
use baycast_model::window::{Criterion, Use};

use crate::drawing::holding::Phase;
use crate::note::Kind;

/// The language, for the page's `lang`.
pub const LANGUAGE: &str = "en";

pub const MONTHS: [&str; 12] =
    ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
pub const MONTHS_WHOLE: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];
pub const WEEKDAYS: [&str; 7] =
    ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"];

// Every page.
pub const SKIP: &str = "To the content";
pub const BOARDS: &str = "Boards";
pub const NO_BOARDS: &str = "There is no farm here yet.";
pub const SIGN_OUT: &str = "Sign out";
pub const NO_SIGNAL: &str =
    "No signal. This page was kept on this device: what stands here is of the time named above.";
pub const OLD: &str = "not connected: what stands here may be old";
pub const LIVE: &str = "live";

// Where a page is not shown.
pub const SIGN_IN: &str = "Sign in";
pub const KEY: &str = "Key";
pub const KEY_NEEDED: &str = "This board opens with a key. Whoever runs the service gives it to you.";
pub const WRONG_KEY: &str = "That key does not open this board.";
pub const NOT_THERE: &str = "Nothing here";
pub const NOT_THERE_TEXT: &str = "There is nothing here that your key opens.";
pub const NOT_SHOWN: &str = "Not now";
pub const NOT_TAKEN: &str = "Not taken";
pub const ELSEWHERE: &str = "This came from a page that is not the board's own, so nothing was recorded.";

// The board.
pub const FIGURES_OF: &str = "Figures last changed";
pub const NO_FIGURES: &str = "No figures yet";
pub const JOBS: &str = "To do";
pub const NO_JOBS: &str = "Nothing presses. Leave the heaps to their work.";
pub const MIND: &str = "Take care";
pub const YARD: &str = "The bays";
pub const MARK: &str = "on the thermometer: 55°, from which heat counts for the heat rules";
pub const NO_BAYS: &str = "No bays are recorded yet.";
pub const FREE: &str = "Free";
pub const TAKES: &str = "takes";
pub const ELSEWHERE_BAY: &str = "In a bay that is no longer in use";
pub const CORE: &str = "core";
pub const FULL: &str = "full";
pub const SEASON: &str = "The season";
pub const NO_WINDOWS: &str = "Nothing stands in the bays.";
pub const MAY_OPEN: &str = "may open";
pub const OPEN: &str = "open";
pub const LATER: &str = "later";
pub const PAST_BEST: &str = "past best";
pub const LIKELY_OPEN: &str = "likely open";
pub const BEST_BY: &str = "best by";
pub const BEST_UNTIL: &str = "Best by";
pub const TODAY: &str = "today";
pub const BAY: &str = "bay";
pub const BARROW: &str = "barrow";
pub const BARROWS_OF_IT: &str = "barrows";

// The season's plan.
pub const PLAN: &str = "The season's plan";
pub const NO_SEASON: &str = "No season is kept for this farm yet, so there is nothing to plan.";
pub const LOOK_AGAIN: &str = "Look again";
pub const PLAN_SOON: &str = "The next four weeks";
pub const PLAN_LATER: &str = "After that";
pub const NOTHING_SOON: &str = "Nothing is to be done with the bays.";
pub const NEEDS: &str = "What the beds need";
pub const NO_NEEDS: &str = "The season names nothing that the beds need.";
pub const NEEDED: &str = "Needed";
pub const EXPECTED: &str = "Expected";
pub const EIGHT_IN_TEN: &str = "Eight in ten";
pub const SHORT: &str = "Short by";
pub const ENOUGH: &str = "Enough";
pub const LIKELY_ENOUGH: &str = "Likely enough";
pub const NEED: &str = "needed";
pub const BY: &str = "by";
pub const WOULD_MEND: &str = "What would mend it, each by itself";
pub const FITS_NOT: &str = "What does not fit";
pub const BAYS_HOLD: &str = "What each bay holds";
pub const FREE_BAY: &str = "free";
pub const FREE_THROUGHOUT: &str = "free throughout";
pub const NEW_BATCH: &str = "a new batch";
pub const SURELY: &str = "in nine of ten";
pub const PERHAPS: &str = "perhaps";
pub const IN_THE_MIDDLE: &str = "in the middle";

// A batch's page.
pub const BACK: &str = "The whole yard";
pub const NOW: &str = "Now";
pub const EDGE: &str = "edge";
pub const AIR: &str = "air";
pub const MOISTURE: &str = "moisture";
pub const BROKEN_DOWN: &str = "broken down";
pub const CARBON: &str = "C:N";
pub const COURSE: &str = "Temperature";
pub const READ_CORE: &str = "read in the core";
pub const READ_EDGE: &str = "read at the edge";
pub const DOUBTED: &str = "doubted";
pub const FITTED: &str = "fitted to what was seen; eight in ten lie in its range";
pub const AHEAD: &str = "how it may go on";
pub const EDGE_LINE: &str = "edge, expected";
pub const PUT_IN: &str = "put in";
pub const TURNED: &str = "turned";
pub const DOUBTS: &str = "Readings that are doubted";
pub const WINDOWS: &str = "When it can be used";
pub const BETWEEN: &str = "Between";
pub const WAITS_FOR: &str = "Waits for";
pub const VOLUME_THEN: &str = "Then there is";
pub const EVIDENCE: &str = "Heat rules";
pub const EVIDENCE_TEXT: &str = "Only readings count as evidence, and only those since something was last put in. \
    A forecast never counts. Whether a rule is met for your site is for your local authority or certifier to say.";
pub const SHOWN: &str = "Readings show";
pub const SEEDS: &str = "Weed seeds alive";
pub const SPECIES: &str = "Seed or root";
pub const ALIVE: &str = "Still alive";
pub const HEAT_NEEDED: &str = "Stands heat";
pub const LEARNED: &str = "What the dates rest on";
pub const LOOK_NEXT: &str = "Look next at";
pub const MOVED: &str = "What was seen moved the day on which it opens for beds:";
pub const ASSUMED: &str = "Assumed, for want of a note";
pub const STORY: &str = "What was done and seen";
pub const NO_STORY: &str = "Nothing has been recorded yet.";
pub const EARLIER: &str = "The earlier notes are in the records.";

// The forms.
pub const NOTE_DOWN: &str = "Note it down";
pub const NOTED: &str = "Noted.";
pub const NOT_NOTED: &str = "Not noted yet: look at what is marked.";
pub const WHEN: &str = "When";
pub const TEMPERATURE: &str = "Temperature";
pub const UNIT: &str = "Unit";
pub const DEPTH: &str = "Depth, cm";
pub const WHERE: &str = "Where";
pub const NOT_SAID: &str = "not said";
pub const SQUEEZE: &str = "A squeezed handful";
pub const MEASURED: &str = "or measured, %";
pub const LEVEL_PERCENT: &str = "Height in the bay, %";
pub const LITRES: &str = "Litres";
pub const COVER_IS: &str = "The cover is";
pub const ON: &str = "on";
pub const OFF: &str = "off";
pub const MATERIAL: &str = "Material";
pub const BARROWS: &str = "Barrows";
pub const KILOGRAMS: &str = "or kg";
pub const SHREDDED: &str = "Shredded";
pub const TAKEN_M3: &str = "Volume, m³; all of it if left empty";
pub const TO_BAY: &str = "Into bay";
pub const CHOOSE: &str = "choose";
pub const YES: &str = "yes";
pub const NO: &str = "no";
pub const WAITING: &str = "waiting on this device for a signal";
pub const WAITING_ONE: &str = "1 note is";
pub const WAITING_MANY: &str = "{count} notes are";
pub const SEND_NOW: &str = "Send now";
pub const KEPT_HERE: &str = "Kept on this device. It is sent once there is a signal.";
pub const SIGN_IN_TO_SEND: &str = "Sign in again to send them.";
pub const REFUSED: &str = "A note that waited was not taken. Correct it below, or throw it away.";
pub const THROW_AWAY: &str = "Throw it away";

// What a field takes.
pub const A_NUMBER: &str = "a number";
pub const A_TIME: &str = "a day and a time, such as 2026-04-08T07:30";
pub const NOT_LATER: &str = "not later than now";
pub const ONE_OF_THESE: &str = "one of these";
pub const DEPTH_TAKEN: &str = "0 to 400 cm";
pub const LEVEL_TAKEN: &str = "1 to 150 %";
pub const SQUEEZE_OR_PERCENT: &str = "what a handful did, or a percentage";
pub const BARROWS_OR_KG: &str = "barrows or kg, not both";

/// Temperatures that mean something, °C, the highest first.
pub const THRESHOLDS: [(u8, &str); 4] = [
    (80, "80° can catch fire"),
    (70, "70° too hot: it loses nitrogen"),
    (55, "55° counts for the heat rules"),
    (40, "40° hot"),
];

/// A stage.
pub fn stage(stage: Stage) -> &'static str {
    match stage {
        Stage::Emptied => "Emptied",
        Stage::Filling => "Filling",
        Stage::Hot => "Hot",
        Stage::Curing => "Curing",
        Stage::Stalled => "Stalled",
        Stage::Ready => "Ready",
    }
}

/// What a stage means.
pub fn stage_means(stage: Stage) -> &'static str {
    match stage {
        Stage::Emptied => "nothing is left of it",
        Stage::Filling => "something was put in within ten days",
        Stage::Hot => "over 40 °C inside",
        Stage::Curing => "cooler, still breaking down",
        Stage::Stalled => "stopped before it was done",
        Stage::Ready => "fit for at least one use",
    }
}

/// What a use is for.
pub fn purpose(purpose: Use) -> &'static str {
    match purpose {
        Use::Mulch => "Mulch",
        Use::BedDressing => "Beds",
        Use::Potting => "Potting",
    }
}

/// How pressing a job is.
pub fn urgency(urgency: Urgency) -> &'static str {
    match urgency {
        Urgency::Now => "Now",
        Urgency::Soon => "This week",
        Urgency::Whenever => "When it suits",
    }
}

/// What a window waits for.
pub fn waits_for(criterion: Criterion) -> &'static str {
    match criterion {
        Criterion::MaturityIndex => "more of it to break down",
        Criterion::Respiration => "it to breathe more slowly",
        Criterion::AboveAir => "it to cool to the air",
        Criterion::CToN => "its C:N to fall",
        Criterion::TooDry => "it to be moister",
        Criterion::TooWet => "it to be drier",
    }
}

/// What readings show against a rule.
pub fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Met => "that it is met",
        Verdict::NotMet => "that it is not met",
        Verdict::NotEnoughReadings => "too little to tell",
        Verdict::IndicativeOnly => "a comparison only",
    }
}

/// How much heat a seed stands.
pub fn tolerance(tolerance: Tolerance) -> &'static str {
    match tolerance {
        Tolerance::Soft => "little",
        Tolerance::Medium => "some",
        Tolerance::Hard => "much",
    }
}

/// Why a reading is doubted.
pub fn suspicion(suspicion: Suspicion) -> &'static str {
    match suspicion {
        Suspicion::Stuck => "the probe kept one value",
        Suspicion::Spike => "it leaves its neighbours for hours only",
        Suspicion::LooksLikeFahrenheit => "it looks like °F",
        Suspicion::OutOfTheHeap => "the probe seems to have been out of the heap",
        Suspicion::InTheShell => "the probe seems to have been in the outer layer",
        Suspicion::UnlikeTheRest => "it is unlike all the rest",
    }
}

/// What dates rest on.
pub fn trust(trust: Trust) -> &'static str {
    match trust {
        Trust::MaterialsOnly => "On materials and bay alone.",
        Trust::FewReadings => "On few readings.",
        Trust::Readings => "On what was seen.",
        Trust::ReadingsDisagree => "On readings that disagree: dates may be further off than their ranges.",
    }
}

/// Something that can be looked at.
pub fn look(look: Look) -> &'static str {
    match look {
        Look::CoreReading => "the core's temperature",
        Look::EdgeReading => "the edge's temperature",
        Look::Moisture => "the moisture, measured",
        Look::Level => "how high it stands",
    }
}

/// A kind of what was seen, with how many there were.
pub fn input(input: Input, count: u32) -> String {
    let (one, many) = match input {
        Input::CoreReadings => ("core reading", "core readings"),
        Input::EdgeReadings => ("edge reading", "edge readings"),
        Input::MoistureNotes => ("moisture note", "moisture notes"),
        Input::LevelSightings => ("sighting of its height", "sightings of its height"),
        Input::EarlierBatches => ("earlier batch of the bay", "earlier batches of the bay"),
    };
    format!("{count} {}", if count == 1 { one } else { many })
}

/// What a note tells of.
pub fn note(kind: Kind) -> &'static str {
    match kind {
        Kind::Reading => "A temperature",
        Kind::Moisture => "How wet it is",
        Kind::Level => "How high it stands",
        Kind::Turn => "It was turned",
        Kind::Watering => "It was watered",
        Kind::Cover => "Its cover",
        Kind::Addition => "Something was put in",
        Kind::Withdrawal => "Compost was taken out",
        Kind::Move => "It was moved",
        Kind::Firming => "It was firmed down",
    }
}

/// Several readings of a day as one line.
pub fn readings(count: usize, low_c: f64, high_c: f64) -> String {
    format!("{count} readings, {low_c:.0} to {high_c:.0} °C")
}

/// A reading.
pub fn reading(celsius: f64, zone: Zone, depth_m: Option<f64>) -> String {
    let depth = depth_m.map(|depth_m| format!(", {:.0} cm deep", depth_m * 100.0)).unwrap_or_default();
    format!("{celsius:.1} °C in the {}{depth}", self::zone(zone))
}

/// Something put in.
pub fn put_in(material: &str, amount: Option<&str>, preparation: Preparation) -> String {
    let amount = amount.map(|amount| format!("{amount} of ")).unwrap_or_default();
    format!("{amount}{material} put in{}", self::preparation(preparation))
}

pub fn kilograms(mass_kg: f64) -> String {
    format!("{mass_kg:.0} kg")
}

pub fn cubic_metres(volume_m3: f64) -> String {
    format!("{volume_m3:.2} m³")
}

pub fn barrow_loads(barrows: f64) -> String {
    format!("{barrows} {}", if barrows == 1.0 { BARROW } else { BARROWS_OF_IT })
}

/// Up to which share of its height a bay was filled.
pub fn up_to(filled_to_fraction: f64) -> String {
    format!("{:.0} % of the bay", filled_to_fraction * 100.0)
}

pub fn stands_at(fill_fraction: f64) -> String {
    format!("stands at {:.0} % of the bay's height", fill_fraction * 100.0)
}

pub fn watered(litres: f64) -> String {
    format!("{litres:.0} litres of water given")
}

pub fn moved_into(bay: &str) -> String {
    format!("moved into {bay}")
}

pub fn joined(source: &str) -> String {
    format!("{source} joined to it")
}

pub fn moisture_measured(percent: f64) -> String {
    format!("{percent:.0} % moisture, measured")
}

pub fn handful(squeeze: Squeeze) -> String {
    format!("a handful: {}", self::squeeze(squeeze))
}

pub const WAS_TURNED: &str = "turned";
pub const WAS_FIRMED: &str = "firmed down";
pub const WAS_COVERED: &str = "covered";
pub const WAS_UNCOVERED: &str = "cover taken off";
pub const ALL_TAKEN_OUT: &str = "all of it taken out";

pub fn taken_out(volume_m3: f64) -> String {
    format!("{volume_m3:.2} m³ taken out")
}

/// What a batch's course shows.
pub fn course(readings: usize, core_c: f64, low_c: f64, high_c: f64) -> String {
    format!(
        "Temperature over time with {readings} readings. Today the core is expected at {core_c:.0} °C, with eight in ten \
         between {low_c:.0} and {high_c:.0}."
    )
}

/// A reading that is doubted, and whether it still counts.
pub fn doubt(celsius: f64, why: &str, weight: f64) -> String {
    let counts = if weight > 0.0 { "counts for less" } else { "set aside" };
    format!("{celsius:.0} °C: {why}; {counts}")
}

/// Days that readings show of those that a rule asks for.
pub fn days_of(shown: f64, required: f64) -> String {
    format!("{shown:.1} of {required:.1} days")
}

/// A part of the heap.
pub fn zone(zone: Zone) -> &'static str {
    match zone {
        Zone::Core => CORE,
        Zone::Edge => EDGE,
    }
}

/// What a squeezed handful did.
pub fn squeeze(squeeze: Squeeze) -> &'static str {
    match squeeze {
        Squeeze::Dry => "dusty, no feel of moisture",
        Squeeze::Crumbles => "falls apart when the hand opens",
        Squeeze::Damp => "holds together, a drop or none",
        Squeeze::Drips => "water runs out",
    }
}

/// How a material was prepared, where it was.
pub fn preparation(preparation: Preparation) -> &'static str {
    match preparation {
        Preparation::AsListed => "",
        Preparation::Shredded => ", shredded",
    }
}

/// What a bay's drawing shows.
pub fn drawn(stage: &str, full_percent: f64, core_c: f64) -> String {
    format!("{stage}, {full_percent:.0} % full, core {core_c:.0} °C")
}

/// A range of days.
pub fn from_to(early: &str, late: &str) -> String {
    format!("{early} to {late}")
}

/// A range of days whose end lies beyond what is looked at.
pub fn from_to_beyond(early: &str) -> String {
    format!("{early} to more than a year on")
}

/// A window that is open on most heaps that are plausible.
pub fn open_now(probability: f64) -> String {
    format!("open now ({:.0} % sure)", probability * 100.0)
}

/// A window that opens on a day, with its range.
pub fn opens(day: &str, range: &str) -> String {
    format!("opens {day} ({range})")
}

/// A window of which it is not known that it opens within a year.
pub const NOT_WITHIN_A_YEAR: &str = "not within a year";

/// Until when a window is at its best.
pub fn best_by(day: &str) -> String {
    format!("best by {day}")
}

/// How many batches are being worked out anew.
pub fn pending(count: u32) -> String {
    match count {
        1 => "1 batch is being worked out anew; what stands of it is of before.".to_owned(),
        _ => format!("{count} batches are being worked out anew; what stands of them is of before."),
    }
}

/// What looking at something would be worth.
pub fn worth(look: &str, day: &str, now_days: f64, then_days: f64) -> String {
    format!(
        "{look}, on {day}: the day on which it opens for beds is then known within {then_days:.0} days instead of \
         {now_days:.0}."
    )
}

/// By how much something moved a day.
pub fn moved(by: &str, later_days: f64) -> String {
    match later_days.round() {
        0.0 => format!("{by}: by less than a day"),
        later if later > 0.0 => format!("{by}: {later:.0} days later"),
        earlier => format!("{by}: {:.0} days earlier", -earlier),
    }
}

/// A share of living seeds: never rounded to none and never to all.
pub fn alive(fraction: f64) -> String {
    match fraction * 100.0 {
        few if few < 1.0 => "under 1 %".into(),
        most if most > 99.0 => "nearly all".into(),
        some => format!("{some:.0} %"),
    }
}

/// A value of which a higher one is possible.
pub fn perhaps(middle: &str, most: &str) -> String {
    if middle == most { middle.to_owned() } else { format!("{middle}, perhaps {most}") }
}

/// A field that is at fault.
pub fn fault(given: &str, accepted: &str) -> String {
    if given.is_empty() {
        format!("Needed: {accepted}.")
    } else {
        format!("“{given}” is not taken: {accepted}.")
    }
}

/// When a plan was made, and from when to when it reaches.
pub fn made(at: &str, from: &str, until: &str) -> String {
    format!("Made at {at}; from {from} until {until}.")
}

/// A plan that is being made, in place of one that began on a day or for the first time.
pub fn in_the_making(before: Option<&str>) -> String {
    match before {
        Some(day) => {
            format!("Things have changed, and the plan is being made anew. What stands here is of {day}.")
        }
        None => "The plan is being made. That takes some seconds; this page then shows it.".to_owned(),
    }
}

/// How a season comes to be kept.
pub fn how_a_season_is_kept(farm: &str) -> String {
    format!(
        "A season says what comes in week by week and what the beds need by when. Whoever writes the farm's records keeps it \
         with PUT /v1/farms/{farm}/season, as the service's description at /openapi.json tells."
    )
}

pub fn this_week(day: &str) -> String {
    format!("This week, from {day}")
}

pub fn week_of(day: &str) -> String {
    format!("Week of {day}")
}

/// Something to do with a bay.
pub fn step(action: Action, bay: &str, to_bay: Option<&str>) -> String {
    match (action, to_bay) {
        (Action::Spread, _) => format!("Spread from {bay}"),
        (Action::Empty, _) => format!("Empty {bay}"),
        (Action::Close, _) => format!("Close {bay}"),
        (Action::Turn, Some(to_bay)) => format!("Turn {bay} into {to_bay}"),
        (Action::Turn, None) => format!("Turn {bay}"),
        (Action::Fill, _) => format!("Fill {bay}"),
        (Action::Cure, _) => format!("Leave {bay} alone"),
        (Action::Cover, _) => format!("Cover {bay}"),
    }
}

pub fn for_demand(demand: &str) -> String {
    format!("for {demand}")
}

/// How a need is met.
pub fn supply(needed: &str, expected: &str, short: Option<&str>) -> String {
    let short = short.map(|short| format!(", short by {short}")).unwrap_or_default();
    format!("{needed} needed, {expected} expected{short}")
}

/// What is taken from a batch, and how sure it is that it is ready in time.
pub fn taken(volume: &str, batch: &str, ready_probability: f64, sure: bool) -> String {
    let doubt = if sure { "" } else { ": do not promise it" };
    format!("{volume} from {batch}, ready in time {:.0} times of 100{doubt}", ready_probability * 100.0)
}

/// Something that does not fit.
pub fn conflict(kind: ConflictKind) -> &'static str {
    match kind {
        ConflictKind::Shortfall => "Too little",
        ConflictKind::Unsure => "Not sure",
        ConflictKind::NoRoom => "No room",
        ConflictKind::NoFreeBay => "No bay free",
        ConflictKind::LateTurn => "Turned late",
        ConflictKind::PoorMix => "Poor mix",
    }
}

/// What goes on in a bay.
pub fn phase(phase: Phase) -> &'static str {
    match phase {
        Phase::Filling => "filling",
        Phase::Resting => "resting",
        Phase::Maturing => "maturing",
        Phase::Ready => "fit for beds",
    }
}

/// A batch in a bay, with the days that are not those of the plan.
pub fn stay(
    batch: &str,
    from: Option<&str>,
    closed: Option<&str>,
    ready: Option<&str>,
    until: Option<&str>,
) -> String {
    let part = |word: &str, day: Option<&str>| day.map(|day| format!("{word} {day}"));
    let parts = [
        part("from", from),
        part("filled until", closed),
        part("fit for beds from", ready),
        part("out by", until),
    ];
    let told: Vec<String> = parts.into_iter().flatten().collect();
    if told.is_empty() { batch.to_owned() } else { format!("{batch} {}", told.join(", ")) }
}

/// A text with a capital and a full stop.
pub fn sentence(text: &str) -> String {
    let text = text.trim();
    let mut letters = text.chars();
    let first = letters.next().map(|letter| letter.to_uppercase().to_string()).unwrap_or_default();
    let end = if text.ends_with(['.', '!', '?']) || text.is_empty() { "" } else { "." };
    format!("{first}{}{end}", letters.as_str())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_share_of_seeds_reads_as_none_or_all() {
        assert_eq!([0.0, 0.034, 1.0].map(alive), ["under 1 %", "3 %", "nearly all"]);
    }

    #[test]
    fn a_day_moved_by_nothing_has_no_direction() {
        assert_eq!(moved("2 moisture notes", -0.3), "2 moisture notes: by less than a day");
        assert_eq!(moved("1 core reading", -3.0), "1 core reading: 3 days earlier");
    }

    #[test]
    fn a_reason_becomes_a_sentence() {
        assert_eq!(sentence("core 71 °C read"), "Core 71 °C read.");
        assert_eq!(sentence(""), "");
    }
}
