//! The table of how often truths lie in ranges.

use crate::coverage::{CLASSES, Compared, Quantity};
use crate::scenario::Kind;
use crate::uniformity::chi_square;

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
    /// Share of truths beyond the horizon.
    pub beyond: f64,
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
            beyond: all.iter().filter(|one| one.truth.is_infinite()).count() as f64 / total,
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
        "quantity       which        n beyond covered between  below  above    width   median  |median|   chi2      p"
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
    let Some(line) = line else { return };
    let Line { count, covered, between, outside: [below, above], beyond, width, error, uniform } = line;
    println!(
        "{:<14} {which:<9} {count:>4} {:>5.1}% {:>6.1}% {:>6.1}% {:>5.1}% {:>5.1}% {width:>8.3} {:>8.3} {:>9.3} {:>6.1} {:>6.4}",
        format!("{quantity:?}"),
        100.0 * beyond,
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

/// Share of truths that four in five may be off by, as the calibration asks for.
const ACCEPTED: f64 = 0.04;
/// Standard errors of a share that chance may add to that: one quantity in a hundred comes out farther.
const CHANCE: f64 = 2.6;
/// Probability under which a histogram of classes counts as uneven.
const UNEVEN: f64 = 0.001;

impl Line {
    /// How far the share of truths in their ranges may be from four in five.
    fn leeway(&self) -> f64 {
        ACCEPTED + CHANCE * (0.8 * 0.2 / self.count as f64).sqrt()
    }

    /// Whether ranges are right: neither too narrow nor too wide, and even.
    pub fn exact(&self) -> bool {
        (self.between - 0.8).abs() <= self.leeway() && self.uniform.1 >= UNEVEN
    }

    /// Whether ranges are wide enough.
    pub fn wide_enough(&self) -> bool {
        self.between >= 0.8 - self.leeway()
    }
}

/// Quantities whose ranges do not pass.
pub fn failing(compared: &[Compared], passes: impl Fn(&Line) -> bool) -> Vec<(Quantity, f64)> {
    let lines = Quantity::ALL.into_iter().filter_map(|quantity| {
        Some((quantity, Line::of(compared.iter().filter(|one| one.quantity == quantity))?))
    });
    let failing = lines.filter(|(_, line)| !passes(line));
    failing.map(|(quantity, line)| (quantity, line.between)).collect()
}
