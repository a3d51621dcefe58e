//! What is told of a batch in sentences, with days as RFC 3339 has them.

use baycast_model::CAUTIONS;
use baycast_model::advice::Advice;
use baycast_model::estimate::Spread;
use baycast_model::window::{DateSpread, Use};
use baycast_service::readiness::{BatchReadiness, SuggestedTurn, WindowReadiness};
use jiff::civil::Date;

use super::columns::word;
use super::quantities::Quantity;

/// What stands before every estimate that leaves the service.
pub const ESTIMATE: &str = "An estimate, not a measurement; ranges are from one in ten to nine in ten.";

/// A day that is not known.
const BEYOND: &str = "beyond the horizon";

/// A batch by its name, or by its id where it has none.
pub fn called(batch: &BatchReadiness) -> &str {
    if batch.name.is_empty() { &batch.batch } else { &batch.name }
}

/// A batch with its bay and how far along it is.
pub fn headline(batch: &BatchReadiness) -> String {
    format!("{} in {}: {}", called(batch), batch.bay, word(&batch.stage))
}

/// What a window is for.
pub fn purpose(for_use: Use) -> &'static str {
    match for_use {
        Use::Mulch => "ready to lay as mulch",
        Use::BedDressing => "ready to spread on beds",
        Use::Potting => "ready for potting mixes",
    }
}

/// What a window is for, when it opens and until when it is at its best, and how much there will be.
pub fn window(window: &WindowReadiness) -> String {
    let (purpose, opens, best_by) = (purpose(window.for_use), days(window.opens), days(window.best_by));
    let volume = window.volume_at_opening_m3.map(|m3| Quantity::VolumeM3(m3).value());
    let volume = volume.map(|volume| format!("; {volume} m³ at opening")).unwrap_or_default();
    let probability = percent(window.open_now_probability);
    format!("{purpose}: opens {opens}, best by {best_by}{volume}; open now with {probability} probability")
}

/// The heap on the farm's day; nothing where nothing is left of it.
pub fn heap(batch: &BatchReadiness) -> Option<String> {
    let now = batch.now?;
    let index = batch.maturity_index.map(|index| format!(", {} broken down", range(index, percent)));
    Some(format!(
        "core {} °C, edge {} °C, moisture {}, {} m³ which fill {} of the bay{}",
        range(now.core_c, |c| Quantity::TemperatureC(c).value().to_string()),
        range(now.edge_c, |c| Quantity::TemperatureC(c).value().to_string()),
        range(now.moisture_fraction, percent),
        range(now.volume_m3, |m3| Quantity::VolumeM3(m3).value().to_string()),
        percent(now.fill_fraction),
        index.unwrap_or_default(),
    ))
}

/// A turn that is advised.
pub fn turn(turn: &SuggestedTurn) -> String {
    format!("by {}: {} ({})", turn.by, turn.action, turn.reason)
}

/// Something to do, and why.
pub fn advice(advice: &Advice) -> String {
    format!("{} ({})", advice.action, advice.reason)
}

/// What every reader should bear in mind.
pub fn cautions() -> impl Iterator<Item = &'static str> {
    [ESTIMATE].into_iter().chain(CAUTIONS)
}

fn days(days: DateSpread) -> String {
    let day = |day: Option<Date>| day.map_or_else(|| BEYOND.to_owned(), |day| day.to_string());
    match days {
        DateSpread { p10: None, p50: None, p90: None } => BEYOND.to_owned(),
        DateSpread { p10, p50, p90 } if p10 == p50 && p50 == p90 => day(p50),
        DateSpread { p10, p50, p90 } => format!("{} ({} to {})", day(p50), day(p10), day(p90)),
    }
}

fn range(Spread { p10, p50, p90 }: Spread, shown: impl Fn(f64) -> String) -> String {
    format!("{} ({} to {})", shown(p50), shown(p10), shown(p90))
}

fn percent(fraction: f64) -> String {
    format!("{:.0} %", fraction * 100.0 + 0.0)
}
