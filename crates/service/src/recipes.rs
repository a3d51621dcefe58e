//! A mix of what is on hand.

use baycast_model::recipe::{OnHand, Recipe};

use crate::error::{Error, Quantity};
use crate::limits::Limits;
use crate::service::{Service, within};

impl Service {
    /// The mix of what is on hand that comes closest to its targets; turned away when the queue is full.
    pub async fn recipe(&self, on_hand: OnHand) -> Result<Recipe, Error> {
        check(&on_hand, self.limits())?;
        let place = self.enter()?;
        let work = self.work(Some(place), move || baycast_model::recipe(&on_hand).map_err(Error::Invalid));
        within(self.limits().timeout, work).await
    }
}

/// Turns away what is larger than the limits allow.
pub(crate) fn check(on_hand: &OnHand, limits: &Limits) -> Result<(), Error> {
    let sources = on_hand.feedstocks.iter().map(|own| 1 + own.sources.len()).sum::<usize>();
    let given = on_hand.ingredients.len() + sources;
    if given <= limits.max_rows {
        return Ok(());
    }
    Err(Error::TooLarge { what: Quantity::Rows, limit: limits.max_rows as u64, given: Some(given as u64) })
}
