//! The panels of the plot: temperatures above, the ranges of the window's opening below, on the same days.

use baycast_model::moment::{date_to_days, days_to_date};
use jiff::ToSpan;
use jiff::civil::Date;

use super::shown::{BATCH, Shown, dated};
use super::svg::{Anchor, Drawing, Point};

const WIDTH: f64 = 800.0;
const HEIGHT: f64 = 470.0;
/// Edges of the panel of temperatures.
const LEFT: f64 = 52.0;
const RIGHT: f64 = 780.0;
const TOP: f64 = 96.0;
const BOTTOM: f64 = 338.0;
/// Baselines of the rows below it.
const MONTHS: f64 = 356.0;
const OPENS: f64 = 388.0;
const ROWS: [f64; 2] = [416.0, 446.0];
/// Half the height of a bar.
const BAR: f64 = 8.0;
/// Days shown after the later end of the window's ranges, and most after the day of the estimates.
const MARGIN_DAYS: f64 = 7.0;
const LATEST_DAYS: f64 = 120.0;
/// Temperatures between grid lines, and shown beyond the highest and the lowest, °C.
const STEP_C: f64 = 20.0;
const MARGIN_C: f64 = 4.0;
/// Length of the tip of a bar that goes on.
const TIP: f64 = 10.0;

/// What stands for each forecast in the drawing.
const CLASSES: [&str; 2] = ["before", "after"];

/// Places on the drawing.
struct Axes {
    /// First and last day shown.
    days: [f64; 2],
    /// Lowest and highest temperature shown.
    celsius: [f64; 2],
}

impl Axes {
    /// Wide enough for all that is shown.
    fn of(shown: &Shown) -> Self {
        let first = shown.course(0, f64::INFINITY)[0].0 - 1.0;
        let ends = shown.opens.iter().map(|opens| opens.p90.unwrap_or(opens.p50));
        let as_of = date_to_days(shown.as_of);
        let last = (ends.map(date_to_days).fold(as_of, f64::max) + MARGIN_DAYS).min(as_of + LATEST_DAYS);
        let courses = (0..2).flat_map(|which| shown.course(which, last));
        let celsius = courses.flat_map(|(_, core)| [core.p10, core.p90]);
        let celsius = celsius.chain(shown.all_readings().map(|(_, celsius)| *celsius));
        let (low, high) = celsius.fold((0.0_f64, STEP_C), |(low, high), own| (low.min(own), high.max(own)));
        Self { days: [first, last], celsius: [low - MARGIN_C, high + MARGIN_C] }
    }

    fn x(&self, day: f64) -> f64 {
        let [first, last] = self.days;
        LEFT + (day - first) / (last - first) * (RIGHT - LEFT)
    }

    fn y(&self, celsius: f64) -> f64 {
        let [low, high] = self.celsius;
        BOTTOM - (celsius - low) / (high - low) * (BOTTOM - TOP)
    }

    fn point(&self, (day, celsius): Point) -> Point {
        (self.x(day), self.y(celsius))
    }
}

/// The drawing.
pub fn drawn(shown: &Shown) -> String {
    let axes = Axes::of(shown);
    let mut drawing = Drawing::new(WIDTH, HEIGHT);
    drawing.text("title", Anchor::Start, (20.0, 30.0), &format!("{BATCH}: core temperature, °C"));
    drawing.text(
        "quiet",
        Anchor::Start,
        (20.0, 50.0),
        "Larkfield is an invented garden: its readings are made up.",
    );
    legend(&mut drawing, shown);
    let today = axes.x(date_to_days(shown.as_of) + 1.0);
    drawing.line("today", (today, TOP), (today, HEIGHT - 14.0));
    grid(&mut drawing, &axes);
    let [_, last] = axes.days;
    for (which, class) in CLASSES.into_iter().enumerate() {
        let course = shown.course(which, last);
        let upper = course.iter().map(|(day, core)| axes.point((*day, core.p90)));
        let lower = course.iter().rev().map(|(day, core)| axes.point((*day, core.p10)));
        drawing.area(class, upper.chain(lower));
    }
    for (which, class) in CLASSES.into_iter().enumerate() {
        let middle = shown.course(which, last).into_iter().map(|(day, core)| axes.point((day, core.p50)));
        drawing.path(&format!("{class}-line"), middle);
    }
    for (class, readings) in [("reading", &shown.readings), ("doubted", &shown.doubted)] {
        for reading in readings {
            drawing.dot(class, axes.point(*reading));
        }
    }
    additions(&mut drawing, &axes, &shown.additions);
    let label = format!("as of {}", dated(shown.as_of));
    drawing.text("quiet", Anchor::Start, (today + 6.0, TOP + 12.0), &label);
    drawing.label("", Anchor::Start, (20.0, OPENS), "Bed-dressing window opens");
    for (which, class) in CLASSES.into_iter().enumerate() {
        window(&mut drawing, &axes, class, shown, which);
    }
    drawing.finish(&format!("Forecasts of {BATCH}, from materials alone and fitted"), &shown.description())
}

/// What is what.
fn legend(drawing: &mut Drawing, shown: &Shown) {
    let y = 74.0;
    let fitted = format!("fitted to {} readings and notes", shown.observations);
    let forecasts = [(20.0, "before", "from materials alone"), (206.0, "after", fitted.as_str())];
    for (x, class, words) in forecasts {
        drawing.bar(class, (x, y - BAR), (x + 30.0, y + BAR));
        drawing.path(&format!("{class}-line"), [(x, y), (x + 30.0, y)].into_iter());
        drawing.text("", Anchor::Start, (x + 37.0, y + 4.5), words);
    }
    let readings = [(478.0, "reading", "reading in the core"), (636.0, "doubted", "doubted")];
    let kinds = if shown.doubted.is_empty() { 1 } else { 2 };
    for (x, class, words) in readings.into_iter().take(kinds) {
        drawing.dot(class, (x, y));
        drawing.text("", Anchor::Start, (x + 10.0, y + 4.5), words);
    }
    drawing.text("quiet", Anchor::End, (RIGHT, 50.0), "lines P50, bands P10 to P90");
}

/// When material was added.
fn additions(drawing: &mut Drawing, axes: &Axes, days: &[f64]) {
    for day in days {
        let x = axes.x(*day);
        drawing.area("addition", [(x - 4.0, BOTTOM), (x, BOTTOM - 8.0), (x + 4.0, BOTTOM)].into_iter());
    }
    let last = axes.x(*days.last().expect("an addition"));
    drawing.label("quiet", Anchor::Start, (last + 9.0, BOTTOM), "material added");
}

/// Temperatures and months.
fn grid(drawing: &mut Drawing, axes: &Axes) {
    let steps = axes.celsius.map(|celsius| celsius / STEP_C);
    for step in steps[0].ceil() as i32..=steps[1].floor() as i32 {
        let celsius = f64::from(step) * STEP_C;
        let y = axes.y(celsius);
        drawing.line("grid", (LEFT, y), (RIGHT, y));
        drawing.text("quiet", Anchor::End, (LEFT - 8.0, y + 4.5), &format!("{celsius:.0}"));
    }
    let [first, last] = axes.days;
    let mut month = days_to_date(first).first_of_month();
    while date_to_days(month) < last {
        let next = month.saturating_add(1.month());
        let (from, until) = (date_to_days(month).max(first), date_to_days(next).min(last));
        if date_to_days(month) > first {
            drawing.line("grid", (axes.x(from), TOP), (axes.x(from), HEIGHT - 14.0));
        }
        // A month of which little is shown has no room for its name.
        if until - from > 9.0 {
            let middle = axes.x(f64::midpoint(from, until));
            drawing.label("quiet", Anchor::Middle, (middle, MONTHS), &month.strftime("%b").to_string());
        }
        month = next;
    }
}

/// The range of an opening, and its dates.
fn window(drawing: &mut Drawing, axes: &Axes, class: &str, shown: &Shown, which: usize) {
    let (opens, y) = (shown.opens[which], ROWS[which]);
    let noon = |day: Date| axes.x(date_to_days(day) + 0.5);
    let within = |x: &f64| *x <= RIGHT;
    let from = noon(opens.p10);
    // A range that goes on beyond what is shown has a tip.
    let end = opens.p90.map(noon).filter(within);
    let (until, tip) = end.map_or((RIGHT - TIP, RIGHT), |end| (end, end));
    let corners = [(from, y - BAR), (until, y - BAR), (tip, y), (until, y + BAR), (from, y + BAR)];
    drawing.area(class, corners.into_iter());
    if let Some(middle) = Some(noon(opens.p50)).filter(within) {
        drawing.line(&format!("{class}-middle"), (middle, y - BAR), (middle, y + BAR));
    }
    drawing.label("", Anchor::End, (from - 8.0, y + 4.5), &shown.opens_in_words(which));
}
