//! What a history weighs, counted before any work is done on it.

use baycast_model::bay::Bay;
use baycast_model::history::History;

use crate::error::{Error, Quantity};
use crate::limits::Limits;

/// Counts of a history and everything within it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Weight {
    events: usize,
    levels: usize,
    weather_days: usize,
    rows: usize,
}

/// Turns away a history that is larger than the limits allow.
pub fn check(history: &History, limits: &Limits) -> Result<(), Error> {
    let weight = weigh(history);
    let within = |what, given: usize, limit: usize| {
        if given <= limit {
            Ok(())
        } else {
            Err(Error::TooLarge { what, limit: limit as u64, given: Some(given as u64) })
        }
    };
    within(Quantity::SourceLevels, weight.levels, limits.max_source_levels)?;
    within(Quantity::Events, weight.events, limits.max_events)?;
    within(Quantity::WeatherDays, weight.weather_days, limits.max_weather_days)?;
    within(Quantity::Rows, weight.rows, limits.max_rows)
}

/// Counts one history. The depth of recursion is bounded by the parsers, which refuse deep nesting.
fn weigh(history: &History) -> Weight {
    let layers = |bay: &Bay| 1 + bay.wall.layers.len();
    let own = Weight {
        events: history.events.len(),
        levels: 0,
        weather_days: history.site.daily.len(),
        rows: layers(&history.bay)
            + history.other_bays.iter().map(layers).sum::<usize>()
            + history.feedstocks.iter().map(|f| 1 + f.sources.len()).sum::<usize>()
            + history.criteria.len()
            + history.lesson.as_ref().map_or(0, |lesson| lesson.batches.len() + lesson.beliefs.len())
            + history.sources.len(),
    };
    history.sources.iter().map(weigh).fold(own, |sum, source| Weight {
        events: sum.events + source.events,
        levels: sum.levels.max(source.levels + 1),
        weather_days: sum.weather_days + source.weather_days,
        rows: sum.rows + source.rows,
    })
}
