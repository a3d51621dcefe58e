//! The probability that a window has opened by a day: counted from the same openings as its dates, and refused where no
//! opening could be told.

mod larkfield;

use baycast_model::estimate;
use baycast_model::history::History;
use baycast_model::problem::Problems;
use baycast_model::timeline::Timeline;
use baycast_model::window::{Criterion, Opening, ReadyBy, Use, Window};
use jiff::ToSpan;
use jiff::civil::{Date, date};
use larkfield::{filled_over, timber_bay};

const TODAY: Date = date(2026, 9, 1);
/// Half of what a member weighs at most where nothing was read: there are more than a dozen.
const HALF_A_MEMBER: f64 = 0.04;

fn history(ready_by: &[Date]) -> History {
    let history = filled_over(timber_bay(), "2026-06-01", 5, 2183.0);
    History { as_of: None, horizon_days: Some(300), ready_by: ready_by.to_vec(), ..history }
}

fn problems(history: &History) -> Vec<[String; 3]> {
    let Problems(problems) = Timeline::new(history, TODAY).unwrap_err();
    problems.into_iter().map(|problem| [problem.pointer, problem.value, problem.accepted]).collect()
}

#[test]
fn the_weight_of_the_openings_up_to_the_day_is_the_probability() {
    // Noons of 2026-06-03 and 2026-06-20 (20 607 and 20 624 days after 1970-01-01, counted by hand: 56 years of 365 days
    // and 14 leap days make 20 454, then 153 and 170), and one that does not open.
    let opening =
        |day: f64| Opening { day, best_by: f64::INFINITY, binding: Criterion::AboveAir, volume_m3: 1.0 };
    let openings = [(opening(20_607.5), 0.5), (opening(20_624.5), 0.3), (opening(f64::INFINITY), 0.2)];
    let dates = [date(2026, 6, 20), date(2026, 6, 2), date(2026, 6, 3), date(2026, 6, 19), date(2030, 1, 1)];
    let window = Window::of(Use::Mulch.default_criteria(), &openings, 20_600.0, &dates);
    let expected = [0.8, 0.0, 0.5, 0.5, 0.8];
    let expected = dates.into_iter().zip(expected).map(|(date, probability)| ReadyBy { date, probability });
    assert_eq!(window.ready_by, expected.collect::<Vec<_>>());
}

#[test]
fn every_window_answers_and_agrees_with_its_dates() {
    let nothing_asked = estimate(&history(&[]), TODAY).unwrap();
    let step = 20.days();
    let dates: Vec<Date> = date(2026, 6, 10).series(step).take_while(|day| *day < date(2027, 6, 1)).collect();
    let asked = estimate(&history(&dates), TODAY).unwrap();
    for (window, plain) in asked.windows.iter().zip(&nothing_asked.windows) {
        assert!(plain.ready_by.is_empty());
        assert_eq!(Window { ready_by: Vec::new(), ..window.clone() }, *plain, "asking changes nothing else");
        assert!(window.ready_by.iter().map(|own| own.date).eq(dates.iter().copied()));
        let probabilities: Vec<f64> = window.ready_by.iter().map(|own| own.probability).collect();
        assert!(probabilities.is_sorted() && probabilities.iter().all(|p| (0.0..=1.0).contains(p)));
        for (share, bound) in [(0.1, window.opens.p10), (0.5, window.opens.p50), (0.9, window.opens.p90)] {
            let Some(bound) = bound else { continue };
            let by = |day: Date| {
                let windows = estimate(&history(&[day]), TODAY).unwrap().windows;
                windows.iter().find(|own| own.for_use == window.for_use).unwrap().ready_by[0].probability
            };
            // A quantile lies between two members' middles: at most half a member's weight from the count.
            assert!(by(bound) >= share - HALF_A_MEMBER, "{:?} {share}", window.for_use);
            assert!(
                by(bound.saturating_sub(1.day())) <= share + HALF_A_MEMBER,
                "{:?} {share}",
                window.for_use
            );
        }
    }
    let opened: Vec<bool> =
        asked.windows.iter().map(|window| window.ready_by[0].probability == 0.0).collect();
    assert_eq!(opened, [true; 3], "nothing is ready while the bay is being filled");
    assert!(asked.windows[0].ready_by.last().unwrap().probability > 0.9, "mulch after a year");
}

#[test]
fn the_day_of_the_estimate_is_the_probability_of_now() {
    let mut history = history(&[TODAY]);
    history.horizon_days = None;
    for window in estimate(&history, TODAY).unwrap().windows {
        assert_eq!(window.ready_by[0].probability, window.open_now_probability, "{:?}", window.for_use);
    }
}

#[test]
fn days_outside_the_batch_and_its_horizon_are_refused_with_the_range() {
    // Filled first on 2026-06-01; 300 days after 2026-09-01 is 2027-06-28.
    let accepted = "2026-06-02 to 2027-06-28";
    assert!(Timeline::new(&history(&[date(2026, 6, 2), date(2027, 6, 28)]), TODAY).is_ok());
    let early_and_late = [date(2026, 6, 1), date(2026, 12, 1), date(2027, 6, 29)];
    assert_eq!(
        problems(&history(&early_and_late)),
        [
            ["/ready_by/0", "\"2026-06-01\"", accepted].map(String::from),
            ["/ready_by/2", "\"2027-06-29\"", accepted].map(String::from),
        ]
    );
}

#[test]
fn a_day_twice_and_too_many_days_are_refused() {
    let twice = [date(2026, 12, 1), date(2026, 12, 2), date(2026, 12, 1)];
    assert_eq!(
        problems(&history(&twice)),
        [["/ready_by/2", "\"2026-12-01\"", "a date given once"].map(String::from)]
    );
    let many: Vec<Date> = date(2026, 12, 1).series(1.day()).take(25).collect();
    assert!(Timeline::new(&history(&many[..24]), TODAY).is_ok());
    assert_eq!(problems(&history(&many)), [["/ready_by", "25 dates", "at most 24 dates"].map(String::from)]);
}
