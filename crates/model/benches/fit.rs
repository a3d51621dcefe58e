//! An estimate of a batch of 120 readings, its fit and its forecast with it, against one course of it followed closely, which
//! is what a forecast without any range would cost: by turns in one run.

#[path = "../tests/larkfield/mod.rs"]
mod larkfield;

use std::hint::black_box;
use std::time::{Duration, Instant};

use baycast_model::estimate;
use baycast_model::history::History;
use baycast_model::moment::{Moment, date_to_days, days_to_date};
use baycast_model::parameters::Parameters;
use baycast_model::rosenbrock::Tolerance;
use baycast_model::timeline::Timeline;
use larkfield::year::{LAST_DAY, READINGS, read_daily};

const TURNS: usize = 40;

/// The first `readings` daily readings of the year, as of the last of them.
fn read_for(readings: u32) -> History {
    let mut history = read_daily(readings);
    let day = date_to_days(LAST_DAY) - f64::from(READINGS) + f64::from(readings);
    history.as_of =
        Some(Moment::Date(days_to_date(day.max(date_to_days(LAST_DAY) - f64::from(READINGS) + 60.0))));
    history
}

fn median(mut times: Vec<Duration>) -> f64 {
    times.sort();
    times[times.len() / 2].as_secs_f64() * 1e3
}

fn main() {
    for readings in [0, 1, 30, 120, 365] {
        let history = read_for(readings);
        let timeline = Timeline::new(&history, LAST_DAY).expect("a sound history");
        let (mut whole, mut single) = (Vec::new(), Vec::new());
        for _ in 0..TURNS {
            let started = Instant::now();
            black_box(estimate(black_box(&history), LAST_DAY).expect("an estimate"));
            whole.push(started.elapsed());
            let started = Instant::now();
            let agenda = &timeline.agenda;
            black_box(
                agenda.run(&Parameters::default(), Tolerance::default(), timeline.until).expect("a course"),
            );
            single.push(started.elapsed());
        }
        let (whole, single) = (median(whole), median(single));
        println!("{readings} readings: {whole:.2} ms, one course {single:.2} ms: {:.0}", whole / single);
    }
}
