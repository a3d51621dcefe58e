//! What readings show against published time and temperature rules.
//!
//! Only measured readings count, and only those since material was last added. Between two readings at most
//! [`LONGEST_GAP_HOURS`] apart the temperature is taken to run straight; a longer gap proves nothing. Where more than
//! one place was measured within [`TOGETHER_HOURS`], the coolest counts. A finding says what the probe showed where it
//! stood: whether a rule is met for a site is for the local authority to say.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::moment::days_to_date;
use crate::timeline::Seen;

/// A published rule.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Rule {
    /// 40 CFR 503 appendix B, process to significantly reduce pathogens, composting.
    PsrpComposting,
    /// 40 CFR 503 appendix B, process to further reduce pathogens, within-vessel or static aerated pile.
    PfrpStaticPile,
    /// 40 CFR 503 appendix B, process to further reduce pathogens, windrow.
    PfrpWindrow,
    /// 7 CFR 205.203(c)(2), static aerated pile or in-vessel.
    OrganicStaticPile,
    /// 7 CFR 205.203(c)(2), windrow.
    OrganicWindrow,
    /// UK PAS 100 recommended default.
    Pas100Default,
    /// Regulation (EU) 142/2011, composting standard.
    EuAnimalByProducts,
    /// 40 CFR 503.32(a) time-temperature equation: a comparison only, not a route for compost.
    LethalityEquation,
}

impl Rule {
    /// Its short name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::PsrpComposting => "40 CFR 503 PSRP",
            Self::PfrpStaticPile => "40 CFR 503 PFRP pile",
            Self::PfrpWindrow => "40 CFR 503 PFRP windrow",
            Self::OrganicStaticPile => "7 CFR 205.203 pile",
            Self::OrganicWindrow => "7 CFR 205.203 windrow",
            Self::Pas100Default => "PAS 100",
            Self::EuAnimalByProducts => "EU 142/2011",
            Self::LethalityEquation => "40 CFR 503.32 equation",
        }
    }
}

/// The answer for one rule.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// The readings show it.
    Met,
    /// The readings show that it was not.
    NotMet,
    /// Too few readings, or too far apart, to tell.
    NotEnoughReadings,
    /// A comparison that no reading can turn into compliance.
    IndicativeOnly,
}

/// What the readings show against one rule.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RuleFinding {
    /// The rule.
    pub rule: Rule,
    /// The answer.
    pub verdict: Verdict,
    /// First day of the stretch that meets it.
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, format = Date))]
    pub from: Option<Date>,
    /// Day on which it was met.
    #[cfg_attr(feature = "schema", schema(value_type = Option<String>, format = Date))]
    pub to: Option<Date>,
    /// Days shown by readings, towards the days required.
    pub shown_days: f64,
    /// Days required; for the equation, a dose of 1.
    pub required_days: f64,
    /// Turns within the stretch.
    pub turns: u32,
    /// What is short, or what the answer rests on, in a sentence.
    pub explanation: String,
    /// Publication, section.
    pub source: String,
}

/// Longest time between two readings that is bridged, hours.
pub const LONGEST_GAP_HOURS: f64 = 36.0;
/// Readings this close together are one round with the probe, hours.
pub const TOGETHER_HOURS: f64 = 1.0;

/// What a rule asks for, in the terms that readings can show.
#[derive(Clone, Copy, Debug)]
struct Demand {
    rule: Rule,
    /// Lowest temperature, °C.
    low_c: f64,
    /// Highest temperature, °C.
    high_c: f64,
    days: f64,
    consecutive: bool,
    turns: u32,
    /// Hours over 55 °C within the stretch.
    over_55_hours: f64,
    /// Carbon to nitrogen of the mix.
    c_to_n: Option<(f64, f64)>,
    /// Measured moisture, wet basis, at least.
    moisture: Option<f64>,
    /// A part of the rule that a history cannot show.
    beyond: Option<&'static str>,
    source: &'static str,
}

const CFR_503: &str = "40 CFR 503 appendix B (read as adopted in a state code)";
const CFR_205: &str = "7 CFR 205.203(c)(2) (read in two copies)";
/// 170 °F, °C.
const F170_C: f64 = (170.0 - 32.0) / 1.8;

const PLAIN: Demand = Demand {
    rule: Rule::PfrpStaticPile,
    low_c: 55.0,
    high_c: f64::INFINITY,
    days: 3.0,
    consecutive: true,
    turns: 0,
    over_55_hours: 0.0,
    c_to_n: None,
    moisture: None,
    beyond: None,
    source: CFR_503,
};

const DEMANDS: [Demand; 7] = [
    Demand { rule: Rule::PsrpComposting, low_c: 40.0, days: 5.0, over_55_hours: 4.0, ..PLAIN },
    PLAIN,
    Demand { rule: Rule::PfrpWindrow, days: 15.0, consecutive: false, turns: 5, ..PLAIN },
    Demand {
        rule: Rule::OrganicStaticPile,
        high_c: F170_C,
        c_to_n: Some((25.0, 40.0)),
        source: CFR_205,
        ..PLAIN
    },
    Demand {
        rule: Rule::OrganicWindrow,
        high_c: F170_C,
        days: 15.0,
        consecutive: false,
        turns: 5,
        c_to_n: Some((25.0, 40.0)),
        source: CFR_205,
        ..PLAIN
    },
    Demand {
        rule: Rule::Pas100Default,
        low_c: 65.0,
        days: 7.0,
        consecutive: false,
        turns: 2,
        moisture: Some(0.51),
        source: "PAS 100, recommended default for sanitisation (from memory)",
        ..PLAIN
    },
    Demand {
        rule: Rule::EuAnimalByProducts,
        low_c: 70.0,
        days: 1.0 / 24.0,
        beyond: Some("a particle size of at most 12 mm and all of the material at that temperature"),
        source: "Regulation (EU) 142/2011, annex V, chapter III, section 1 (from memory; the same figures read for biogas)",
        ..PLAIN
    },
];

/// What the rules look at.
#[derive(Clone, Debug)]
pub struct Evidence<'a> {
    /// Readings that count, in order of time.
    pub readings: Vec<&'a Seen>,
    /// Day of the last addition or merge.
    pub complete_from: f64,
    /// Day of the estimate.
    pub as_of: f64,
    /// Days of turns and moves.
    pub turns: Vec<f64>,
    /// Carbon to nitrogen of all that was put in.
    pub mix_c_to_n: f64,
    /// Measured moistures (day, wet-basis fraction).
    pub moistures: Vec<(f64, f64)>,
}

/// A bridged piece between two rounds of readings, straight in time.
#[derive(Clone, Copy, Debug)]
struct Piece {
    from: (f64, f64),
    to: (f64, f64),
    /// Whether it follows the piece before without a gap.
    joined: bool,
}

/// Finds what the readings show against every rule.
#[must_use]
pub fn findings(evidence: &Evidence<'_>) -> Vec<RuleFinding> {
    let rounds = rounds(evidence);
    let (pieces, longest_gap_hours) = pieces(&rounds);
    let covered: f64 = pieces.iter().map(|piece| piece.to.0 - piece.from.0).sum();
    let unwatched_days = (evidence.as_of - evidence.complete_from - covered).max(0.0);
    let mut findings: Vec<RuleFinding> = DEMANDS
        .iter()
        .map(|demand| demand.finding(evidence, &pieces, unwatched_days, longest_gap_hours))
        .collect();
    findings.push(lethality(&pieces));
    findings
}

/// Coolest reading of each round since the heap was complete.
fn rounds(evidence: &Evidence<'_>) -> Vec<(f64, f64)> {
    let mut rounds: Vec<(f64, f64)> = Vec::new();
    for seen in evidence.readings.iter().filter(|seen| seen.day >= evidence.complete_from) {
        match rounds.last_mut() {
            Some((day, coolest)) if (seen.day - *day) * 24.0 <= TOGETHER_HOURS => {
                *coolest = coolest.min(seen.temperature_c);
            }
            _ => rounds.push((seen.day, seen.temperature_c)),
        }
    }
    rounds
}

fn pieces(rounds: &[(f64, f64)]) -> (Vec<Piece>, f64) {
    let mut pieces: Vec<Piece> = Vec::new();
    let mut longest: f64 = 0.0;
    for pair in rounds.windows(2) {
        let gap_hours = (pair[1].0 - pair[0].0) * 24.0;
        longest = longest.max(gap_hours);
        if gap_hours <= LONGEST_GAP_HOURS + 1e-9 {
            let joined = pieces.last().is_some_and(|last| last.to.0.total_cmp(&pair[0].0).is_eq());
            pieces.push(Piece { from: pair[0], to: pair[1], joined });
        }
    }
    (pieces, longest)
}

/// A stretch of time within bounds.
#[derive(Clone, Copy, Debug)]
struct Stretch {
    from: f64,
    to: f64,
}

impl Stretch {
    fn holds(&self, day: f64) -> bool {
        (self.from..=self.to).contains(&day)
    }
}

/// The parts of the pieces that lie within `low..=high`, joined where they touch.
fn within(pieces: &[Piece], low: f64, high: f64) -> Vec<Stretch> {
    let mut stretches: Vec<Stretch> = Vec::new();
    for piece in pieces {
        let ((d0, t0), (d1, t1)) = (piece.from, piece.to);
        // Share of the piece at which it crosses a level; a level piece is inside or outside throughout.
        let mut shares = [0.0, 1.0];
        if (t1 - t0).abs() < 1e-12 {
            if t0 < low || t0 > high {
                continue;
            }
        } else {
            let (at_low, at_high) = ((low - t0) / (t1 - t0), (high - t0) / (t1 - t0));
            shares = [at_low.min(at_high).max(0.0), at_low.max(at_high).min(1.0)];
            if shares[1] < shares[0] {
                continue;
            }
        }
        let (from, to) = (d0 + shares[0] * (d1 - d0), d0 + shares[1] * (d1 - d0));
        match stretches.last_mut() {
            Some(last) if piece.joined && (last.to - from).abs() < 1e-9 => last.to = to,
            _ => stretches.push(Stretch { from, to }),
        }
    }
    stretches
}

/// What falls short of a rule.
#[derive(Debug, Default)]
struct Shortage {
    unmet: Vec<String>,
    /// Whether no reading that might have been taken could still show it.
    ruled_out: bool,
}

impl Shortage {
    fn note(&mut self, ruled_out: bool, what: String) {
        self.ruled_out |= ruled_out;
        self.unmet.push(what);
    }
}

impl Demand {
    fn finding(
        &self,
        evidence: &Evidence<'_>,
        pieces: &[Piece],
        unwatched_days: f64,
        longest_gap_hours: f64,
    ) -> RuleFinding {
        let all = within(pieces, self.low_c, self.high_c);
        let in_range = all.iter().fold(0.0, |sum, stretch| sum + stretch.to - stretch.from);
        // Consecutive: the longest stretch. Otherwise all of them, from the first to the last.
        let (span, shown) = if self.consecutive {
            let best = all.iter().copied().max_by(|a, b| (a.to - a.from).total_cmp(&(b.to - b.from)));
            (best, best.map_or(0.0, |stretch| stretch.to - stretch.from))
        } else {
            let ends = all.first().zip(all.last());
            (ends.map(|(first, last)| Stretch { from: first.from, to: last.to }), in_range)
        };
        let turns =
            evidence.turns.iter().filter(|day| span.is_some_and(|span| span.holds(**day))).count() as u32;

        let mut short = Shortage::default();
        if shown < self.days - 1e-6 {
            let ruled_out = in_range + unwatched_days < self.days - 1e-6;
            // The one rule of an hour reads badly in days.
            let (unit, each) = if self.days < 1.0 { ("hours", 24.0) } else { ("days", 1.0) };
            short.note(ruled_out, format!("{:.1} of {:.1} {unit} shown", shown * each, self.days * each));
        }
        if turns < self.turns {
            let since = evidence.turns.iter().filter(|day| **day >= evidence.complete_from).count() as u32;
            short.note(since < self.turns, format!("{turns} of {} turns within the time", self.turns));
        }
        self.check_hot_hours(pieces, span, unwatched_days, &mut short);
        self.check_mix(evidence, span, &mut short);

        let verdict = match (short.unmet.is_empty(), self.beyond) {
            (true, None) => Verdict::Met,
            (true, Some(_)) => Verdict::IndicativeOnly,
            (false, _) if short.ruled_out => Verdict::NotMet,
            (false, _) => Verdict::NotEnoughReadings,
        };
        let counted = if self.consecutive { span.as_slice() } else { &all };
        let met_on = completed(counted, self.days).filter(|_| short.unmet.is_empty());
        RuleFinding {
            rule: self.rule,
            verdict,
            from: span.map(|span| days_to_date(span.from)),
            to: met_on.or(span.map(|span| span.to)).map(days_to_date),
            shown_days: shown,
            required_days: self.days,
            turns,
            explanation: self.explanation(&short, shown, longest_gap_hours),
            source: self.source.into(),
        }
    }

    fn check_hot_hours(
        &self,
        pieces: &[Piece],
        span: Option<Stretch>,
        unwatched_days: f64,
        short: &mut Shortage,
    ) {
        let overlap = |hot: &Stretch, span: Stretch| (hot.to.min(span.to) - hot.from.max(span.from)).max(0.0);
        let hot = within(pieces, 55.0, f64::INFINITY);
        let days = span.map_or(0.0, |span| hot.iter().fold(0.0, |sum, hot| sum + overlap(hot, span)));
        if days * 24.0 < self.over_55_hours - 1e-6 {
            short.note(
                (days + unwatched_days) * 24.0 < self.over_55_hours,
                format!("{:.1} of {:.0} hours over 55 °C within them", days * 24.0, self.over_55_hours),
            );
        }
    }

    fn check_mix(&self, evidence: &Evidence<'_>, span: Option<Stretch>, short: &mut Shortage) {
        if let Some((low, high)) = self.c_to_n
            && !(low..=high).contains(&evidence.mix_c_to_n)
        {
            let found = evidence.mix_c_to_n;
            short.note(true, format!("C:N of the mix {found:.1}, {low:.0} to {high:.0} required"));
        }
        if let Some(least) = self.moisture {
            let near = |day: f64| span.is_some_and(|span| (span.from - 1.0..=span.to + 1.0).contains(&day));
            let lowest =
                evidence.moistures.iter().filter(|(day, _)| near(*day)).map(|(_, m)| *m).reduce(f64::min);
            match lowest {
                None => short
                    .note(false, format!("no moisture measured, at least {:.0} % required", least * 100.0)),
                Some(lowest) if lowest < least => short.note(
                    true,
                    format!(
                        "moisture measured at {:.0} %, at least {:.0} % required",
                        lowest * 100.0,
                        least * 100.0
                    ),
                ),
                Some(_) => {}
            }
        }
    }

    fn explanation(&self, short: &Shortage, shown: f64, longest_gap_hours: f64) -> String {
        let mut parts = short.unmet.clone();
        if parts.is_empty() {
            parts.push(format!("shown by readings for {shown:.1} days where the probe stood"));
        }
        if let Some(beyond) = self.beyond {
            parts.push(format!("a history cannot show {beyond}"));
        }
        if longest_gap_hours > LONGEST_GAP_HOURS {
            parts.push(format!(
                "longest gap between readings {:.1} days, at most {LONGEST_GAP_HOURS:.0} hours are bridged",
                longest_gap_hours / 24.0
            ));
        }
        parts.join("; ")
    }
}

/// Day on which the stretches together reached `days`.
fn completed(stretches: &[Stretch], days: f64) -> Option<f64> {
    let mut left = days;
    for stretch in stretches {
        let length = stretch.to - stretch.from;
        if length >= left - 1e-6 {
            return Some(stretch.from + left.max(0.0));
        }
        left -= length;
    }
    None
}

/// Days at a steady temperature that the time-temperature equation asks for; none under 50 °C.
///
/// `D = 131 700 000 / 10^(0.1400 t)`: 40 CFR 503.32(a)(3)(ii)(A), solids of 7 % and more, at least 20 minutes (read as
/// adopted in two state codes, one of them 'except for composting').
///
/// # Examples
/// ```
/// let days = baycast_model::sanitisation::lethal_days(55.0).unwrap();
/// assert!((days - 2.628).abs() < 0.001);
/// assert_eq!(baycast_model::sanitisation::lethal_days(49.9), None);
/// ```
#[must_use]
pub fn lethal_days(temperature_c: f64) -> Option<f64> {
    const LEAST_DAYS: f64 = 20.0 / 1440.0;
    (temperature_c >= 50.0).then(|| (131_700_000.0 / 10_f64.powf(0.14 * temperature_c)).max(LEAST_DAYS))
}

/// The equation's dose, summed over time: an extension of the rule, for comparison only.
fn lethality(pieces: &[Piece]) -> RuleFinding {
    const PARTS: u32 = 24;
    let mut dose = 0.0;
    let mut span: Option<Stretch> = None;
    for piece in pieces {
        let length = (piece.to.0 - piece.from.0) / f64::from(PARTS);
        for part in 0..PARTS {
            let share = (f64::from(part) + 0.5) / f64::from(PARTS);
            let temperature = piece.from.1 + share * (piece.to.1 - piece.from.1);
            if let Some(days) = lethal_days(temperature) {
                dose += length / days;
                let day = piece.from.0 + share * (piece.to.0 - piece.from.0);
                span = Some(Stretch { from: span.map_or(day, |span| span.from), to: day });
            }
        }
    }
    RuleFinding {
        rule: Rule::LethalityEquation,
        verdict: Verdict::IndicativeOnly,
        from: span.map(|span| days_to_date(span.from)),
        to: span.map(|span| days_to_date(span.to)),
        shown_days: dose,
        required_days: 1.0,
        turns: 0,
        explanation:
            "dose of the time-temperature equation summed over the readings: a comparison of heat, not a \
                      route by which compost complies"
                .into(),
        source: "40 CFR 503.32(a)(3)(ii) (read as adopted in two state codes)".into(),
    }
}
