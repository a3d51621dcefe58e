//! Days of weather about the normals: warm and cold spells, wet and dry days.

use baycast_model::history::History;
use baycast_model::moment::days_to_date;
use baycast_model::site::DailyWeather;
use baycast_model::weather::Weather;

use crate::chance::Chance;

/// Standard deviation of a day's mean about the normal, °C. Of the order seen in western Europe (from memory).
const SPELL_C: f64 = 3.0;
/// Days in which a spell's memory falls to 1/e (from memory).
const SPELL_DAYS: f64 = 4.0;
/// Standard deviation of a whole season about the normals, °C.
const SEASON_C: f64 = 0.8;
/// Probability of a wet day after a wet and after a dry one (from memory: temperate Markov chains of rain).
const WET_AFTER: [f64; 2] = [0.6, 0.3];
/// Share of wet days in the long run of that chain.
const WET_SHARE: f64 = 0.3 / (1.0 - 0.6 + 0.3);

/// One day.
#[derive(Clone, Copy, Debug)]
pub struct Day {
    /// Mean air temperature, °C.
    pub air_c: f64,
    /// Rain, mm.
    pub rain_mm: f64,
    /// Relative humidity.
    pub humidity: f64,
}

/// Consecutive days.
#[derive(Clone, Debug)]
pub struct Days {
    first: i64,
    days: Vec<Day>,
}

impl Days {
    /// Draws the days from `first` (days since 1970) to `last` at the history's site.
    pub fn draw(history: &History, first: i64, last: i64, chance: &mut Chance) -> Self {
        let normals = Weather::new(&history.site);
        let season_c = SEASON_C * chance.normal();
        let memory = (-1.0 / SPELL_DAYS).exp();
        let mut spell = chance.normal();
        let mut wet = chance.happens(WET_SHARE);
        let days = (first..=last).map(|day| {
            let (air_c, rain_mm) = normals.at(day as f64 + 0.5);
            spell = memory * spell + (1.0 - memory * memory).sqrt() * chance.normal();
            wet = chance.happens(WET_AFTER[usize::from(!wet)]);
            Day {
                air_c: air_c + season_c + SPELL_C * spell,
                rain_mm: if wet { chance.exponential(rain_mm / WET_SHARE) } else { 0.0 },
                humidity: if wet { chance.between(0.80, 0.95) } else { chance.between(0.60, 0.85) },
            }
        });
        Self { first, days: days.collect() }
    }

    /// The day that holds a moment.
    pub fn on(&self, day: f64) -> &Day {
        let place = (day.floor() as i64 - self.first).max(0) as usize;
        &self.days[place.min(self.days.len() - 1)]
    }

    /// Air temperature at a moment, on straight lines from noon to noon, °C.
    pub fn air_c(&self, day: f64) -> f64 {
        let before = (day - 0.5).floor();
        let share = day - 0.5 - before;
        self.on(before).air_c * (1.0 - share) + self.on(before + 1.0).air_c * share
    }

    /// What a station nearby notes from `first` to `last`, °C to half a degree of error.
    pub fn noted(&self, first: i64, last: i64, chance: &mut Chance) -> Vec<DailyWeather> {
        let days = (first..=last).map(|day| {
            let seen = self.on(day as f64);
            DailyWeather {
                date: days_to_date(day as f64),
                mean_air_c: seen.air_c + 0.5 * chance.normal(),
                rain_mm: Some(seen.rain_mm),
            }
        });
        days.collect()
    }
}
