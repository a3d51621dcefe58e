//! An estimate of a batch of 365 readings that was estimated before something was appended, against one from the start:
//! by turns in one run, both answers compared to the last digit.

#[path = "../tests/larkfield/mod.rs"]
mod larkfield;

use std::hint::black_box;
use std::time::{Duration, Instant};

use baycast_model::history::{History, MoistureNote, Turn};
use baycast_model::moment::{Moment, date_to_days, days_to_date};
use baycast_model::{estimate, estimate_from};
use larkfield::with_event;
use larkfield::year::{LAST_DAY, READINGS, read_daily};

const TURNS: usize = 25;

fn median(mut times: Vec<Duration>) -> f64 {
    times.sort();
    times[times.len() / 2].as_secs_f64() * 1e3
}

/// Takes turns and prints the medians and their ratio.
fn compare(name: &str, before: &History, after: &History) {
    let (_, kept) = estimate_from(before, LAST_DAY, None).expect("an estimate");
    let (mut full, mut again) = (Vec::new(), Vec::new());
    for _ in 0..TURNS {
        let started = Instant::now();
        let from_the_start = estimate(black_box(after), LAST_DAY).expect("an estimate");
        full.push(started.elapsed());
        let started = Instant::now();
        let (estimate, _) = estimate_from(black_box(after), LAST_DAY, Some(&kept)).expect("an estimate");
        again.push(started.elapsed());
        let text = |estimate| serde_json::to_string(estimate).expect("JSON");
        assert_eq!(text(&estimate), text(&from_the_start));
    }
    let (full, again) = (median(full), median(again));
    println!("{name}: {again:.2} ms, from the start {full:.2} ms: {:.3}", again / full);
}

fn main() {
    let year = read_daily(READINGS);
    let (_, kept) = estimate_from(&year, LAST_DAY, None).expect("an estimate");
    println!("kept of a year: {:.1} MiB", kept.bytes() as f64 / f64::from(1 << 20));

    compare("a reading", &read_daily(READINGS - 1), &year);
    let mut yesterday = read_daily(READINGS - 1);
    yesterday.as_of = Some(Moment::Date(days_to_date(date_to_days(LAST_DAY) - 1.0)));
    compare("a reading, a day later", &yesterday, &year);
    let at = LAST_DAY.to_string();
    let turned = with_event(year.clone(), &at, |event| event.turn = Some(Turn::default()));
    compare("a turn", &year, &turned);
    let noted = with_event(year.clone(), &at, |event| {
        event.moisture = Some(MoistureNote { percent: Some(55.0), squeeze: None });
    });
    compare("a moisture note", &year, &noted);
}
