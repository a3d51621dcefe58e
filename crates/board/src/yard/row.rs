//! The season: each batch's windows as ranges over the months.

use baycast_service::readiness::{BatchReadiness, WindowReadiness};
use jiff::civil::Date;

use super::job::name;
use crate::drawing::season::{Bar, Season};
use crate::{dates, paths, words};

/// From this probability on a window is said to be open.
const OPEN: f64 = 0.5;

/// A batch's row.
pub struct Row {
    /// Path of its page.
    pub path: String,
    /// Its name.
    pub name: String,
    /// The bay that it stands in.
    pub bay: String,
    /// Uses, each with when in a word.
    pub uses: Vec<(&'static str, String)>,
    /// The strip.
    pub strip: String,
}

/// A row for each batch that has windows.
pub fn all(base: &str, batches: &[&BatchReadiness], season: &Season, today: Date) -> Vec<Row> {
    let shown = batches.iter().filter(|batch| !batch.windows.is_empty());
    let row = |batch: &&BatchReadiness| {
        let bars: Vec<_> = batch.windows.iter().map(bar).collect();
        let told: Vec<_> = batch.windows.iter().map(|window| told(window, today)).collect();
        let short = |window: &WindowReadiness| (words::purpose(window.for_use), short(window, today));
        Row {
            path: paths::batch(base, &batch.batch),
            name: name(batch).to_owned(),
            bay: batch.bay.clone(),
            uses: batch.windows.iter().map(short).collect(),
            strip: season.strip(&bars, &told.join("; ")),
        }
    };
    shown.map(row).collect()
}

fn bar(window: &WindowReadiness) -> Bar<'_> {
    Bar { for_use: window.for_use, opens: &window.opens, best_by: &window.best_by }
}

/// When a window opens, in a word.
fn short(window: &WindowReadiness, today: Date) -> String {
    if window.open_now_probability >= OPEN {
        let past = window.best_by.p50.is_some_and(|best| best < today);
        return if past { words::PAST_BEST } else { words::OPEN }.to_owned();
    }
    window.opens.p50.map_or_else(|| words::LATER.to_owned(), |day| dates::day(day, today))
}

/// A window in a sentence.
fn told(window: &WindowReadiness, today: Date) -> String {
    let opens = if window.open_now_probability >= OPEN {
        words::open_now(window.open_now_probability)
    } else {
        match (window.opens.p50, dates::range(&window.opens, today)) {
            (Some(day), Some(range)) => words::opens(&dates::day(day, today), &range),
            _ => words::NOT_WITHIN_A_YEAR.to_owned(),
        }
    };
    let best = window.best_by.p50.map(|day| words::best_by(&dates::day(day, today)));
    let parts: Vec<String> = [Some(opens), best].into_iter().flatten().collect();
    format!("{}: {}", words::purpose(window.for_use), parts.join(", "))
}
