//! What an estimate says, list by list.

use baycast_model::estimate::Estimate;
use baycast_model::sanitisation::Verdict;
use baycast_service::records::Farm;
use jiff::civil::Date;

use crate::{dates, figures, words};

/// Something to do.
pub struct Job {
    /// How it presses, in words and for the style sheet.
    pub urgency: &'static str,
    pub class: &'static str,
    /// What to do.
    pub action: String,
    /// Why.
    pub reason: String,
}

/// A window.
pub struct Window {
    /// For which use.
    pub for_use: &'static str,
    /// When it opens, and within which days.
    pub opens: String,
    pub range: String,
    /// Until when it is at its best.
    pub best_by: String,
    /// What it waits for; empty where it is open.
    pub waits_for: &'static str,
    /// How much there is then.
    pub volume: String,
}

/// What readings show against a rule.
pub struct Evidence {
    /// The rule.
    pub rule: &'static str,
    /// Whether they show that it is met.
    pub met: bool,
    /// What they show.
    pub shows: String,
    /// What is short, or what it rests on.
    pub explanation: String,
    /// Where the rule is written.
    pub source: String,
}

/// A weed.
pub struct Seed {
    /// What it is called.
    pub name: String,
    /// How much heat it stands.
    pub tolerance: &'static str,
    /// How many of its seeds live.
    pub alive: String,
}

/// From this probability on a window is said to be open.
const OPEN: f64 = 0.5;

/// What is to be done.
pub fn jobs(estimate: &Estimate) -> Vec<Job> {
    let job = |advice: &baycast_model::advice::Advice| Job {
        urgency: words::urgency(advice.urgency),
        class: crate::yard::urgency_class(advice.urgency),
        action: advice.action.clone(),
        reason: words::sentence(&advice.reason),
    };
    estimate.advice.iter().map(job).collect()
}

/// Readings that are doubted: when, and why.
pub fn doubts(estimate: &Estimate, today: Date) -> Vec<(String, String)> {
    let doubt = |own: &baycast_model::probe::SuspectReading| {
        let why = words::doubt(own.temperature_c, words::suspicion(own.reason), own.weight);
        (dates::day(own.at.date(), today), why)
    };
    estimate.suspect_readings.iter().map(doubt).collect()
}

/// When it can be used.
pub fn windows(estimate: &Estimate, today: Date, farm: &Farm) -> Vec<Window> {
    let window = |own: &baycast_model::window::Window| {
        let open = own.open_now_probability >= OPEN;
        let opens = match own.opens.p50 {
            _ if open => words::open_now(own.open_now_probability),
            Some(day) => dates::day(day, today),
            None => words::NOT_WITHIN_A_YEAR.to_owned(),
        };
        Window {
            for_use: words::purpose(own.for_use),
            opens,
            range: dates::range(&own.opens, today).unwrap_or_default(),
            best_by: own.best_by.p50.map(|day| dates::day(day, today)).unwrap_or_default(),
            waits_for: if open { "" } else { words::waits_for(own.binding) },
            volume: own.volume_at_opening_m3.map(|volume| figures::volume(volume, farm)).unwrap_or_default(),
        }
    };
    estimate.windows.iter().map(window).collect()
}

/// What readings show against each rule.
pub fn evidence(estimate: &Estimate, today: Date) -> Vec<Evidence> {
    let finding = |own: &baycast_model::sanitisation::RuleFinding| {
        let dates = own
            .from
            .zip(own.to)
            .map(|(from, to)| words::from_to(&dates::day(from, today), &dates::day(to, today)));
        let shows = match own.verdict {
            Verdict::IndicativeOnly => String::new(),
            _ => words::days_of(own.shown_days, own.required_days),
        };
        let parts = [Some(words::verdict(own.verdict).to_owned()), dates, Some(shows)];
        let parts: Vec<String> = parts.into_iter().flatten().filter(|part| !part.is_empty()).collect();
        Evidence {
            rule: own.rule.name(),
            met: own.verdict == Verdict::Met,
            shows: parts.join("; "),
            explanation: words::sentence(&own.explanation),
            source: own.source.clone(),
        }
    };
    estimate.sanitisation.iter().map(finding).collect()
}

/// Which weeds live on.
pub fn seeds(estimate: &Estimate) -> Vec<Seed> {
    let seed = |own: &baycast_model::seeds::SeedSurvival| Seed {
        name: own.name.clone(),
        tolerance: words::tolerance(own.tolerance),
        alive: words::perhaps(&words::alive(own.p50_fraction), &words::alive(own.p90_fraction)),
    };
    estimate.seeds.iter().map(seed).collect()
}
