//! What promises most with each batch, under prices.

use crate::plan::bound::Prices;
use crate::plan::ground::{Batch, Ground};

/// A way with a batch, and what it is worth beyond its prices and in prices alone.
pub struct Way {
    /// Life, by index.
    pub life: usize,
    /// Week it is emptied in.
    pub end: usize,
    /// Beyond its prices, m³.
    pub value_m3: f64,
    /// Of what it takes up, m³.
    pub price_m3: f64,
}

/// Prices with the ways that they make promising.
pub struct Guide<'a> {
    /// The prices.
    pub prices: &'a Prices,
    /// Ways with each batch that stands.
    pub standing: Vec<Vec<Way>>,
    /// Ways with each fill, by week.
    pub fills: Vec<Vec<Vec<Way>>>,
}

impl<'a> Guide<'a> {
    /// Ways under prices.
    pub fn new(ground: &Ground, prices: &'a Prices) -> Self {
        let of = |batches: &[Batch]| batches.iter().map(|batch| ways(prices, batch)).collect();
        Self {
            prices,
            standing: of(&ground.standing),
            fills: ground.fills.iter().map(|week| of(week)).collect(),
        }
    }

    /// Those with a batch.
    pub fn ways(&self, ground: &Ground, batch: &Batch) -> &[Way] {
        let place = |batches: &[Batch]| batches.iter().position(|own| std::ptr::eq(own, batch));
        if let Some(place) = place(&ground.standing) {
            return &self.standing[place];
        }
        place(&ground.fills[batch.start]).map_or(&[], |place| &self.fills[batch.start][place])
    }
}

/// Ways with a batch, the most promising first.
fn ways(prices: &Prices, batch: &Batch) -> Vec<Way> {
    let worth = prices.worth(batch).into_iter();
    let mut ways: Vec<Way> =
        worth.map(|(life, end, value_m3, price_m3)| Way { life, end, value_m3, price_m3 }).collect();
    ways.sort_by(|a, b| b.value_m3.total_cmp(&a.value_m3));
    ways
}
