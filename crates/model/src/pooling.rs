//! Pooling: what finished batches of a bay teach about the next.
//!
//! A factor on a log scale, in standard errors of what is believed of any heap, is the sum of two parts: one that a bay and
//! what a farm puts in it keep from batch to batch, and one of the batch alone. Before anything is seen the two together
//! vary as any heap does: their variances, [`BETWEEN`] and [`WITHIN`], add up to 1. A finished batch tells of their sum no
//! more than its own readings did: its posterior with its prior divided out. The next batch's belief is normal about what
//! all of them leave of the part that is kept, with the variance left of it and that of a batch alone. (Hierarchical
//! normal model with known variances: Gelman and others 2013, Bayesian Data Analysis, section 5.4, from memory.) The
//! factors are pooled each by itself: how they hang together within a batch is left out.

use jiff::civil::Date;

use crate::estimate::Spread;
use crate::estimator::{EstimateError, estimate};
use crate::history::History;
use crate::learned::{Learned, Trust};
use crate::learning::NINE_TENTHS;
use crate::lesson::{Belief, FACTORS, KEPT, Lesson};
use crate::moment::Moment;

/// Variance of what is kept from batch to batch, as a share of that of any heap: half, so that however many batches were
/// seen, the next one's range is at least seven tenths of what it is without them. Estimate.
const BETWEEN: f64 = 0.5;
/// Variance of what is of a batch alone.
const WITHIN: f64 = 1.0 - BETWEEN;

/// How far from the middle of all heaps readings alone may put a factor, standard errors: where a belief moved without
/// becoming narrower they would put it anywhere. Estimate.
const FURTHEST: f64 = 3.0;

/// How many batches are looked back on: the last ones, since what a farm puts in changes with the years.
pub const LOOKED_BACK_ON: usize = 8;

/// What a finished batch taught.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Taught {
    /// Of each of [`KEPT`].
    evidence: [Evidence; KEPT.len()],
    /// The last day on which anything was seen of it.
    pub until: Date,
}

/// What readings alone say of a factor: a normal likelihood.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Evidence {
    /// One over its variance.
    precision: f64,
    /// Its mean times its precision.
    pull: f64,
}

impl Evidence {
    /// What lies between a belief before and after; nothing where the later one is the wider.
    fn between(before: Spread, after: Spread, error: f64) -> Self {
        let normal = |spread: Spread| {
            let deviation = (spread.p90 / spread.p10).ln() / (2.0 * NINE_TENTHS * error);
            let precision = deviation.powi(-2);
            (precision, precision * spread.p50.ln() / error)
        };
        let ((before, pull_before), (after, pull_after)) = (normal(before), normal(after));
        let precision = (after - before).max(0.0);
        let furthest = FURTHEST * precision;
        Self { precision, pull: (pull_after - pull_before).clamp(-furthest, furthest) }
    }

    /// The same of the part that is kept: the part of the batch alone blurs it.
    fn of_the_kept(self) -> Self {
        let blur = 1.0 + WITHIN * self.precision;
        Self { precision: self.precision / blur, pull: self.pull / blur }
    }
}

impl Taught {
    /// What a finished batch teaches, estimated as of the last day on which anything was seen of it and without a lesson of
    /// its own, so that it doesn't matter in which order batches are asked about. Nothing where nothing was seen, or what
    /// was seen fits no plausible heap.
    pub fn by(history: &History) -> Result<Option<Self>, EstimateError> {
        let seen = history
            .events
            .iter()
            .filter(|event| event.reading.is_some() || event.moisture.is_some() || event.level.is_some());
        let Some(until) = seen.map(|event| event.at.date()).max() else { return Ok(None) };
        let finished = History {
            as_of: Some(Moment::Date(until)),
            horizon_days: Some(1),
            ready_by: Vec::new(),
            compare_futures: false,
            lesson: None,
            ..history.clone()
        };
        Ok(Self::of(&estimate(&finished, until)?.learned, until))
    }

    /// What was learned of a batch, as far as it can be relied on.
    fn of(learned: &Learned, until: Date) -> Option<Self> {
        if !matches!(learned.trust, Trust::FewReadings | Trust::Readings) {
            return None;
        }
        let evidence = KEPT.map(|(unknown, _, error)| {
            let factor = learned.factors.iter().find(|factor| factor.unknown == unknown);
            let nothing = Evidence { precision: 0.0, pull: 0.0 };
            factor.map_or(nothing, |factor| Evidence::between(factor.before, factor.after, error))
        });
        Some(Self { evidence, until })
    }
}

impl Lesson {
    /// What finished batches teach about the next, by their names; none where there are none.
    #[must_use]
    pub fn of(finished: &[(String, Taught)]) -> Option<Self> {
        let beliefs = (0..KEPT.len()).map(|place| {
            let (unknown, _, error) = KEPT[place];
            let kept = finished.iter().map(|(_, taught)| taught.evidence[place].of_the_kept());
            let any = Evidence { precision: 1.0 / BETWEEN, pull: 0.0 };
            let Evidence { precision, pull } = kept.fold(any, |sum, own| Evidence {
                precision: sum.precision + own.precision,
                pull: sum.pull + own.pull,
            });
            let factor = (error * pull / precision).exp();
            Belief {
                unknown,
                factor: factor.clamp(*FACTORS.start(), *FACTORS.end()),
                log_deviation: error * (1.0 / precision + WITHIN).sqrt(),
            }
        });
        let batches = finished.iter().map(|(name, _)| name.clone()).collect();
        (!finished.is_empty()).then(|| Self { batches, beliefs: beliefs.collect() })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::learned::Factor;

    /// Spread of a factor whose logarithm, in standard errors, is normal.
    fn normal(mean: f64, variance: f64, error: f64) -> Spread {
        let at = |z: f64| (error * (mean + z * variance.sqrt())).exp();
        Spread { p10: at(-NINE_TENTHS), p50: at(0.0), p90: at(NINE_TENTHS) }
    }

    /// What a batch taught whose factors all had this mean and variance before and after.
    fn taught(before: (f64, f64), after: (f64, f64)) -> Taught {
        let evidence = KEPT.map(|(_, _, error)| {
            Evidence::between(normal(before.0, before.1, error), normal(after.0, after.1, error), error)
        });
        Taught { evidence, until: jiff::civil::date(2026, 6, 1) }
    }

    /// Mean and variance of what is believed of the next batch, in standard errors.
    fn next(finished: &[Taught]) -> (f64, f64) {
        let named: Vec<_> = finished.iter().map(|taught| ("spring".to_owned(), *taught)).collect();
        let lesson = Lesson::of(&named).expect("a lesson");
        let prior = lesson.prior();
        for (_, place, _) in KEPT {
            assert!((prior.mean[place] - prior.mean[0]).abs() < 1e-12, "all factors were told alike");
            assert!((prior.deviation[place] - prior.deviation[0]).abs() < 1e-12);
        }
        assert!((prior.mean[2], prior.deviation[2]) == (0.0, 1.0), "water is of the batch alone");
        (prior.mean[0], prior.deviation[0].powi(2))
    }

    fn assert_near((mean, variance): (f64, f64), (mean_by_hand, variance_by_hand): (f64, f64)) {
        assert!((mean - mean_by_hand).abs() < 1e-9, "mean {mean}, by hand {mean_by_hand}");
        assert!(
            (variance - variance_by_hand).abs() < 1e-9,
            "variance {variance}, by hand {variance_by_hand}"
        );
    }

    /// From N(0, 1) to N(1, 1/4): readings alone say 4/3 with variance 1/3, since 1/(1/4) - 1 = 3 and 4 × 1 - 0 = 4.
    const READ: ((f64, f64), (f64, f64)) = ((0.0, 1.0), (1.0, 0.25));

    /// By conditioning the joint normal of batch and next batch, covariance 1/2: the mean of the next is
    /// 1/2 / (1 + 1/3) × 4/3 = 1/2, its variance 1 - (1/2)² / (4/3) = 13/16.
    #[test]
    fn one_batch_moves_the_next_half_way_at_most() {
        assert_near(next(&[taught(READ.0, READ.1)]), (0.5, 0.8125));
    }

    /// The same with covariance [[4/3, 1/2], [1/2, 4/3]] among two: weights 1/2 / (4/3 + 1/2) = 3/11 each, so mean
    /// 2 × 3/11 × 4/3 = 8/11 and variance 1 - 2 × 3/11 × 1/2 = 8/11.
    #[test]
    fn two_batches_that_agree_move_it_further() {
        let one = taught(READ.0, READ.1);
        assert_near(next(&[one, one]), (8.0 / 11.0, 8.0 / 11.0));
    }

    /// Two that say the opposite leave the middle where it was.
    #[test]
    fn two_batches_that_disagree_narrow_without_moving() {
        let (faster, slower) = (taught(READ.0, READ.1), taught(READ.0, (-1.0, 0.25)));
        assert_near(next(&[faster, slower]), (0.0, 8.0 / 11.0));
    }

    /// The batch of [`READ`], had it been estimated with the lesson of another: before N(1/2, 13/16), after, by Bayes, with
    /// precision 16/13 + 3 and mean (8/13 + 4) / (16/13 + 3) = 60/55. It teaches what it teaches without.
    #[test]
    fn a_batch_teaches_the_same_whatever_it_was_taught() {
        let precision: f64 = 16.0 / 13.0 + 3.0;
        let with = taught((0.5, 13.0 / 16.0), (60.0 / 55.0, 1.0 / precision));
        assert_near(next(&[with]), next(&[taught(READ.0, READ.1)]));
    }

    /// However many and however sure: each batch is another heap, variance 1/2.
    #[test]
    fn the_next_batch_is_never_known_better_than_batches_differ() {
        let sure = taught((0.0, 1.0), (1.0, 1e-9));
        // Each tells of the kept part with precision 2, the prior too: 2 + 2 × 1000 in all.
        let (mean, variance) = next(&vec![sure; 1_000]);
        assert!(
            (mean - 2_000.0 / 2_002.0).abs() < 1e-6 && (variance - 0.5 - 1.0 / 2_002.0).abs() < 1e-6,
            "{mean} {variance}"
        );
    }

    /// A batch of which nothing was learned, and one whose range came out wider than it went in.
    #[test]
    fn what_was_not_learned_teaches_nothing() {
        for after in [(0.0, 1.0), (0.3, 1.0), (0.3, 1.2)] {
            assert_near(next(&[taught((0.0, 1.0), after)]), (0.0, 1.0));
        }
        assert_eq!(Lesson::of(&[]), None);
    }

    #[test]
    fn a_lesson_is_one_that_a_history_may_have() {
        let far = taught((0.0, 1.0), (30.0, 0.01));
        let lesson = Lesson::of(&[("spring".to_owned(), far)]).expect("a lesson");
        for belief in lesson.beliefs {
            assert!(FACTORS.contains(&belief.factor), "{belief:?}");
        }
    }

    #[test]
    fn a_batch_that_cannot_be_relied_on_teaches_nothing() {
        let factors = KEPT.map(|(unknown, _, error)| Factor {
            unknown,
            before: normal(READ.0.0, READ.0.1, error),
            after: normal(READ.1.0, READ.1.1, error),
        });
        let learned = |trust| Learned {
            trust,
            reason: String::new(),
            observations: 9,
            factors: factors.to_vec(),
            probe_bias_c: normal(0.0, 1.0, 1.0),
            volume_factor: normal(0.0, 1.0, 1.0),
            moved: Vec::new(),
            next_look: None,
        };
        let day = jiff::civil::date(2026, 6, 1);
        for trust in [Trust::FewReadings, Trust::Readings] {
            assert_eq!(Taught::of(&learned(trust), day), Some(taught(READ.0, READ.1)), "{trust:?}");
        }
        for trust in [Trust::MaterialsOnly, Trust::ReadingsDisagree] {
            assert_eq!(Taught::of(&learned(trust), day), None, "{trust:?}");
        }
    }
}
