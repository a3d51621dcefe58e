//! What the beds need, how far it is met, and what does not fit.

use baycast_model::plan::answer::{Conflict, ConflictKind, DemandOutlook, Draw, Remedy};

use super::Telling;
use crate::drawing::supply;
use crate::{dates, figures, words};

/// Missing less than this share of a need is no want of it: as the plan has it.
const NEGLIGIBLE: f64 = 0.005;

/// A need of the beds.
pub struct Demand {
    /// Its name.
    pub name: String,
    /// The day by which, and what for.
    pub by: String,
    pub for_use: &'static str,
    /// How much is needed: in m³ and in barrows, as all that follows.
    pub needed: (String, String),
    /// How much is expected in the middle.
    pub expected: (String, String),
    /// The range in which eight of ten lie.
    pub range: (String, String),
    /// How much is missing in the middle.
    pub short: Option<(String, String)>,
    /// Whether it is there in nine cases of ten.
    pub is_sure: bool,
    /// The drawing.
    pub drawing: String,
    /// What it is taken from, and whether that is sure to be ready.
    pub taken_from: Vec<(String, bool)>,
    /// What would mend it, each by itself.
    pub remedies: Vec<String>,
}

/// Something else that does not fit.
pub struct Trouble {
    /// What it is.
    pub kind: &'static str,
    /// In a sentence.
    pub text: String,
    /// What would mend it, each by itself.
    pub remedies: Vec<String>,
}

/// All needs, in order of time.
pub fn all(telling: &Telling<'_>) -> Vec<Demand> {
    telling.plan.demands.iter().map(|own| demand(telling, own)).collect()
}

fn demand(telling: &Telling<'_>, own: &DemandOutlook) -> Demand {
    let DemandOutlook { demand, for_use, by, needed_m3, expected_m3, short_m3, short_barrows: _, taken_from } =
        own;
    let farm = telling.farm;
    let of = |kind: ConflictKind| {
        let own = telling.plan.conflicts.iter();
        own.filter(move |conflict| conflict.kind == kind && conflict.demand.as_ref() == Some(demand))
    };
    let needed = figures::both(*needed_m3, farm);
    let expected = figures::both(expected_m3.p50, farm);
    let short = (*short_m3 > NEGLIGIBLE * needed_m3).then(|| figures::missing(*short_m3, farm));
    let told = words::supply(&needed.0, &expected.0, short.as_ref().map(|(m3, _)| m3.as_str()));
    let taken = |draw: &Draw| {
        let sure = of(ConflictKind::Unsure).all(|conflict| conflict.batch.as_ref() != Some(&draw.batch));
        (taken(telling, draw, sure), sure)
    };
    Demand {
        name: demand.clone(),
        by: dates::day(*by, telling.today),
        for_use: words::purpose(*for_use),
        drawing: supply::drawing(*needed_m3, expected_m3, &told),
        needed,
        expected,
        range: figures::volume_range(expected_m3, farm),
        short,
        is_sure: expected_m3.p10 >= *needed_m3 * (1.0 - NEGLIGIBLE),
        taken_from: taken_from.iter().map(taken).collect(),
        remedies: of(ConflictKind::Shortfall).flat_map(|own| remedies(telling, &own.remedies)).collect(),
    }
}

/// What is taken from a batch.
fn taken(telling: &Telling<'_>, Draw { batch, volume_m3, ready_probability }: &Draw, sure: bool) -> String {
    let name = telling.name(batch).map_or_else(|| dates::in_text(batch, telling.today), str::to_owned);
    words::taken(&figures::volume(volume_m3.p50, telling.farm), &name, *ready_probability, sure)
}

fn remedies(telling: &Telling<'_>, all: &[Remedy]) -> Vec<String> {
    all.iter().map(|remedy| telling.sentence(&remedy.text)).collect()
}

/// What does not fit and is no need of the beds, in order of time.
pub fn troubles(telling: &Telling<'_>) -> Vec<Trouble> {
    let others = telling
        .plan
        .conflicts
        .iter()
        .filter(|own| !matches!(own.kind, ConflictKind::Shortfall | ConflictKind::Unsure));
    let trouble = |Conflict { kind, text, remedies: own, .. }: &Conflict| Trouble {
        kind: words::conflict(*kind),
        text: telling.sentence(text),
        remedies: remedies(telling, own),
    };
    others.map(trouble).collect()
}
