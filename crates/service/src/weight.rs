//! What a history or a season weighs, counted before any work is done on it.

use baycast_model::bay::Bay;
use baycast_model::feedstock::Feedstock;
use baycast_model::history::History;
use baycast_model::plan::season::Season;

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
    within(Quantity::SourceLevels, weight.levels, limits.max_source_levels)?;
    within(Quantity::Events, weight.events, limits.max_events)?;
    within(Quantity::WeatherDays, weight.weather_days, limits.max_weather_days)?;
    within(Quantity::Rows, weight.rows, limits.max_rows)
}

/// Turns away a season that is larger than the limits allow; how deep its sources go is the model's to say.
pub fn check_season(season: &Season, limits: &Limits) -> Result<(), Error> {
    let weights: Vec<Weight> = season.batches.iter().map(|own| weigh(&own.history)).collect();
    let sum = |of: fn(&Weight) -> usize| weights.iter().map(of).sum::<usize>();
    let weather_days = weights.iter().map(|own| own.weather_days).max().unwrap_or(0);
    let rows = season.bays.iter().map(layers).chain(season.feedstocks.iter().map(sources)).sum::<usize>();
    within(Quantity::SeasonEvents, sum(|own| own.events), limits.max_events)?;
    within(Quantity::WeatherDays, season.site.daily.len(), limits.max_weather_days)?;
    within(Quantity::BatchWeatherDays, weather_days, limits.max_weather_days)?;
    within(Quantity::Rows, rows + season.criteria.len() + sum(|own| own.rows), limits.max_rows)
}

fn within(what: Quantity, given: usize, limit: usize) -> Result<(), Error> {
    if given <= limit {
        return Ok(());
    }
    Err(Error::TooLarge { what, limit: limit as u64, given: Some(given as u64) })
}

/// A bay and the layers of its wall.
fn layers(bay: &Bay) -> usize {
    1 + bay.wall.layers.len()
}

/// A feedstock and where its values are from.
fn sources(feedstock: &Feedstock) -> usize {
    1 + feedstock.sources.len()
}

/// Counts one history. The depth of recursion is bounded by the parsers, which refuse deep nesting.
fn weigh(history: &History) -> Weight {
    let own = Weight {
        events: history.events.len(),
        levels: 0,
        weather_days: history.site.daily.len(),
        rows: layers(&history.bay)
            + history.other_bays.iter().map(layers).sum::<usize>()
            + history.feedstocks.iter().map(sources).sum::<usize>()
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
