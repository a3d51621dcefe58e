//! What to do when with the bays of a season.

use baycast_model::plan::answer::Plan;
use baycast_model::plan::season::Season;

use crate::error::Error;
use crate::service::{Service, no_estimate, within};
use crate::weight;

impl Service {
    /// The plan of a season; turned away when the queue is full.
    pub async fn plan_season(&self, season: Season) -> Result<Plan, Error> {
        let (limits, today) = (*self.limits(), self.today());
        let place = self.enter()?;
        let work = self.work(Some(place), move || {
            weight::check_season(&season, &limits)?;
            baycast_model::plan::plan(&season, today).map_err(no_estimate)
        });
        within(limits.timeout, work).await
    }
}
