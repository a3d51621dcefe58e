//! What was learned of a heap: read off the members.
//!
//! What was seen and when a window opens are both taken as linear in the unknowns over what is plausible, with slopes by
//! least squares over the members. Then the middle of the opening moves from where it was before anything was seen by a
//! sum, one part of which belongs to each observation (linear regression with a normal prior: Gelman and others 2013, Bayesian
//! Data Analysis, section 14.8, from memory).

use nalgebra::{DMatrix, DVector};

use crate::discrepancy::{BIAS_C, PROBE_C};
use crate::draw::{SOUGHT, Sought};
use crate::ensemble::{Basis, Member};
use crate::estimate::Spread;
use crate::history::Zone;
use crate::learned::{Factor, Input, Learned, Look, Moved, NextLook, Trust};
use crate::moisture::{MEASURED_ERROR, MODEL_ERROR};
use crate::moment::days_to_date;
use crate::observation::{SIGHTING_ERROR, VOLUME_ERROR};
use crate::timeline::Timeline;
use crate::variant::{Unknown, error};
use crate::weighted::spread;

/// Observations under which an answer rests on little.
const FEW: usize = 4;
/// Standard errors from the middle of all heaps beyond which one is hardly plausible.
const IMPLAUSIBLE: f64 = 2.5;
/// Share of doubted readings from which they disagree.
const DOUBTED: f64 = 0.3;
/// Weight under which a reading is doubted: some three and a half standard deviations off.
pub(crate) const DOUBTED_WEIGHT: f64 = 0.4;
/// Days ahead that a next reading may be taken.
const LOOK_AHEAD_DAYS: [f64; 4] = [1.0, 3.0, 7.0, 14.0];
/// Days by which a look must narrow an opening to be worth naming.
const WORTH_DAYS: f64 = 1.0;
/// Standard normal quantile of 0.9.
pub(crate) const NINE_TENTHS: f64 = 1.281_551_6;

/// What learning draws on.
pub(crate) struct Learning<'a> {
    pub timeline: &'a Timeline,
    pub basis: &'a Basis,
    pub members: &'a [Member],
    /// Observations that counted, and readings: all of them and those doubted or set aside.
    pub observations: usize,
    pub readings: usize,
    pub doubted: usize,
    /// Earlier batches that taught.
    pub earlier: usize,
    /// Opening of the bed-dressing window for each member, days; infinite where it does not.
    pub openings: &'a [f64],
}

impl Learning<'_> {
    pub(crate) fn learned(&self) -> Learned {
        let (mean, deviation) = self.after();
        let (trust, reason) = self.trust(&mean);
        let slopes = self.opening_slopes();
        let equal = |values: [f64; 3]| Spread { p10: values[0], p50: values[1], p90: values[2] };
        let fifths = |of: &dyn Fn(&Member) -> (f64, f64)| {
            let values = self.members.iter().flat_map(|member| {
                let (mean, deviation) = of(member);
                member.fifths.map(|z| (mean + z * deviation, member.weight))
            });
            spread(&values.collect::<Vec<_>>())
        };
        let volume = fifths(&|member| member.judged.volume.at(self.timeline.as_of));
        Learned {
            trust,
            reason,
            observations: self.observations as u32,
            factors: self.factors(&mean, &deviation),
            probe_bias_c: fifths(&|member| member.judged.core.bias_c()),
            volume_factor: equal([volume.p10, volume.p50, volume.p90].map(f64::exp)),
            moved: slopes.as_ref().map_or_else(Vec::new, |slopes| self.moved(slopes, &mean, &deviation)),
            next_look: self.next_look(),
        }
    }

    /// Mean and standard deviation of each unknown after all that was seen: the large sample's, moved by what was seen since
    /// as the members are.
    fn after(&self) -> (Sought, Sought) {
        let placed = &self.basis.placement;
        if self.basis.by.count() == self.observations {
            return (placed.mean, placed.deviation);
        }
        let moments = |weights: &[f64]| {
            let draws =
                || self.members.iter().map(|member| Sought::from_column_slice(&member.draw[..SOUGHT]));
            let mean: Sought = draws().zip(weights).map(|(draw, weight)| draw * *weight).sum();
            let square: Sought =
                draws().zip(weights).map(|(draw, weight)| (draw - mean).map(|z| z * z) * *weight).sum();
            (mean, square.map(f64::sqrt))
        };
        let counts: f64 = placed.draws.iter().map(|placed| placed.count).sum();
        let before: Vec<f64> = placed.draws.iter().map(|placed| placed.count / counts).collect();
        let now: Vec<f64> = self.members.iter().map(|member| member.weight).collect();
        let ((mean0, deviation0), (mean1, deviation1)) = (moments(&before), moments(&now));
        let deviation = placed.deviation.component_mul(&deviation1.component_div(&deviation0));
        (placed.mean + mean1 - mean0, deviation)
    }

    fn factors(&self, mean: &Sought, deviation: &Sought) -> Vec<Factor> {
        let prior = &self.basis.prior;
        let scales =
            [error::KINETICS, error::CONDUCTANCE, error::WATER, self.timeline.amount_error, error::SLOW_PART];
        let factor = |scale: f64, mean: f64, deviation: f64| {
            let at = |z: f64| (scale * (mean + z * deviation)).exp();
            Spread { p10: at(-NINE_TENTHS), p50: at(0.0), p90: at(NINE_TENTHS) }
        };
        (0..SOUGHT)
            .map(|place| Factor {
                unknown: Unknown::ALL[place],
                before: factor(scales[place], prior.mean[place], prior.deviation[place]),
                after: factor(scales[place], mean[place], deviation[place]),
            })
            .collect()
    }

    fn trust(&self, mean: &Sought) -> (Trust, String) {
        let prior = &self.basis.prior;
        let furthest = (mean - prior.mean).component_div(&prior.deviation).abs().argmax();
        let (doubted, readings) = (self.doubted, self.readings);
        if self.observations == 0 {
            let why = if readings == 0 {
                "Nothing was measured yet: these ranges rest on what went in, the bay and the climate."
                    .to_owned()
            } else {
                format!(
                    "All {readings} readings were set aside: the ranges rest on what went in, the bay and the climate."
                )
            };
            (Trust::MaterialsOnly, why)
        } else if doubted as f64 >= DOUBTED * readings as f64 && doubted > 1 {
            let why = format!(
                "{doubted} of {readings} readings are doubted: check the probe before relying on these dates."
            );
            (Trust::ReadingsDisagree, why)
        } else if furthest.1 > IMPLAUSIBLE {
            let what = match Unknown::ALL[furthest.0] {
                Unknown::Kinetics => "a pace of breakdown",
                Unknown::HeatLoss => "a loss of heat",
                Unknown::Water => "a moisture of what went in",
                Unknown::Amount => "an amount put in",
                _ => "a slow part",
            };
            let why = format!(
                "What was seen fits only {what} that few heaps have: check what was noted of materials, amounts and bay."
            );
            (Trust::ReadingsDisagree, why)
        } else if self.observations < FEW {
            let counted = if self.observations == 1 {
                "One observation".to_owned()
            } else {
                format!("{} observations", self.observations)
            };
            (Trust::FewReadings, format!("{counted}: more would narrow the ranges."))
        } else {
            let why = format!("{} observations fit a plausible heap.", self.observations);
            (Trust::Readings, why)
        }
    }

    /// Days by which the opening is later for one standard error of each unknown.
    fn opening_slopes(&self) -> Option<Sought> {
        let opened: f64 = self
            .members
            .iter()
            .zip(self.openings)
            .filter(|(_, day)| day.is_finite())
            .map(|(member, _)| member.weight)
            .sum();
        (opened > 0.9).then(|| {
            let slopes = self.slopes(1, |index, row| row[0] = self.openings[index]);
            slopes.row(0).transpose().fixed_rows::<SOUGHT>(0).into_owned()
        })
    }

    /// Slopes over the members of what `of` writes for each, by least squares with a ridge; members whose values are not
    /// finite are left out.
    fn slopes(&self, size: usize, of: impl Fn(usize, &mut [f64])) -> DMatrix<f64> {
        let mut values = vec![0.0; size];
        let (mut total, mut mean_draw, mut mean) = (0.0, Sought::zeros(), DVector::zeros(size));
        let mut rows = Vec::new();
        for (index, member) in self.members.iter().enumerate() {
            of(index, &mut values);
            if values.iter().all(|value| value.is_finite()) {
                let row = (
                    Sought::from_column_slice(&member.draw[..SOUGHT]),
                    DVector::from_column_slice(&values),
                    member.weight,
                );
                total += row.2;
                mean_draw += row.0 * row.2;
                mean += &row.1 * row.2;
                rows.push(row);
            }
        }
        mean_draw /= total;
        mean /= total;
        let mut normal = DMatrix::identity(SOUGHT, SOUGHT) * 1e-3;
        let mut right = DMatrix::zeros(SOUGHT, size);
        for (draw, row, weight) in rows {
            let apart = draw - mean_draw;
            normal += apart * apart.transpose() * weight;
            right += apart * (row - &mean).transpose() * weight;
        }
        normal
            .cholesky()
            .map_or_else(|| DMatrix::zeros(size, SOUGHT), |normal| normal.solve(&right).transpose())
    }

    /// How each kind of input moved the opening.
    fn moved(&self, opening: &Sought, mean: &Sought, deviation: &Sought) -> Vec<Moved> {
        let judged = &self.members[0].judged;
        let kinds = [
            (Input::CoreReadings, judged.core.innovations.len()),
            (Input::EdgeReadings, judged.edge.innovations.len()),
            (Input::MoistureNotes, judged.notes.len()),
            (Input::LevelSightings, judged.levels.len()),
        ];
        let size: usize = kinds.iter().map(|(_, count)| count).sum();
        let prior = &self.basis.prior;
        let mut moved = Vec::new();
        let lesson = opening.dot(&prior.mean);
        if lesson.abs() > 0.0 {
            moved.push(Moved { by: Input::EarlierBatches, count: self.earlier as u32, later_days: lesson });
        }
        if size == 0 {
            return moved;
        }
        // Excesses as they would be in a linear model, each standing on those before it.
        let excesses = |index: usize, row: &mut [f64]| {
            let innovations = self.members[index].judged.innovations();
            for (value, innovation) in row.iter_mut().zip(innovations) {
                *value = innovation.weight().min(1.0).sqrt() * innovation.excess;
            }
        };
        let slopes = self.slopes(size, excesses);
        let mut middle = DVector::zeros(size);
        let mut row = vec![0.0; size];
        for (index, member) in self.members.iter().enumerate() {
            excesses(index, &mut row);
            middle += DVector::from_column_slice(&row) * member.weight;
        }
        let away = mean - prior.mean;
        let before = middle - &slopes * DVector::from_column_slice(away.as_slice());
        // What each observation alone pulls, scaled so that all of them together give what was learned.
        let pulls: Vec<f64> = (0..size)
            .map(|row| {
                let pull: Sought = slopes.row(row).transpose().fixed_rows::<SOUGHT>(0) * -before[row];
                opening.dot(&pull.component_mul(&deviation.component_mul(deviation)))
            })
            .collect();
        let (all, learned) = (pulls.iter().sum::<f64>(), opening.dot(&away));
        let size_of_pulls: f64 = pulls.iter().map(|pull| pull.abs()).sum();
        // The pulls keep their proportions; what a linear model leaves unexplained is spread over them by size.
        let rest = if size_of_pulls > 0.0 { (learned - all) / size_of_pulls } else { 0.0 };
        let mut next = 0;
        for (by, count) in kinds.into_iter().filter(|(_, count)| *count > 0) {
            let own = &pulls[next..next + count];
            next += count;
            let later_days = own.iter().map(|pull| pull + rest * pull.abs()).sum();
            moved.push(Moved { by, count: count as u32, later_days });
        }
        moved
    }

    /// The look that would narrow the opening most.
    fn next_look(&self) -> Option<NextLook> {
        let opened: Vec<(usize, &Member)> =
            self.members.iter().enumerate().filter(|(index, _)| self.openings[*index].is_finite()).collect();
        let total: f64 = opened.iter().map(|(_, member)| member.weight).sum();
        if total < 0.9 {
            return None;
        }
        let moments = |of: &dyn Fn(&Member) -> Option<f64>| -> Option<(f64, f64)> {
            // Variance of what is looked at, and covariance with the opening.
            let rows: Option<Vec<(f64, f64, f64)>> = opened
                .iter()
                .map(|(index, member)| Some((of(member)?, self.openings[*index], member.weight / total)))
                .collect();
            let rows = rows?;
            let mean =
                rows.iter().fold((0.0, 0.0), |sum, row| (sum.0 + row.2 * row.0, sum.1 + row.2 * row.1));
            Some(rows.iter().fold((0.0, 0.0), |sum, row| {
                let apart = row.0 - mean.0;
                (sum.0 + row.2 * apart * apart, sum.1 + row.2 * apart * (row.1 - mean.1))
            }))
        };
        let as_of = self.timeline.as_of;
        let now: f64 = {
            let mean: f64 =
                opened.iter().map(|(index, member)| member.weight / total * self.openings[*index]).sum();
            let square = opened
                .iter()
                .map(|(index, member)| member.weight / total * (self.openings[*index] - mean).powi(2));
            square.sum()
        };
        let misfit: f64 =
            self.members.iter().map(|member| member.weight * member.judged.core.misfit_c.powi(2)).sum();
        let reading = misfit + BIAS_C.powi(2) + PROBE_C.powi(2);
        let moisture = MEASURED_ERROR.powi(2) + MODEL_ERROR.powi(2);
        // As seen in a bay half full.
        let level = (2.0 * SIGHTING_ERROR).powi(2) + VOLUME_ERROR.powi(2);
        let mut best: Option<(f64, Look, f64)> = None;
        let mut consider = |at: Look, day: f64, noise: f64, of: &dyn Fn(&Member) -> Option<f64>| {
            let Some((variance, covariance)) = moments(of) else { return };
            let gain = covariance * covariance / (variance + noise);
            if best.is_none_or(|(most, ..)| gain > most) {
                best = Some((gain, at, day));
            }
        };
        for days in LOOK_AHEAD_DAYS {
            let day = as_of + days;
            consider(Look::CoreReading, day, reading, &|member| member.course.temperature_c(Zone::Core, day));
            consider(Look::EdgeReading, day, reading, &|member| member.course.temperature_c(Zone::Edge, day));
        }
        let day = as_of + LOOK_AHEAD_DAYS[0];
        consider(Look::Moisture, day, moisture, &|member| {
            Some(member.course.at(day)?.heap.moisture_fraction())
        });
        consider(Look::Level, day, level, &|member| Some(member.course.at(day)?.heap.volume_m3().ln()));
        let (gain, at, day) = best?;
        let range = |variance: f64| 2.0 * NINE_TENTHS * variance.max(0.0).sqrt();
        let (range_now_days, range_then_days) = (range(now), range(now - gain));
        (range_now_days - range_then_days >= WORTH_DAYS).then(|| NextLook {
            at,
            on: days_to_date(day),
            range_now_days,
            range_then_days,
        })
    }
}
