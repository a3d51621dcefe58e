//! What happened to a batch between what someone was told of it and what is told now.
//!
//! - A stage is news when it is another one.
//! - A window's move is news when its opening day, P50, is more than the set number of days from the one told, so that slow
//!   drift adds up to a move; also where it goes beyond the horizon or comes from there. A move within the past is none.
//! - That a window opened is news on the day that reaches its P50, once, and again only after a move into the future was told.
//! - That its best-by day is near is news once, and again only after that day went farther off by more than a move.
//! - Heat and wetness are news once a spell, and fire once more in a spell of heat.
//! - A doubted reading is news once; a sanitisation rule as long as the readings go on meeting it. A forecast never is.
//!
//! Of a batch that nothing was told of yet, its stage is news, what is too hot or too wet, and a window that opens on that very
//! day. All else of it was so before anyone asked, as where old notes are brought in.

use baycast_model::advice::{Advice, Subject};
use baycast_model::estimate::Stage;
use baycast_model::probe::SuspectReading;
use baycast_model::sanitisation::RuleFinding;
use baycast_model::window::{DateSpread, Use};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::readiness::known::{Heat, Known, KnownReading, KnownWindow};
use crate::readiness::{BatchReadiness, WindowReadiness};

/// The kinds of news of a batch.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum OccurrenceKind {
    /// The batch entered a stage.
    StageEntered,
    /// A window's opening day moved by more than the set number of days since it was told.
    WindowMoved,
    /// A window opened.
    WindowOpened,
    /// The best-by day of an open window is near.
    BestByNear,
    /// Too hot, or hot enough to catch fire.
    TooHot,
    /// Too wet.
    TooWet,
    /// A reading is doubted.
    ProbeSuspect,
    /// Readings meet a sanitisation rule.
    SanitisationEvidenceMet,
}

impl OccurrenceKind {
    /// All kinds.
    pub const ALL: [Self; 8] = [
        Self::StageEntered,
        Self::WindowMoved,
        Self::WindowOpened,
        Self::BestByNear,
        Self::TooHot,
        Self::TooWet,
        Self::ProbeSuspect,
        Self::SanitisationEvidenceMet,
    ];

    /// The kind in a word.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::StageEntered => "stage_entered",
            Self::WindowMoved => "window_moved",
            Self::WindowOpened => "window_opened",
            Self::BestByNear => "best_by_near",
            Self::TooHot => "too_hot",
            Self::TooWet => "too_wet",
            Self::ProbeSuspect => "probe_suspect",
            Self::SanitisationEvidenceMet => "sanitisation_evidence_met",
        }
    }
}

/// Something that happened: in JSON a member named after its kind.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Occurrence {
    /// The batch entered a stage.
    StageEntered {
        /// The stage.
        stage: Stage,
        /// The one told before; absent where none was.
        #[serde(skip_serializing_if = "Option::is_none")]
        before: Option<Stage>,
    },
    /// A window's opening day moved.
    WindowMoved {
        /// The use.
        #[serde(rename = "use")]
        for_use: Use,
        /// When it opens.
        opens: DateSpread,
        /// The P50 that was told; absent where it lay beyond the horizon.
        #[serde(skip_serializing_if = "Option::is_none")]
        told_p50: Option<Date>,
        /// Days by which it opens later, negative for earlier; absent where either lies beyond the horizon.
        #[serde(skip_serializing_if = "Option::is_none")]
        later_by_days: Option<i64>,
    },
    /// A window opened.
    WindowOpened {
        /// The use.
        #[serde(rename = "use")]
        for_use: Use,
        /// When it opens.
        opens: DateSpread,
        /// Until when it is worth keeping.
        best_by: DateSpread,
    },
    /// The best-by day of an open window is near.
    BestByNear {
        /// The use.
        #[serde(rename = "use")]
        for_use: Use,
        /// Until when it is worth keeping.
        best_by: DateSpread,
        /// Days until its P50.
        days_left: i64,
    },
    /// Too hot, or hot enough to catch fire: what to do, and why.
    TooHot(Advice),
    /// Too wet: what to do, and why.
    TooWet(Advice),
    /// Readings are doubted that were not before.
    ProbeSuspect {
        /// The readings.
        readings: Vec<SuspectReading>,
    },
    /// Readings meet a sanitisation rule.
    SanitisationEvidenceMet(RuleFinding),
}

impl Occurrence {
    /// Its kind.
    #[must_use]
    pub fn kind(&self) -> OccurrenceKind {
        match self {
            Self::StageEntered { .. } => OccurrenceKind::StageEntered,
            Self::WindowMoved { .. } => OccurrenceKind::WindowMoved,
            Self::WindowOpened { .. } => OccurrenceKind::WindowOpened,
            Self::BestByNear { .. } => OccurrenceKind::BestByNear,
            Self::TooHot(_) => OccurrenceKind::TooHot,
            Self::TooWet(_) => OccurrenceKind::TooWet,
            Self::ProbeSuspect { .. } => OccurrenceKind::ProbeSuspect,
            Self::SanitisationEvidenceMet(_) => OccurrenceKind::SanitisationEvidenceMet,
        }
    }
}

/// How much of a change is news to someone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Interest {
    /// Days that a window must have moved by.
    pub moved_days: u32,
    /// Days before a best-by day that it is near.
    pub best_by_days: u32,
}

/// What happened since someone was `told`, and what they know once they hear of it. Where they were told nothing yet, since
/// what was told to everyone `before`.
#[must_use]
pub fn occurrences(
    told: Option<Known>,
    before: Option<&BatchReadiness>,
    after: &BatchReadiness,
    interest: Interest,
) -> (Vec<Occurrence>, Known) {
    let known = told.or_else(|| before.map(|before| Known::of(before, interest)));
    let mut told = known.unwrap_or_else(|| Known::before_the_first(after, interest));
    let mut found = Vec::new();
    if told.stage != Some(after.stage) {
        found.push(Occurrence::StageEntered { stage: after.stage, before: told.stage });
        told.stage = Some(after.stage);
    }
    for window in &after.windows {
        let index = told.windows.iter().position(|own| own.for_use == window.for_use).unwrap_or_else(|| {
            told.windows.push(KnownWindow::of(window, after.as_of, interest));
            told.windows.len() - 1
        });
        of_window(&mut told.windows[index], window, after.as_of, interest, &mut found);
    }
    of_advice(&mut told, after, &mut found);
    let doubted = |reading: &&SuspectReading| !told.suspects.contains(&KnownReading::of(reading));
    let readings: Vec<SuspectReading> = after.suspect_readings.iter().filter(doubted).cloned().collect();
    if !readings.is_empty() {
        told.suspects.extend(readings.iter().map(KnownReading::of));
        found.push(Occurrence::ProbeSuspect { readings });
    }
    let met = after.sanitisation_met.iter().filter(|finding| !told.rules.contains(&finding.rule));
    found.extend(met.cloned().map(Occurrence::SanitisationEvidenceMet));
    told.rules = after.sanitisation_met.iter().map(|finding| finding.rule).collect();
    (found, told)
}

/// What happened to a window.
fn of_window(
    told: &mut KnownWindow,
    window: &WindowReadiness,
    as_of: Date,
    interest: Interest,
    found: &mut Vec<Occurrence>,
) {
    let WindowReadiness { for_use, opens, best_by, .. } = *window;
    let later_by_days = told.opens.zip(opens.p50).map(|(told, now)| days_between(told, now));
    let far =
        later_by_days.map_or(told.opens != opens.p50, |days| days.abs() > i64::from(interest.moved_days));
    let past = |day: Option<Date>| day.is_some_and(|day| day <= as_of);
    if far {
        if !(past(told.opens) && past(opens.p50)) {
            let told_p50 = told.opens;
            found.push(Occurrence::WindowMoved { for_use, opens, told_p50, later_by_days });
        }
        told.opens = opens.p50;
        told.opened &= past(opens.p50);
    }
    let over = best_by.p50.is_some_and(|day| day < as_of);
    if past(opens.p50) && !over && !told.opened {
        found.push(Occurrence::WindowOpened { for_use, opens, best_by });
        told.opened = true;
    }
    let Some(best_by_day) = best_by.p50 else { return };
    let days_left = days_between(as_of, best_by_day);
    if days_left > i64::from(interest.best_by_days + interest.moved_days) {
        told.best_by_near = false;
    }
    if past(opens.p50) && !told.best_by_near && (0..=i64::from(interest.best_by_days)).contains(&days_left) {
        found.push(Occurrence::BestByNear { for_use, best_by, days_left });
        told.best_by_near = true;
    }
}

/// What is advised that was not.
fn of_advice(told: &mut Known, after: &BatchReadiness, found: &mut Vec<Occurrence>) {
    let on = |subject: Subject| after.advice.iter().find(|advice| advice.subject == subject);
    let heat = Heat::of(after);
    if heat > told.heat {
        let advice = on(Subject::FireRisk).or_else(|| on(Subject::TooHot));
        found.extend(advice.cloned().map(Occurrence::TooHot));
    }
    told.heat = heat;
    let wet = on(Subject::TooWet);
    if !told.wet {
        found.extend(wet.cloned().map(Occurrence::TooWet));
    }
    told.wet = wet.is_some();
}

/// Days from one day to another.
pub(super) fn days_between(from: Date, to: Date) -> i64 {
    to.duration_since(from).as_hours() / 24
}

#[cfg(test)]
mod tests;
