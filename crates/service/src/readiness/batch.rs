//! What is told of one batch.

use baycast_model::advice::{Advice, Subject, Urgency};
use baycast_model::estimate::{Estimate, HeapNow, Spread, Stage};
use baycast_model::probe::SuspectReading;
use baycast_model::sanitisation::{RuleFinding, Verdict};
use baycast_model::window::{Criterion, DateSpread, Use};
use jiff::civil::Date;
use jiff::{Span, Timestamp};
use serde::{Deserialize, Serialize};

/// How far along a batch is, on the farm's day.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct BatchReadiness {
    /// The batch's id.
    pub batch: String,
    /// What people call it; empty where it has no name.
    #[serde(default)]
    pub name: String,
    /// The bay it stands in.
    pub bay: String,
    /// The farm's day that it is for.
    #[cfg_attr(feature = "schema", schema(value_type = String, format = Date))]
    pub as_of: Date,
    /// When it last changed.
    #[cfg_attr(feature = "schema", schema(value_type = String, format = DateTime))]
    pub changed_at: Timestamp,
    /// Version of the model that answered.
    pub model_version: String,
    /// How far along it is.
    pub stage: Stage,
    /// The heap on that day; absent where nothing is left of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub now: Option<HeapNow>,
    /// Degraded share of the initially degradable volatile solids, 0 to 1; absent where nothing is left.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub maturity_index: Option<Spread>,
    /// When it can be spread, for each use.
    pub windows: Vec<WindowReadiness>,
    /// The turn that is advised, with its day.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub turn: Option<SuggestedTurn>,
    /// What to do, the most pressing first.
    pub advice: Vec<Advice>,
    /// Readings that were set aside or count for less, and why.
    pub suspect_readings: Vec<SuspectReading>,
    /// The sanitisation rules that readings meet. Evidence is what was measured, never a forecast.
    pub sanitisation_met: Vec<RuleFinding>,
}

/// When a batch is fit for a use, as it was told last.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct WindowReadiness {
    /// The use.
    #[serde(rename = "use")]
    pub for_use: Use,
    /// First day on which every criterion holds.
    pub opens: DateSpread,
    /// Day by which further shrinkage has cost the set share of the volume at opening.
    pub best_by: DateSpread,
    /// Probability that it is open on the day, 0 to 1.
    pub open_now_probability: f64,
    /// The criterion that most often holds the opening back.
    pub binding: Criterion,
    /// Expected volume at opening, m³; absent where it does not open before the horizon.
    pub volume_at_opening_m3: Option<f64>,
    /// How often its days have changed since they were first told: the SEQUENCE of its calendar event.
    pub sequence: u32,
    /// When its days last changed.
    #[cfg_attr(feature = "schema", schema(value_type = String, format = DateTime))]
    pub changed_at: Timestamp,
}

/// A turn that is advised.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SuggestedTurn {
    /// The day on which it was first advised: part of what names its calendar event.
    #[cfg_attr(feature = "schema", schema(value_type = String, format = Date))]
    pub since: Date,
    /// The day by which it should be done.
    #[cfg_attr(feature = "schema", schema(value_type = String, format = Date))]
    pub by: Date,
    /// What to do, in a sentence.
    pub action: String,
    /// Why.
    pub reason: String,
    /// How often its day or what to do has changed since it was first told.
    pub sequence: u32,
    /// When it last changed.
    #[cfg_attr(feature = "schema", schema(value_type = String, format = DateTime))]
    pub changed_at: Timestamp,
}

impl BatchReadiness {
    /// The readiness that an estimate tells at `now`, after what was told `before`.
    ///
    /// A turn keeps the day that it was first told with, unless it becomes more pressing.
    #[must_use]
    pub fn told(estimate: &Estimate, name: &str, before: Option<&Self>, now: Timestamp) -> Self {
        let windows = estimate.windows.iter().map(|window| {
            let before = before.and_then(|it| it.windows.iter().find(|own| own.for_use == window.for_use));
            let same = before.filter(|it| it.opens == window.opens && it.best_by == window.best_by);
            WindowReadiness {
                for_use: window.for_use,
                opens: window.opens,
                best_by: window.best_by,
                open_now_probability: window.open_now_probability,
                binding: window.binding,
                volume_at_opening_m3: window.volume_at_opening_m3,
                sequence: before.map_or(0, |it| it.sequence + u32::from(same.is_none())),
                changed_at: same.map_or(now, |it| it.changed_at),
            }
        });
        let mut told = Self {
            batch: estimate.batch.clone(),
            name: name.to_owned(),
            bay: estimate.bay.clone(),
            as_of: estimate.as_of,
            changed_at: now,
            model_version: estimate.model_version.clone(),
            stage: estimate.stage,
            now: estimate.now,
            maturity_index: estimate.maturity.as_ref().map(|maturity| maturity.index),
            windows: windows.collect(),
            turn: SuggestedTurn::told(estimate, before, now),
            advice: estimate.advice.clone(),
            suspect_readings: estimate.suspect_readings.clone(),
            sanitisation_met: estimate
                .sanitisation
                .iter()
                .filter(|finding| finding.verdict == Verdict::Met)
                .cloned()
                .collect(),
        };
        if let Some(before) = before.filter(|before| !told.differs(before)) {
            told.changed_at = before.changed_at;
        }
        told
    }

    /// Whether it tells anything else than `before`, but for the day that it is for and the model that answered.
    #[must_use]
    pub fn differs(&self, before: &Self) -> bool {
        let Self { as_of, changed_at, ref model_version, .. } = *self;
        let before = Self { as_of, changed_at, model_version: model_version.clone(), ..before.clone() };
        *self != before
    }
}

impl SuggestedTurn {
    /// The turn that an estimate advises, after what was told `before`.
    fn told(estimate: &Estimate, before: Option<&BatchReadiness>, now: Timestamp) -> Option<Self> {
        let turn = estimate.advice.iter().find(|advice| advice.subject == Subject::Turn)?;
        let within = match turn.urgency {
            Urgency::Now => 0,
            Urgency::Soon => 7,
            Urgency::Whenever => 14,
        };
        let by = estimate.as_of.saturating_add(Span::new().days(within));
        let last = before.and_then(|it| it.turn.as_ref());
        let by = last.map_or(by, |last| last.by.min(by).max(estimate.as_of));
        let same = last.filter(|last| last.by == by && last.action == turn.action);
        Some(Self {
            since: last.map_or(estimate.as_of, |last| last.since),
            by,
            action: turn.action.clone(),
            reason: turn.reason.clone(),
            sequence: last.map_or(0, |last| last.sequence + u32::from(same.is_none())),
            changed_at: same.map_or(now, |last| last.changed_at),
        })
    }
}
