//! What earlier batches of a bay taught about the next.

use serde::{Deserialize, Serialize};

use crate::draw::Sought;
use crate::estimate::Assumption;
use crate::prior::Prior;
use crate::variant::{Unknown, error};

/// Beliefs about a heap that rest on earlier batches.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Lesson {
    /// The batches, by name.
    #[serde(default)]
    pub batches: Vec<String>,
    /// What they taught, each unknown at most once: of `kinetics`, `heat_loss` and `slow_part`, which a bay and what a
    /// farm puts in it keep.
    pub beliefs: Vec<Belief>,
}

/// A belief about one factor.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Belief {
    /// What the factor is on.
    pub unknown: Unknown,
    /// The middle, 0.3 to 3.
    #[cfg_attr(feature = "schema", schema(minimum = 0.3, maximum = 3))]
    pub factor: f64,
    /// Standard deviation of its logarithm, 0.01 to 1.
    #[cfg_attr(feature = "schema", schema(minimum = 0.01, maximum = 1))]
    pub log_deviation: f64,
}

/// Middles that a belief may have.
pub const FACTORS: std::ops::RangeInclusive<f64> = 0.3..=3.0;

/// Unknowns that a lesson may speak of, with their place in a draw and their standard error on a log scale.
pub const KEPT: [(Unknown, usize, f64); 3] = [
    (Unknown::Kinetics, 0, error::KINETICS),
    (Unknown::HeatLoss, 1, error::CONDUCTANCE),
    (Unknown::SlowPart, 4, error::SLOW_PART),
];

impl Lesson {
    /// That it is relied on, in words.
    #[must_use]
    pub fn assumption(&self) -> Assumption {
        let assumed = format!("what earlier batches of the bay taught: {}", self.batches.join(", "));
        Assumption { pointer: "/lesson".into(), assumed }
    }

    /// The prior of the next batch.
    #[must_use]
    pub fn prior(&self) -> Prior {
        let mut prior = Prior { mean: Sought::zeros(), deviation: Sought::repeat(1.0) };
        for belief in &self.beliefs {
            if let Some((_, place, error)) = KEPT.iter().find(|(unknown, ..)| *unknown == belief.unknown) {
                prior.mean[*place] = belief.factor.ln() / error;
                prior.deviation[*place] = belief.log_deviation / error;
            }
        }
        prior
    }
}
