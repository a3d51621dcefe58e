//! The course of a batch's temperature: what was read, what was fitted to it, and how it may go on.

use std::collections::BTreeMap;
use std::fmt::Write;

use baycast_model::estimate::{ForecastPoint, Spread};
use baycast_model::history::Zone;
use baycast_model::moment::date_to_days;
use jiff::Span as Time;
use jiff::civil::Date;

use super::{Short, Span, escaped};
use crate::words;

/// Height of the drawing and where its lowest and highest temperature are.
const HEIGHT: f64 = 380.0;
const BOTTOM: f64 = 330.0;
const TOP: f64 = 14.0;
/// °C at the bottom, and at the top where nothing is higher.
const COLDEST_C: f64 = -10.0;
const WARMEST_C: f64 = 85.0;
/// Where marks of what was done stand.
const DONE: f64 = 340.0;
/// Breadths in which at most a lowest and a highest reading of each zone are drawn.
const BREADTHS: f64 = 240.0;
/// Units across in which curves are drawn.
const ACROSS: f64 = 1000.0;

/// A reading as it is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dot {
    /// When, days since 1970.
    pub day: f64,
    /// °C.
    pub celsius: f64,
    /// Where in the heap.
    pub zone: Zone,
    /// Whether it is doubted.
    pub doubted: bool,
}

/// Something done, as it is marked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mark {
    /// Material was put in.
    PutIn,
    /// The heap was turned, moved or merged.
    Turned,
}

/// What is drawn.
#[derive(Clone, Debug)]
pub struct Course<'a> {
    /// The day of the estimate.
    pub today: Date,
    /// Until when.
    pub until: Date,
    /// The expected course.
    pub points: &'a [ForecastPoint],
    /// Readings.
    pub dots: Vec<Dot>,
    /// What was done, by day since 1970.
    pub marks: Vec<(f64, Mark)>,
    /// What it says in words.
    pub told: String,
}

impl Course<'_> {
    /// The days shown: from the first of what is known.
    fn span(&self) -> Span {
        let first = self.points.first().map_or(f64::INFINITY, |point| date_to_days(point.date));
        let dots = self.dots.iter().map(|dot| dot.day);
        let from = dots.chain(self.marks.iter().map(|(day, _)| *day)).fold(first, f64::min);
        let to = date_to_days(self.until) + 1.0;
        Span { from: if from.is_finite() { from.min(to - 1.0) } else { to - 1.0 }, to }
    }

    /// The drawing.
    pub fn drawing(&self) -> String {
        let span = self.span();
        let mut out = String::with_capacity(16_000);
        let told = escaped(&self.told);
        let _ = write!(
            out,
            r#"<svg class="course" width="100%" height="{HEIGHT}" role="img" aria-label="{told}">"#
        );
        self.months(&mut out, span);
        self.ranges(&mut out, span);
        thresholds(&mut out);
        let today = Short(span.percent(date_to_days(self.today) + 1.0));
        let _ = write!(
            out,
            r#"<line class="today" x1="{today}%" x2="{today}%" y1="{TOP}" y2="{BOTTOM}"/><text class="threshold from" x="{today}%" dx="5" y="{}">{}</text>"#,
            BOTTOM - 6.0,
            words::TODAY
        );
        for (day, mark) in &self.marks {
            let at = Short(span.percent(*day));
            let (class, path) = match mark {
                Mark::PutIn => ("put-in", "M0 0l5 9h-10z"),
                Mark::Turned => ("turned", "M0-1l5 5-5 5-5-5z"),
            };
            placed(&mut out, class, at, DONE, path);
        }
        for dot in thinned(&self.dots, span) {
            self::dot(&mut out, &dot, span);
        }
        out.push_str("</svg>");
        out
    }

    /// First days of months as lines with their names.
    fn months(&self, out: &mut String, span: Span) {
        let first = self.points.first().map_or(self.today, |point| point.date).min(self.today);
        let months = (0..36).map(|month| first.first_of_month().saturating_add(Time::new().months(month)));
        let shown: Vec<Date> = months.filter(|month| span.holds(date_to_days(*month))).collect();
        let many = shown.len() > 7;
        for (index, month) in shown.iter().enumerate() {
            let at = Short(span.percent(date_to_days(*month)));
            let name = words::MONTHS[usize::from(month.month().unsigned_abs()) - 1];
            let class = if many && index % 2 == 1 { r#" class="odd""# } else { "" };
            let _ = write!(
                out,
                r#"<line class="grid" x1="{at}%" x2="{at}%" y1="{TOP}" y2="{BOTTOM}"/><text{class} x="{at}%" dx="3" y="{}">{name}</text>"#,
                HEIGHT - 10.0
            );
        }
    }

    /// The range of the core up to today and behind it, the middle of both, and the middle of the edge.
    fn ranges(&self, out: &mut String, span: Span) {
        let _ = write!(
            out,
            r#"<svg y="0" width="100%" height="{HEIGHT}" viewBox="0 0 {ACROSS} {HEIGHT}" preserveAspectRatio="none">"#
        );
        let shown: Vec<&ForecastPoint> =
            self.points.iter().filter(|point| span.holds(date_to_days(point.date))).collect();
        // The day of the estimate belongs to both.
        let past: Vec<_> = shown.iter().filter(|point| point.date <= self.today).copied().collect();
        let ahead: Vec<_> = shown.iter().filter(|point| point.date >= self.today).copied().collect();
        for (class, points) in [("fitted", &past), ("ahead", &ahead)] {
            let upper = line(points, span, |spread| spread.p90);
            let lower = line(&points.iter().rev().copied().collect::<Vec<_>>(), span, |spread| spread.p10);
            if points.len() > 1 {
                let _ = write!(out, r#"<path class="{class} range" d="M{upper}L{lower}z"/>"#);
                let middle = line(points, span, |spread| spread.p50);
                let _ = write!(
                    out,
                    r#"<path class="{class} middle" vector-effect="non-scaling-stroke" d="M{middle}"/>"#
                );
            }
        }
        if shown.len() > 1 {
            let edge: Vec<String> =
                shown.iter().map(|point| at(date_to_days(point.date), point.edge_c.p50, span)).collect();
            let _ = write!(
                out,
                r#"<path class="edge middle" vector-effect="non-scaling-stroke" d="M{}"/>"#,
                edge.join("L")
            );
        }
        out.push_str("</svg>");
    }
}

/// A temperature's place.
fn y(celsius: f64) -> f64 {
    let celsius = celsius.clamp(COLDEST_C, WARMEST_C + 10.0);
    BOTTOM - (celsius - COLDEST_C) / (WARMEST_C - COLDEST_C) * (BOTTOM - TOP)
}

/// A point of a curve.
fn at(day: f64, celsius: f64, span: Span) -> String {
    // A value is for its day's end.
    format!("{} {}", Short(ACROSS / 100.0 * span.percent(day + 1.0)), Short(y(celsius)))
}

/// A curve through one value of the core's range.
fn line(points: &[&ForecastPoint], span: Span, value: fn(&Spread) -> f64) -> String {
    let points: Vec<String> =
        points.iter().map(|point| at(date_to_days(point.date), value(&point.core_c), span)).collect();
    points.join("L")
}

/// Lines at temperatures that mean something, with their meaning.
fn thresholds(out: &mut String) {
    for (celsius, meaning) in words::THRESHOLDS {
        let y = Short(y(f64::from(celsius)));
        let _ = write!(
            out,
            r#"<line class="threshold t{celsius}" x1="0" x2="100%" y1="{y}" y2="{y}"/><text class="threshold" x="100%" dx="-6" y="{y}" dy="-4">{meaning}</text>"#
        );
    }
}

/// A small shape at a place along the drawing.
fn placed(out: &mut String, class: &str, percent: Short, y: f64, path: &str) {
    let _ = write!(
        out,
        r#"<svg class="{class}" x="{percent}%" y="{}" width="1" height="1" overflow="visible"><path d="{path}"/></svg>"#,
        Short(y)
    );
}

fn dot(out: &mut String, dot: &Dot, span: Span) {
    let (at, y) = (Short(span.percent(dot.day)), y(dot.celsius));
    match (dot.doubted, dot.zone) {
        (true, _) => placed(out, "doubted", at, y, "M-5-5L5 5M5-5L-5 5"),
        (false, Zone::Core) => {
            let _ = write!(out, r#"<circle class="core" cx="{at}%" cy="{}" r="4"/>"#, Short(y));
        }
        (false, Zone::Edge) => placed(out, "at-edge", at, y, "M-4-4h8v8h-8z"),
    }
}

/// The readings that are drawn: where they crowd, the lowest and the highest of each zone, and of those doubted.
fn thinned(dots: &[Dot], span: Span) -> Vec<Dot> {
    let mut kept: BTreeMap<(i64, Zone, bool), (Dot, Dot)> = BTreeMap::new();
    for dot in dots {
        let breadth = (span.percent(dot.day) / 100.0 * BREADTHS).round() as i64;
        let ends = kept.entry((breadth, dot.zone, dot.doubted)).or_insert((*dot, *dot));
        if dot.celsius < ends.0.celsius {
            ends.0 = *dot;
        }
        if dot.celsius > ends.1.celsius {
            ends.1 = *dot;
        }
    }
    kept.into_values().flat_map(|(low, high)| if low == high { vec![low] } else { vec![low, high] }).collect()
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;

    fn point(date: Date, core_c: f64) -> ForecastPoint {
        let spread = |p50: f64| Spread { p10: p50 - 10.0, p50, p90: p50 + 10.0 };
        ForecastPoint {
            date,
            core_c: spread(core_c),
            edge_c: spread(20.0),
            volume_m3: spread(1.0),
            moisture_fraction: spread(0.5),
            maturity_index: spread(0.5),
        }
    }

    #[test]
    fn what_was_fitted_and_what_is_ahead_meet_today() {
        let points =
            [point(date(2026, 9, 1), 50.0), point(date(2026, 9, 2), 40.0), point(date(2026, 9, 3), 30.0)];
        let (today, until) = (date(2026, 9, 2), date(2026, 9, 3));
        let course = Course {
            today,
            until,
            points: &points,
            dots: Vec::new(),
            marks: Vec::new(),
            told: "a & b".to_owned(),
        };
        let drawn = course.drawing();
        // Three days: the end of the second is at two thirds of the way, and 40 °C at 10/19 of the height.
        let middle = format!("666.7 {}", Short(y(40.0)));
        assert!(
            drawn.contains(&format!(
                r#"class="ahead middle" vector-effect="non-scaling-stroke" d="M{middle}L"#
            )),
            "{drawn}"
        );
        assert!(drawn.contains(&format!(r#"L{middle}"/>"#)), "{drawn}");
        assert!(drawn.contains("a &amp; b"));
    }

    #[test]
    fn a_crowd_of_readings_keeps_its_extremes_and_all_its_doubts() {
        let span = Span { from: 0.0, to: 100.0 };
        let reading = |day: f64, celsius: f64, doubted| Dot { day, celsius, zone: Zone::Core, doubted };
        let mut dots: Vec<Dot> = (0..50_000)
            .map(|minute| reading(f64::from(minute) / 500.0, 50.0 + f64::from(minute % 7), false))
            .collect();
        dots.push(reading(30.0, 90.0, true));
        let kept = thinned(&dots, span);
        assert!(kept.len() < 600, "{}", kept.len());
        assert!(kept.iter().any(|dot| dot.doubted));
        assert!(kept.iter().any(|dot| dot.celsius == 50.0) && kept.iter().any(|dot| dot.celsius == 56.0));
    }

    #[test]
    fn nothing_known_yet_is_drawn_empty() {
        let today = date(2026, 9, 2);
        let course = Course {
            today,
            until: today,
            points: &[],
            dots: Vec::new(),
            marks: Vec::new(),
            told: String::new(),
        };
        assert!(!course.drawing().contains("NaN"));
    }
}
