//! What the plot shows: a batch with its two forecasts, and what they say in words.

use std::fs;

use baycast_model::estimate;
use baycast_model::estimate::{Estimate, Spread};
use baycast_model::history::{History, Zone};
use baycast_model::moment::date_to_days;
use baycast_model::window::Use;
use jiff::civil::Date;

use super::svg::Point;
use crate::binary::repository;

/// The batch shown, of `crates/baycast/demo/larkfield.json`.
pub const BATCH: &str = "timber-2 summer";

/// Middle and range of an opening; none for an end beyond the horizon.
#[derive(Clone, Copy)]
pub struct Opens {
    pub p10: Date,
    pub p50: Date,
    pub p90: Option<Date>,
}

/// What is shown.
pub struct Shown {
    /// Moments and temperatures of readings in the core, days since 1970 and °C.
    pub readings: Vec<Point>,
    /// Those of them that are doubted.
    pub doubted: Vec<Point>,
    /// Moments at which material was added.
    pub additions: Vec<f64>,
    /// Observations that the fit rests on.
    pub observations: u32,
    /// The day of the estimates.
    pub as_of: Date,
    /// From materials alone, and fitted.
    estimates: [Estimate; 2],
    /// Of the bed-dressing window.
    pub opens: [Opens; 2],
}

impl Shown {
    /// As the demo has it.
    pub fn new() -> Self {
        let text = fs::read_to_string(repository().join("crates/baycast/demo/larkfield.json"));
        let histories: Vec<History> = serde_json::from_str(&text.expect("the demo")).expect("histories");
        let seen = histories.into_iter().find(|history| history.batch == BATCH).expect("the batch");
        let seen = History { forecast_step_days: Some(1), ..seen };
        let mut unseen = seen.clone();
        unseen
            .events
            .retain(|event| event.reading.is_none() && event.moisture.is_none() && event.level.is_none());
        let as_of = seen.as_of.expect("a day").date();
        let estimates = [&unseen, &seen].map(|history| estimate(history, as_of).expect("an estimate"));
        let readings = seen.events.iter().filter_map(|event| {
            let reading = event.reading.as_ref().filter(|reading| reading.zone() == Zone::Core)?;
            Some((event.at.days(), reading.celsius()?))
        });
        let suspect = |own: &Point| {
            let suspects = &estimates[1].suspect_readings;
            suspects.iter().any(|reading| (reading.at.days(), reading.temperature_c) == *own)
        };
        let (doubted, readings) = readings.partition(suspect);
        let mut additions: Vec<f64> = seen
            .events
            .iter()
            .filter(|event| event.addition.is_some())
            .map(|event| event.at.days())
            .collect();
        additions.dedup();
        Self {
            readings,
            doubted,
            additions,
            observations: estimates[1].learned.observations,
            as_of,
            opens: [0, 1].map(|which: usize| {
                let window = estimates[which].windows.iter().find(|own| own.for_use == Use::BedDressing);
                let opens = window.expect("a window").opens;
                let day = |day: Option<Date>| day.expect("it opens before the horizon");
                Opens { p10: day(opens.p10), p50: day(opens.p50), p90: opens.p90 }
            }),
            estimates,
        }
    }

    /// Those and these.
    pub fn all_readings(&self) -> impl Iterator<Item = &Point> {
        self.readings.iter().chain(&self.doubted)
    }

    /// Points of a forecast up to a day: its moment, and the core.
    pub fn course(&self, which: usize, until: f64) -> Vec<(f64, Spread)> {
        let points = self.estimates[which].forecast.iter();
        // Values are for the day's end.
        let points = points.map(|point| (date_to_days(point.date) + 1.0, point.core_c));
        points.take_while(|(day, _)| *day <= until).collect()
    }

    /// Middle and range of an opening.
    pub fn opens_in_words(&self, which: usize) -> String {
        let Opens { p10, p50, p90 } = self.opens[which];
        let horizon = self.estimates[which].forecast.last().expect("a forecast").date;
        // A year that goes without saying is not said.
        let short = |day: Date| {
            if day.year() == p50.year() { day.strftime("%-d %b").to_string() } else { dated(day) }
        };
        let until = p90.map_or_else(|| format!("after {}", dated(horizon)), short);
        format!("{} ({} to {until})", dated(p50), short(p10))
    }

    /// What the drawing says, in words.
    pub fn description(&self) -> String {
        let highest = self.all_readings().map(|(_, celsius)| *celsius).fold(f64::NEG_INFINITY, f64::max);
        let now = |which: usize| {
            let Spread { p10, p50, p90 } = self.estimates[which].now.expect("a heap").core_c;
            format!("{p50:.0} °C ({p10:.0} to {p90:.0})")
        };
        format!(
            "Core temperature over time of an invented batch, with {} readings up to {highest:.0} °C; ranges are P50 \
             (P10 to P90). On {} it is {} by materials alone, {} fitted to what was seen. The bed-dressing window opens \
             on {} by materials alone, on {} fitted.",
            self.all_readings().count(),
            dated(self.as_of),
            now(0),
            now(1),
            self.opens_in_words(0),
            self.opens_in_words(1)
        )
    }
}

/// A day with its year.
pub fn dated(day: Date) -> String {
    day.strftime("%-d %b %Y").to_string()
}
