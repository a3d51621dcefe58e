//! What compost that is needed asks for.

use baycast_model::requirement::{Need, Requirement};
use jiff::civil::Date;

use crate::error::{Error, Quantity};
use crate::recipes;
use crate::service::{Service, no_estimate, within};

impl Service {
    /// What compost that is needed asks for; turned away when the queue is full.
    pub async fn requirement(&self, need: Need) -> Result<Requirement, Error> {
        let today = self.today();
        self.requirement_on(need, today).await
    }

    /// The same with the day that is today where it is asked.
    pub(crate) async fn requirement_on(&self, need: Need, today: Date) -> Result<Requirement, Error> {
        let limits = self.limits();
        recipes::check(&need.on_hand, limits)?;
        let (given, limit) = (need.site.daily.len(), limits.max_weather_days);
        if given > limit {
            let what = Quantity::WeatherDays;
            return Err(Error::TooLarge { what, limit: limit as u64, given: Some(given as u64) });
        }
        let place = self.enter()?;
        let work =
            self.work(Some(place), move || baycast_model::requirement(&need, today).map_err(no_estimate));
        within(limits.timeout, work).await
    }
}
