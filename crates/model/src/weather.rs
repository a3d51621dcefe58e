//! Air temperature and rain at any moment, from normals or a daily series.

use crate::moment::date_to_days;
use crate::site::{Normals, Site};

/// Continuous weather: piecewise linear between mid-months, or between noons where there are daily values.
#[derive(Clone, Debug, PartialEq)]
pub struct Weather {
    /// Mid-month day of the year, air °C, rain mm/day; December before and January after included.
    monthly: [(f64, f64, f64); 14],
    /// Noon of the first daily value, days since 1970, and the values; runs without gaps.
    daily: Vec<DailyRun>,
    /// How the weather to come differs from the normals.
    to_come: ToCome,
}

/// A plausible season to come.
#[derive(Clone, Copy, Debug, PartialEq)]
struct ToCome {
    /// Its first day, days since 1970.
    from: f64,
    /// Warmer than the normals by so much, °C.
    warmer_c: f64,
    /// Factor on the normals' rain.
    rain: f64,
}

/// Consecutive days of observed or forecast weather.
#[derive(Clone, Debug, PartialEq)]
pub struct DailyRun {
    first_noon: f64,
    air_c: Vec<f64>,
    rain_mm: Vec<f64>,
}

/// Length of the year that the monthly cycle repeats over, days. Counted from 1970-01-01, so that the cycle has no jump
/// at a new year and drifts from the calendar by less than a day.
const YEAR_DAYS: f64 = 365.25;
const MONTH_DAYS: [f64; 12] = [31.0, 28.25, 31.0, 30.0, 31.0, 30.0, 31.0, 31.0, 30.0, 31.0, 30.0, 31.0];

impl Weather {
    /// Weather of a validated site.
    #[must_use]
    pub fn new(site: &Site) -> Self {
        let assumed;
        let normals = if let Some(given) = &site.normals {
            given
        } else {
            assumed = temperate_normals(site.latitude_deg);
            &assumed
        };
        let mut monthly = [(0.0, 0.0, 0.0); 14];
        let mut start = 0.0;
        for month in 0..12 {
            let length = MONTH_DAYS[month];
            monthly[month + 1] =
                (start + length / 2.0, normals.mean_air_c[month], normals.rain_mm[month] / length);
            start += length;
        }
        monthly[0] = (monthly[12].0 - YEAR_DAYS, monthly[12].1, monthly[12].2);
        monthly[13] = (monthly[1].0 + YEAR_DAYS, monthly[1].1, monthly[1].2);
        let to_come = ToCome { from: f64::INFINITY, warmer_c: 0.0, rain: 1.0 };
        let mut weather = Self { monthly, daily: Vec::new(), to_come };

        let mut days: Vec<_> = site.daily.iter().collect();
        days.sort_by_key(|day| day.date);
        let mut runs: Vec<DailyRun> = Vec::new();
        for day in days {
            let noon = date_to_days(day.date) + 0.5;
            let rain = day.rain_mm.unwrap_or_else(|| weather.normal(noon).at(noon).1);
            match runs.last_mut() {
                Some(run) if (noon - run.first_noon - run.air_c.len() as f64).abs() < 0.5 => {
                    run.air_c.push(day.mean_air_c);
                    run.rain_mm.push(rain);
                }
                _ => {
                    runs.push(DailyRun {
                        first_noon: noon,
                        air_c: vec![day.mean_air_c],
                        rain_mm: vec![rain],
                    });
                }
            }
        }
        weather.daily = runs;
        weather
    }

    /// Lets the weather be open from the first mid-month after `day` on, where the normals have a corner anyway.
    pub(crate) fn open_after(&mut self, day: f64) {
        let year = (day / YEAR_DAYS).floor() * YEAR_DAYS;
        let corners = self.monthly[1..].iter().map(|month| year + month.0);
        self.to_come.from = corners.filter(|corner| *corner > day).fold(f64::INFINITY, f64::min);
    }

    /// Makes the weather that is open warmer by `by_c` and its rain `rain` times as much, wherever only normals are known.
    pub(crate) fn shift(&mut self, by_c: f64, rain: f64) {
        self.to_come.warmer_c += by_c;
        self.to_come.rain *= rain;
    }

    /// Air temperature, °C, and rain, mm/day, at `day` since 1970.
    #[must_use]
    pub fn at(&self, day: f64) -> (f64, f64) {
        self.spell(day, day).line(day).at(day)
    }

    /// The weather of `from..=to`, which no corner lies within.
    #[must_use]
    pub fn spell(&self, from: f64, to: f64) -> Spell<'_> {
        let middle = f64::midpoint(from, to);
        match self.daily.iter().find(|run| run.reaches(middle)) {
            Some(run) => Spell::Daily(run),
            None => Spell::Normal(self.normal(middle)),
        }
    }

    /// Days within `from..to` at which the weather jumps, between a daily run and the normals, or the normals change
    /// their slope, in order. The noons within a run, at which it bends, are left to [`Spell::straight_until`].
    #[must_use]
    pub fn corners(&self, from: f64, to: f64) -> Vec<f64> {
        let runs = self.daily.iter().flat_map(|run| [run.start(), run.end()]);
        let years = (from / YEAR_DAYS).floor() as i64..=(to / YEAR_DAYS).floor() as i64;
        let months = years
            .flat_map(|year| self.monthly[1..13].iter().map(move |month| year as f64 * YEAR_DAYS + month.0));
        let mut corners: Vec<f64> = runs.chain(months).filter(|day| from < *day && *day < to).collect();
        corners.sort_by(f64::total_cmp);
        corners
    }

    /// Day up to which this weather is `other` too; none where their normals differ.
    pub(crate) fn alike_until(&self, other: &Self) -> f64 {
        if self.monthly != other.monthly {
            return f64::NEG_INFINITY;
        }
        let open = if self.to_come == other.to_come {
            f64::INFINITY
        } else {
            self.to_come.from.min(other.to_come.from)
        };
        for index in 0..self.daily.len().max(other.daily.len()) {
            match (self.daily.get(index), other.daily.get(index)) {
                (Some(own), Some(its)) if own == its => {}
                (Some(own), Some(its)) => return own.alike_until(its).min(open),
                (Some(run), None) | (None, Some(run)) => return run.start().min(open),
                (None, None) => break,
            }
        }
        open
    }

    /// Bytes of its daily values.
    pub(crate) fn bytes(&self) -> usize {
        let days: usize = self.daily.iter().map(|run| run.air_c.capacity() + run.rain_mm.capacity()).sum();
        days * size_of::<f64>() + self.daily.capacity() * size_of::<DailyRun>()
    }

    /// The line of the normals that `day` lies on.
    fn normal(&self, day: f64) -> Line {
        let position = day.rem_euclid(YEAR_DAYS);
        let after = self.monthly.partition_point(|month| month.0 < position).clamp(1, 13);
        let (start, air_c, rain_mm) = self.monthly[after - 1];
        let (end, next_air_c, next_rain_mm) = self.monthly[after];
        let (warmer_c, rain) =
            if day < self.to_come.from { (0.0, 1.0) } else { (self.to_come.warmer_c, self.to_come.rain) };
        Line {
            from: day - position + start,
            air_c: air_c + warmer_c,
            rain_mm: rain_mm * rain,
            air_c_day: (next_air_c - air_c) / (end - start),
            rain_mm_day: (next_rain_mm - rain_mm) * rain / (end - start),
        }
    }
}

/// Weather between two corners.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Spell<'a> {
    /// Normals, between two mid-months.
    Normal(Line),
    /// Daily values.
    Daily(&'a DailyRun),
}

impl Spell<'_> {
    /// The line that the weather follows from `day` on.
    #[must_use]
    pub fn line(&self, day: f64) -> Line {
        match self {
            Self::Normal(line) => *line,
            Self::Daily(run) => run.line(day),
        }
    }

    /// Day until which it follows that line.
    #[must_use]
    pub fn straight_until(&self, day: f64) -> f64 {
        match self {
            Self::Normal(_) => f64::INFINITY,
            Self::Daily(run) => run.first_noon + (day - run.first_noon).floor() + 1.0,
        }
    }
}

/// Weather that changes evenly.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// Where it starts, days since 1970.
    from: f64,
    /// Air there, °C.
    air_c: f64,
    /// Rain there, mm/day.
    rain_mm: f64,
    /// Growth of the air's temperature, °C a day.
    pub air_c_day: f64,
    /// Growth of the rain, mm/day a day.
    pub rain_mm_day: f64,
}

impl Line {
    /// Air temperature, °C, and rain, mm/day, at `day`.
    #[must_use]
    pub fn at(&self, day: f64) -> (f64, f64) {
        let days = day - self.from;
        (self.air_c + days * self.air_c_day, self.rain_mm + days * self.rain_mm_day)
    }
}

impl DailyRun {
    /// Where it takes over from the normals, days since 1970.
    fn start(&self) -> f64 {
        self.first_noon - 0.5
    }

    /// Where it gives way to the normals.
    fn end(&self) -> f64 {
        self.first_noon + self.air_c.len() as f64 - 0.5
    }

    fn reaches(&self, day: f64) -> bool {
        (self.start()..self.end()).contains(&day)
    }

    /// The line from noon to noon that `day` lies on; half a day at each end stands at the end's own values.
    fn line(&self, day: f64) -> Line {
        let position = day - self.first_noon;
        let left = (position.max(0.0) as usize).min(self.air_c.len() - 1);
        let right = if position < 0.0 { left } else { (left + 1).min(self.air_c.len() - 1) };
        Line {
            from: self.first_noon + left as f64,
            air_c: self.air_c[left],
            rain_mm: self.rain_mm[left],
            air_c_day: self.air_c[right] - self.air_c[left],
            rain_mm_day: self.rain_mm[right] - self.rain_mm[left],
        }
    }

    /// Day up to which two different runs are the same.
    fn alike_until(&self, other: &Self) -> f64 {
        let days = self.air_c.iter().zip(&self.rain_mm).zip(other.air_c.iter().zip(&other.rain_mm));
        let common = days.take_while(|(own, its)| own == its).count();
        if self.first_noon.total_cmp(&other.first_noon).is_ne() || common == 0 {
            return self.start().min(other.start());
        }
        // From the last noon in common on, the day after it counts.
        self.first_noon + common as f64 - 1.0
    }
}

/// A temperate, moderately maritime climate where the caller gives none.
///
/// Annual mean `26 − 0.31 |lat|` °C, half-range `0.13 |lat|` °C, warmest in mid-July (mid-January in the south),
/// 60 mm of rain a month. Estimate from memory of western European normals: at 52° 9.9 ± 6.8 °C.
#[must_use]
pub fn temperate_normals(latitude_deg: f64) -> Normals {
    let lat = latitude_deg.abs();
    let warmest = if latitude_deg < 0.0 { 0.5 } else { 6.5 };
    let mean_air_c = (0..12)
        .map(|month| {
            let phase = (f64::from(month) + 0.5 - warmest) / 12.0 * std::f64::consts::TAU;
            26.0 - 0.31 * lat + 0.13 * lat * phase.cos()
        })
        .collect();
    Normals { mean_air_c, rain_mm: vec![60.0; 12] }
}
