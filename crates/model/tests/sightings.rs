//! How high the heap was seen to stand: kept in order, refused by name, and no cause of anything.

mod larkfield;

use baycast_model::history::{Event, History, Level, Withdrawal};
use baycast_model::moment::Moment;
use baycast_model::problem::Problems;
use baycast_model::timeline::Timeline;
use jiff::civil::{Date, date};
use larkfield::{filled_over, timber_bay};

const TODAY: Date = date(2026, 9, 1);

fn history() -> History {
    filled_over(timber_bay(), "2026-06-01", 2, 900.0)
}

fn seen(at: &str, fill_fraction: f64) -> Event {
    Event { level: Some(Level { fill_fraction }), ..Event::at(at.parse().unwrap()) }
}

fn timeline(history: &History) -> Result<Timeline, Problems> {
    Timeline::new(history, TODAY)
}

/// The one thing that is wrong with `history`: pointer, value, what is accepted.
fn problem(history: &History) -> [String; 3] {
    let Problems(mut problems) = timeline(history).unwrap_err();
    assert_eq!(problems.len(), 1, "{problems:?}");
    let problem = problems.remove(0);
    [problem.pointer, problem.value, problem.accepted]
}

#[test]
fn sightings_stand_in_order_of_time_and_point_to_their_events() {
    let mut history = history();
    let additions = history.events.len();
    history.events.extend([
        seen("2026-08-20", 0.4),
        seen("2026-06-20T18:00:00Z", 0.9),
        seen("2026-07-09", 1.5),
    ]);
    let timeline = timeline(&history).unwrap();
    let found: Vec<_> =
        timeline.sightings.iter().map(|own| (own.day, own.fill_fraction, own.pointer.as_str())).collect();
    let day = |text: &str| text.parse::<Moment>().unwrap().days();
    let pointers: Vec<_> = (additions..additions + 3).map(|index| format!("/events/{index}")).collect();
    assert_eq!(
        found,
        [
            (day("2026-06-20T18:00:00Z"), 0.9, pointers[1].as_str()),
            (day("2026-07-09"), 1.5, pointers[2].as_str()),
            (day("2026-08-20"), 0.4, pointers[0].as_str()),
        ]
    );
    assert!(timeline.readings.is_empty());
}

#[test]
fn a_sighting_changes_no_course() {
    let plain = history();
    let mut noted = plain.clone();
    noted.events.push(seen("2026-07-20", 0.3));
    assert_eq!(timeline(&plain).unwrap().agenda, timeline(&noted).unwrap().agenda);
}

#[test]
fn a_share_out_of_its_range_is_refused() {
    for fill_fraction in [0.0, 0.0099, 1.51, 62.0, -0.5, f64::NAN] {
        let mut history = history();
        let pointer = format!("/events/{}/level/fill_fraction", history.events.len());
        history.events.push(seen("2026-07-20", fill_fraction));
        assert_eq!(problem(&history), [pointer, fill_fraction.to_string(), "0.01 to 1.5".into()]);
    }
}

#[test]
fn a_sighting_needs_something_in_the_bay() {
    let mut history = history();
    let index = history.events.len();
    history.events.push(seen("2026-05-20", 0.3));
    let accepted = "a time after the first addition".to_owned();
    assert_eq!(problem(&history), [format!("/events/{index}/at"), "level at 2026-05-20".into(), accepted]);

    history.events[index] =
        Event { withdrawal: Some(Withdrawal::default()), ..Event::at("2026-07-01".parse().unwrap()) };
    history.events.push(seen("2026-07-02", 0.3));
    let accepted = "a time with something in the bay: it was emptied before".to_owned();
    let pointer = format!("/events/{}/at", index + 1);
    assert_eq!(problem(&history), [pointer, "level at 2026-07-02".into(), accepted]);
}

#[test]
fn a_sighting_after_the_day_of_the_estimate_is_refused() {
    let mut history = history();
    let index = history.events.len();
    history.events.push(seen("2026-09-01T23:59:00Z", 0.3));
    assert_eq!(timeline(&history).unwrap().sightings.len(), 1);
    history.events[index] = seen("2026-09-02", 0.3);
    let accepted = "a sighting's time not after as_of".to_owned();
    assert_eq!(problem(&history), [format!("/events/{index}/at"), "\"2026-09-02\"".into(), accepted]);
}

#[test]
fn what_was_seen_on_the_day_of_a_withdrawal_was_seen_before_it() {
    let mut history = history();
    let emptied =
        Event { withdrawal: Some(Withdrawal::default()), ..Event::at("2026-08-01".parse().unwrap()) };
    history.events.extend([emptied, seen("2026-08-01", 0.5)]);
    assert_eq!(timeline(&history).unwrap().sightings.len(), 1);
}
