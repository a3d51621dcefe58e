//! The README's plot: one batch of Larkfield as forecast from its materials alone, and fitted to what was seen of it.
//!
//! One command draws it, and writes the words around it into the README: `BAYCAST_PLOT=write cargo test -p baycast-tests
//! plot`. Without that, both must be what would be drawn and written.

mod svg;

use std::fs;

use baycast_model::estimate;
use baycast_model::estimate::{Estimate, Spread};
use baycast_model::history::{History, Zone};
use baycast_model::moment::{date_to_days, days_to_date};
use baycast_model::window::Use;
use jiff::ToSpan;
use jiff::civil::Date;

use crate::binary::repository;
use svg::{Anchor, Drawing, Point};

/// The batch shown, of `crates/baycast/demo/larkfield.json`.
const BATCH: &str = "timber-2 summer";
/// Where the drawing lies.
const DRAWING: &str = "crates/baycast/larkfield.svg";
/// Most that it may weigh, bytes.
const HEAVIEST: usize = 40_000;
/// Where what is said of it stands in the README.
const MARKS: [&str; 2] = ["<!-- plot: begin -->\n", "<!-- plot: end -->\n"];

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
/// Days shown after the later end of the window's ranges.
const MARGIN_DAYS: f64 = 7.0;
/// Temperatures between grid lines, and shown beyond the highest and the lowest, °C.
const STEP_C: f64 = 20.0;
const MARGIN_C: f64 = 4.0;
/// Length of the tip of a bar that goes on.
const TIP: f64 = 10.0;

/// Middle and range of an opening; none for an end beyond the horizon.
#[derive(Clone, Copy)]
struct Opens {
    p10: Date,
    p50: Date,
    p90: Option<Date>,
}

/// What is shown.
struct Shown {
    /// Moments and temperatures of readings in the core, days since 1970 and °C.
    readings: Vec<Point>,
    /// Those of them that are doubted.
    doubted: Vec<Point>,
    /// Moments at which material was added.
    additions: Vec<f64>,
    /// Observations that the fit rests on.
    observations: u32,
    as_of: Date,
    /// From materials alone, and fitted.
    estimates: [Estimate; 2],
    opens: [Opens; 2],
}

impl Shown {
    fn new() -> Self {
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

    fn all_readings(&self) -> impl Iterator<Item = &Point> {
        self.readings.iter().chain(&self.doubted)
    }

    /// Points of a forecast up to a day: its moment, and the core.
    fn course(&self, which: usize, until: f64) -> Vec<(f64, Spread)> {
        let points = self.estimates[which].forecast.iter();
        // Values are for the day's end.
        let points = points.map(|point| (date_to_days(point.date) + 1.0, point.core_c));
        points.take_while(|(day, _)| *day <= until).collect()
    }
}

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
        let last = ends.map(date_to_days).fold(date_to_days(shown.as_of), f64::max) + MARGIN_DAYS;
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
fn drawn(shown: &Shown) -> String {
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
    drawing.finish(&format!("Forecasts of {BATCH}, from materials alone and fitted"), &description(shown))
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

/// The range of an opening, and its dates where there is room for them.
fn window(drawing: &mut Drawing, axes: &Axes, class: &str, shown: &Shown, which: usize) {
    let (opens, y) = (shown.opens[which], ROWS[which]);
    let noon = |day: Date| axes.x(date_to_days(day) + 0.5);
    let from = noon(opens.p10);
    // A range that goes on beyond the horizon has a tip.
    let (until, tip) = opens.p90.map_or((RIGHT - TIP, RIGHT), |day| (noon(day), noon(day)));
    let corners = [(from, y - BAR), (until, y - BAR), (tip, y), (until, y + BAR), (from, y + BAR)];
    drawing.area(class, corners.into_iter());
    let middle = noon(opens.p50);
    drawing.line(&format!("{class}-middle"), (middle, y - BAR), (middle, y + BAR));
    drawing.label("", Anchor::End, (from - 8.0, y + 4.5), &shown.opens_in_words(which));
}

/// A day with its year.
fn dated(day: Date) -> String {
    day.strftime("%-d %b %Y").to_string()
}

impl Shown {
    /// Middle and range of an opening.
    fn opens_in_words(&self, which: usize) -> String {
        let Opens { p10, p50, p90 } = self.opens[which];
        let horizon = self.estimates[which].forecast.last().expect("a forecast").date;
        // A year that goes without saying is not said.
        let short = |day: Date| {
            if day.year() == p50.year() { day.strftime("%-d %b").to_string() } else { dated(day) }
        };
        let until = p90.map_or_else(|| format!("after {}", dated(horizon)), short);
        format!("{} ({} to {until})", dated(p50), short(p10))
    }
}

/// What the drawing says, in words.
fn description(shown: &Shown) -> String {
    let highest = shown.all_readings().map(|(_, celsius)| *celsius).fold(f64::NEG_INFINITY, f64::max);
    let now = |which: usize| {
        let Spread { p10, p50, p90 } = shown.estimates[which].now.expect("a heap").core_c;
        format!("{p50:.0} °C ({p10:.0} to {p90:.0})")
    };
    format!(
        "Core temperature over time of an invented batch, with {} readings up to {highest:.0} °C. On {} it is {} by materials alone, \
         {} fitted to what was seen. The bed-dressing window opens on {} by materials alone, {} fitted.",
        shown.all_readings().count(),
        dated(shown.as_of),
        now(0),
        now(1),
        shown.opens_in_words(0),
        shown.opens_in_words(1)
    )
}

/// What the README says of it.
fn caption(shown: &Shown) -> String {
    format!(
        "What readings and notes add, on the same batch (invented, as all of Larkfield is): from its materials alone the \
         window for beds opens on {}, fitted to what was seen on {}.\n\n![{}]({DRAWING})\n",
        shown.opens_in_words(0),
        shown.opens_in_words(1),
        description(shown)
    )
}

#[test]
fn the_plot_shows_what_readings_add() {
    let shown = Shown::new();
    let (drawing, caption) = (drawn(&shown), caption(&shown));
    assert!(drawing.len() < HEAVIEST, "{} bytes", drawing.len());
    let numbers = ["NaN", "inf"];
    assert!(numbers.iter().all(|none| !drawing.contains(none)), "numbers throughout");
    let [plot, page] = [DRAWING, "README.md"].map(|path| repository().join(path));
    let readme = fs::read_to_string(&page).expect("the README can be read");
    let (before, after) = readme.split_once(MARKS[0]).expect("the plot's words begin");
    let (there, after) = after.split_once(MARKS[1]).expect("the plot's words end");
    if std::env::var("BAYCAST_PLOT").is_ok_and(|wish| wish == "write") {
        let [begin, end] = MARKS;
        fs::write(&plot, drawing).expect("the drawing can be written");
        fs::write(&page, format!("{before}{begin}{caption}{end}{after}")).expect("the README can be written");
        return;
    }
    let how = "BAYCAST_PLOT=write cargo test -p baycast-tests plot";
    assert_eq!(there, caption, "the README tells of another plot: {how}");
    let drawn = fs::read_to_string(&plot).expect("the drawing can be read");
    assert!(drawn == drawing, "{DRAWING} shows another model's forecast: {how}");
}
