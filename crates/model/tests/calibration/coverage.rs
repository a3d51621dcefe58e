//! Where the truth lies in what was estimated, over many batches.

use baycast_model::estimate::{Estimate, Spread};
use baycast_model::history::History;
use baycast_model::moment::date_to_days;
use baycast_model::window::Use;

use crate::chance::Chance;
use crate::scenario::{Kind, Scenario, later};
use crate::truth::Truth;

/// Days ahead at which volume and temperature are compared.
pub const AHEAD_DAYS: u32 = 14;

/// Probabilities of the classes between P10, P50 and P90.
pub const CLASSES: [f64; 4] = [0.1, 0.4, 0.4, 0.1];

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
    /// Factor on kinetics.
    Kinetics,
    /// Factor on the loss of heat.
    HeatLoss,
    /// Factor on water put in.
    Water,
    /// Factor on amounts.
    Amount,
    /// Factor on the slow part.
    SlowPart,
}

impl Quantity {
    /// All of them.
    pub const ALL: [Self; 10] = [
        Self::Opening,
        Self::OpeningAhead,
        Self::Volume,
        Self::Core,
        Self::Edge,
        Self::Kinetics,
        Self::HeatLoss,
        Self::Water,
        Self::Amount,
        Self::SlowPart,
    ];

    /// Those that are factors of the fitted model, in its order.
    const FACTORS: [Self; 5] = [Self::Kinetics, Self::HeatLoss, Self::Water, Self::Amount, Self::SlowPart];
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
    pub fn covered(&self) -> bool {
        (self.range.p10..=self.range.p90).contains(&self.truth)
    }

    /// Shares of the truth in the classes below P10, below the middle, below P90 and above.
    ///
    /// All of it in one, unless the truth is a quantile itself, as a day is or what lies beyond the horizon: then its place
    /// among the members is drawn evenly from what they have there, and how much that is, is known to half a class.
    pub fn classes(&self) -> [f64; 4] {
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
    pub fn error(&self) -> Option<f64> {
        let error = self.truth - self.range.p50;
        error.is_finite().then_some(error)
    }

    /// P90 less P10; nothing where either lies beyond the horizon.
    pub fn width(&self) -> Option<f64> {
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
    if let Some(factors) = truth.factors {
        for ((quantity, truth), factor) in
            Quantity::FACTORS.into_iter().zip(factors).zip(&estimate.learned.factors)
        {
            all.push(compared(quantity, truth, factor.after));
        }
    }
    all
}

/// Where members' dates lie beyond the horizon with any probability and the truth is one of them, the classes come out as
/// probable as they should be.
#[test]
fn truths_beyond_the_horizon_are_divided_as_the_members_are() {
    const DRAWN: usize = 20_000;
    let mut chance = Chance::new(0, 6);
    let mut counts = [0.0; 4];
    for _ in 0..DRAWN {
        let beyond = chance.between(0.0, 1.0);
        let date = |share: f64| if share < 1.0 - beyond { share } else { f64::INFINITY };
        let range = Spread { p10: date(0.1), p50: date(0.5), p90: date(0.9) };
        let truth = date(chance.between(0.0, 1.0));
        let one = Compared { quantity: Quantity::Opening, kind: Kind::Bin, readings: 0, truth, range };
        for (count, share) in counts.iter_mut().zip(one.classes()) {
            *count += share;
        }
    }
    for (count, class) in counts.into_iter().zip(CLASSES) {
        assert!((count / DRAWN as f64 - class).abs() < 0.01, "{counts:?}");
    }
}
