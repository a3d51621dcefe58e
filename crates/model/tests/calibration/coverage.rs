//! Where the truth lies in what was estimated, over many batches.

use baycast_model::estimate::{Estimate, Spread};
use baycast_model::history::History;
use baycast_model::moment::date_to_days;
use baycast_model::window::Use;

use crate::scenario::{Kind, Scenario, later};
use crate::truth::Truth;
use crate::uniformity::chi_square;

/// Days ahead at which volume and temperature are compared.
pub const AHEAD_DAYS: u32 = 14;

/// Probabilities of the classes between P10, P50 and P90.
const CLASSES: [f64; 4] = [0.1, 0.4, 0.4, 0.1];

/// What is compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Quantity {
    /// Day on which the window for beds opens.
    Opening,
    /// The same, of batches whose window was not open yet on the day of the estimate.
    OpeningAhead,
    /// Volume two weeks ahead, m³.
    Volume,
    /// Core temperature two weeks ahead, °C.
    Core,
    /// Edge temperature two weeks ahead, °C.
    Edge,
}

impl Quantity {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::Opening, Self::OpeningAhead, Self::Volume, Self::Core, Self::Edge];
}

/// One truth against one range.
#[derive(Clone, Copy, Debug)]
pub struct Compared {
    /// What.
    pub quantity: Quantity,
    /// Size of bay.
    pub kind: Kind,
    /// Readings in the history.
    pub readings: usize,
    /// The truth, infinite where beyond the horizon.
    pub truth: f64,
    /// The range, infinite where beyond the horizon.
    pub range: Spread,
}

impl Compared {
    /// Whether the truth lies in the range, its ends included.
    fn covered(&self) -> bool {
        (self.range.p10..=self.range.p90).contains(&self.truth)
    }

    /// Shares of the truth in the classes below P10, below the middle, below P90 and above.
    ///
    /// All of it in one, unless the truth is a quantile itself, as a day is or what lies beyond the horizon: then its place
    /// among the members is drawn evenly from what they have there, and how much that is, is known to half a class.
    fn classes(&self) -> [f64; 4] {
        let Spread { p10, p50, p90 } = self.range;
        let quantiles = [p10, p50, p90];
        let below = quantiles.iter().filter(|quantile| **quantile < self.truth).count();
        let upto = quantiles.iter().filter(|quantile| **quantile <= self.truth).count();
        let mut shares = [0.0; 4];
        if below == upto {
            shares[below] = 1.0;
            return shares;
        }
        for (class, share) in shares.iter_mut().enumerate().take(upto + 1).skip(below) {
            let end = class == below || (class == upto && self.truth.is_finite());
            *share = CLASSES[class] * if end { 0.5 } else { 1.0 };
        }
        let total: f64 = shares.iter().sum();
        shares.map(|share| share / total)
    }

    /// Truth less the middle; nothing where either lies beyond the horizon.
    fn error(&self) -> Option<f64> {
        let error = self.truth - self.range.p50;
        error.is_finite().then_some(error)
    }

    fn width(&self) -> Option<f64> {
        let width = self.range.p90 - self.range.p10;
        width.is_finite().then_some(width)
    }
}

/// All comparisons of one batch.
pub fn compare(scenario: &Scenario, history: &History, truth: &Truth, estimate: &Estimate) -> Vec<Compared> {
    let readings = history.events.iter().filter(|event| event.reading.is_some()).count();
    let compared =
        |quantity, truth, range| Compared { quantity, kind: scenario.kind, readings, truth, range };
    let window = estimate.windows.iter().find(|window| window.for_use == Use::BedDressing).expect("a window");
    let days = |date: Option<jiff::civil::Date>| date.map_or(f64::INFINITY, date_to_days);
    let opens = window.opens;
    let range = Spread { p10: days(opens.p10), p50: days(opens.p50), p90: days(opens.p90) };
    let opening = days(truth.opens(&window.criteria));
    let mut all = vec![compared(Quantity::Opening, opening, range)];
    if opening > date_to_days(scenario.as_of) {
        all.push(compared(Quantity::OpeningAhead, opening, range));
    }
    let ahead = later(scenario.as_of, AHEAD_DAYS);
    let point = estimate.forecast.iter().find(|point| point.date == ahead).expect("a point two weeks ahead");
    all.push(compared(Quantity::Volume, truth.end(ahead).volume_m3, point.volume_m3));
    let evening = truth.evening(ahead);
    all.push(compared(Quantity::Core, evening.core_c, point.core_c));
    all.push(compared(Quantity::Edge, evening.edge_c, point.edge_c));
    all
}

/// Figures of one line of the table.
pub struct Line {
    /// Comparisons in it.
    pub count: usize,
    /// Share of truths within P10 to P90, where an end beyond the horizon holds all that lies there.
    pub covered: f64,
    /// The same with such truths divided among the classes: four fifths where ranges are right.
    pub between: f64,
    /// Share below and above.
    pub outside: [f64; 2],
    /// Mean width of the ranges that end before the horizon.
    pub width: f64,
    /// Median of truth less P50, and of its size.
    pub error: [f64; 2],
    /// Pearson's statistic of the four classes against 1:4:4:1, and its probability.
    pub uniform: (f64, f64),
}

impl Line {
    /// Of some comparisons, at least one.
    pub fn of<'a>(compared: impl Iterator<Item = &'a Compared>) -> Option<Self> {
        let all: Vec<&Compared> = compared.collect();
        if all.is_empty() {
            return None;
        }
        let total = all.len() as f64;
        let mut counts = [0.0; 4];
        for one in &all {
            for (count, share) in counts.iter_mut().zip(one.classes()) {
                *count += share;
            }
        }
        let covered = all.iter().filter(|one| one.covered()).count() as f64;
        let widths: Vec<f64> = all.iter().filter_map(|one| one.width()).collect();
        let errors: Vec<f64> = all.iter().filter_map(|one| one.error()).collect();
        let sizes = errors.iter().map(|error| error.abs()).collect();
        Some(Self {
            count: all.len(),
            covered: covered / total,
            between: (counts[1] + counts[2]) / total,
            outside: [counts[0] / total, counts[3] / total],
            width: widths.iter().sum::<f64>() / widths.len() as f64,
            error: [median(errors), median(sizes)],
            uniform: chi_square(&counts, &CLASSES.map(|share| share * total)),
        })
    }
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(f64::NAN)
}

/// Classes of histories by their number of readings.
const READINGS: [(&str, std::ops::Range<usize>); 4] =
    [("0", 0..1), ("1-9", 1..10), ("10-29", 10..30), ("30+", 30..usize::MAX)];

/// Prints the table: each quantity overall, by size of bay and by number of readings.
pub fn print(title: &str, compared: &[Compared]) {
    println!("\n{title}");
    println!(
        "quantity       which        n covered between  below  above    width   median  |median|   chi2      p"
    );
    for quantity in Quantity::ALL {
        let own = |test: &dyn Fn(&Compared) -> bool| {
            Line::of(compared.iter().filter(|one| one.quantity == quantity && test(one)))
        };
        row(quantity, "all", own(&|_| true).as_ref());
        for kind in Kind::ALL {
            row(quantity, &format!("{kind:?}"), own(&|one| one.kind == kind).as_ref());
        }
        for (name, range) in READINGS {
            row(quantity, &format!("{name} read"), own(&|one| range.contains(&one.readings)).as_ref());
        }
    }
}

fn row(quantity: Quantity, which: &str, line: Option<&Line>) {
    let Some(Line { count, covered, between, outside: [below, above], width, error, uniform }) = line else {
        return;
    };
    println!(
        "{:<14} {which:<9} {count:>4} {:>6.1}% {:>6.1}% {:>5.1}% {:>5.1}% {width:>8.3} {:>8.3} {:>9.3} {:>6.1} {:>6.4}",
        format!("{quantity:?}"),
        100.0 * covered,
        100.0 * between,
        100.0 * below,
        100.0 * above,
        error[0],
        error[1],
        uniform.0,
        uniform.1,
    );
}
