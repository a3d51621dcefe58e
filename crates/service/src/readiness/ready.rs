//! How much is ready by a day.

use std::sync::Arc;

use baycast_model::window::Use;
use jiff::civil::Date;

use crate::error::Error;
use crate::readiness::Readiness;
use crate::records::Caller;
use crate::service::Service;

/// A volume to the litre, as it is told in feeds: adding up what is told gives what is told of the sum.
#[must_use]
pub fn to_litre(volume_m3: f64) -> f64 {
    (volume_m3 * 1000.0).round() / 1000.0
}

/// How much is ready, and what that is read from.
#[derive(Clone, Debug, PartialEq)]
pub struct Ready {
    /// The volume, m³.
    pub ready_m3: f64,
    /// What is told of the farm.
    pub readiness: Arc<Readiness>,
}

impl Readiness {
    /// What is expected to be there, at their openings, of the batches whose window for a use has opened on or before a
    /// day: the sum of `volume_at_opening_m3`, each to the litre, over the windows whose `opens.p50` is not after it, m³.
    #[must_use]
    pub fn ready_m3(&self, for_use: Use, by: Date) -> f64 {
        let windows = self.batches.iter().flat_map(|batch| &batch.windows);
        let open = windows
            .filter(|window| window.for_use == for_use && window.opens.p50.is_some_and(|opens| opens <= by));
        // A sum over nothing is -0.0 in IEEE 754 arithmetic, a sign that no reader wants.
        to_litre(open.filter_map(|window| window.volume_at_opening_m3).map(to_litre).sum::<f64>()) + 0.0
    }
}

impl Service {
    /// How much of a farm's compost is ready for a use by a day, m³; by the farm's own day where none is named.
    ///
    /// It is [`Readiness::ready_m3`]: adding up the column of the farm's CSV under the same conditions gives the same.
    pub async fn sum_ready_volume(
        &self,
        caller: &Caller,
        farm: &str,
        for_use: Use,
        by: Option<Date>,
    ) -> Result<Ready, Error> {
        let readiness = self.readiness(caller, farm).await?;
        Ok(Ready { ready_m3: readiness.ready_m3(for_use, by.unwrap_or(readiness.as_of)), readiness })
    }
}
