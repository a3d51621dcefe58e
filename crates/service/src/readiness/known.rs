//! What someone was told of a batch.

use baycast_model::advice::Subject;
use baycast_model::estimate::Stage;
use baycast_model::moment::Moment;
use baycast_model::probe::SuspectReading;
use baycast_model::sanitisation::Rule;
use baycast_model::window::Use;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::readiness::occurrence::{Interest, days_between};
use crate::readiness::{BatchReadiness, WindowReadiness};

/// What someone knows of a batch, as far as it decides what is news to them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Known {
    /// The stage; none where nothing was told.
    pub(super) stage: Option<Stage>,
    /// Each window.
    pub(super) windows: Vec<KnownWindow>,
    /// How hot.
    pub(super) heat: Heat,
    /// Whether too wet.
    pub(super) wet: bool,
    /// Every reading that ever was doubted.
    pub(super) suspects: Vec<KnownReading>,
    /// The sanitisation rules that readings met.
    pub(super) rules: Vec<Rule>,
}

/// What was told of a window.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct KnownWindow {
    /// The use.
    #[serde(rename = "use")]
    pub for_use: Use,
    /// The P50 of its opening day, as last told; none beyond the horizon.
    pub opens: Option<Date>,
    /// Whether it was told that it opened.
    pub opened: bool,
    /// Whether it was told that its best-by day is near.
    pub best_by_near: bool,
}

/// How hot it was said to be.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Heat {
    /// Not too hot.
    None,
    /// Too hot.
    TooHot,
    /// Hot enough to catch fire.
    Fire,
}

/// What tells a doubted reading from others.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub(super) struct KnownReading {
    at: Moment,
    temperature_c: f64,
}

impl Known {
    /// All that a readiness says.
    pub(super) fn of(readiness: &BatchReadiness, interest: Interest) -> Self {
        let window = |window| KnownWindow::of(window, readiness.as_of, interest);
        Self {
            stage: Some(readiness.stage),
            windows: readiness.windows.iter().map(window).collect(),
            heat: Heat::of(readiness),
            wet: readiness.advice.iter().any(|advice| advice.subject == Subject::TooWet),
            suspects: readiness.suspect_readings.iter().map(KnownReading::of).collect(),
            rules: readiness.sanitisation_met.iter().map(|finding| finding.rule).collect(),
        }
    }

    /// What the first readiness of a batch says that is no news.
    pub(super) fn before_the_first(first: &BatchReadiness, interest: Interest) -> Self {
        let mut told = Self { stage: None, heat: Heat::None, wet: false, ..Self::of(first, interest) };
        for window in told.windows.iter_mut().filter(|window| window.opens == Some(first.as_of)) {
            (window.opened, window.best_by_near) = (false, false);
        }
        told
    }
}

impl KnownWindow {
    /// What a window's readiness says on a day.
    pub fn of(window: &WindowReadiness, as_of: Date, interest: Interest) -> Self {
        let opened = window.opens.p50.is_some_and(|day| day <= as_of);
        let near = |day: Date| days_between(as_of, day) <= i64::from(interest.best_by_days);
        Self {
            for_use: window.for_use,
            opens: window.opens.p50,
            opened,
            best_by_near: opened && window.best_by.p50.is_some_and(near),
        }
    }
}

impl Heat {
    /// How hot a readiness says that it is.
    pub fn of(readiness: &BatchReadiness) -> Self {
        let advised = |subject: Subject| readiness.advice.iter().any(|advice| advice.subject == subject);
        match (advised(Subject::FireRisk), advised(Subject::TooHot)) {
            (true, _) => Self::Fire,
            (false, true) => Self::TooHot,
            (false, false) => Self::None,
        }
    }
}

impl KnownReading {
    /// The reading.
    pub fn of(reading: &SuspectReading) -> Self {
        Self { at: reading.at, temperature_c: reading.temperature_c }
    }
}
