//! What is compared is what would be estimated if it were planned.

mod larkfield;

use baycast_model::estimate;
use baycast_model::estimate::Estimate;
use baycast_model::futures::{Future, Step};
use baycast_model::history::{Cover, CoverState, Event, History, Reading, Turn};
use baycast_model::moment::date_to_days;
use baycast_model::window::{DateSpread, Use};
use jiff::civil::{Date, date};
use larkfield::{cardboard_pallet, filled_over, timber_bay, with_event};

const TODAY: Date = date(2026, 7, 25);

/// A bay filled over two weeks from June on and read a few times, with futures asked for.
fn history() -> History {
    let mut history = filled_over(cardboard_pallet(), "2026-06-01", 2, 520.0);
    for (at, temperature_c) in
        [("2026-06-20", 58.0), ("2026-07-01", 51.0), ("2026-07-12", 45.0), ("2026-07-22", 38.0)]
    {
        history = with_event(history, at, |event| {
            event.reading = Some(Reading { temperature_c: Some(temperature_c), ..Reading::default() });
        });
    }
    History { compare_futures: true, ..history }
}

fn answer(history: &History) -> Estimate {
    estimate(history, TODAY).unwrap()
}

fn future(estimate: &Estimate, step: Step) -> &Future {
    estimate.futures.iter().find(|future| future.step == step).unwrap_or_else(|| panic!("no {step:?}"))
}

/// When beds can be dressed.
fn opens(estimate: &Estimate) -> DateSpread {
    estimate.windows.iter().find(|window| window.for_use == Use::BedDressing).unwrap().opens
}

/// The estimate with one more event, which happens at once after the day of the estimate, or days later.
fn planned(at: &str, detail: impl FnOnce(&mut Event)) -> Estimate {
    answer(&with_event(History { compare_futures: false, ..history() }, at, detail))
}

/// Says so where two ranges differ by more than a day: what is planned comes a tenth of a second later.
fn assert_alike(one: DateSpread, other: DateSpread) {
    for (one, other) in [(one.p10, other.p10), (one.p50, other.p50), (one.p90, other.p90)] {
        let alike = match (one, other) {
            (Some(one), Some(other)) => (date_to_days(one) - date_to_days(other)).abs() <= 1.0,
            (one, other) => one == other,
        };
        assert!(alike, "{one:?} against {other:?}");
    }
}

#[test]
fn nothing_is_compared_where_nobody_asks() {
    let plain = answer(&History { compare_futures: false, ..history() });
    assert!(plain.futures.is_empty());
    let asked = answer(&history());
    assert_eq!(asked.futures.iter().map(|future| future.step).collect::<Vec<_>>(), Step::ALL);
    assert_eq!(Estimate { futures: Vec::new(), ..asked }, plain, "asking changes nothing else");
}

#[test]
fn a_heap_that_is_left_is_the_heap_of_the_windows() {
    let asked = answer(&history());
    let left = future(&asked, Step::Leave);
    assert_eq!(left.opens, opens(&asked));
    let gained = left.earlier_days.unwrap();
    assert_eq!((gained.p10, gained.p50, gained.p90), (0.0, 0.0, 0.0));
}

#[test]
fn a_turn_is_worth_what_a_planned_one_is() {
    let asked = answer(&history());
    let turn = |event: &mut Event| event.turn = Some(Turn::default());
    assert_alike(future(&asked, Step::TurnNow).opens, opens(&planned("2026-07-26T00:00:00Z", turn)));
    assert_alike(future(&asked, Step::TurnInTwoWeeks).opens, opens(&planned("2026-08-09T00:00:00Z", turn)));
}

#[test]
fn a_cover_is_worth_what_a_planned_one_is() {
    let asked = answer(&history());
    let cover = |event: &mut Event| event.cover = Some(Cover { state: CoverState::On });
    assert_alike(future(&asked, Step::Cover).opens, opens(&planned("2026-07-26T00:00:00Z", cover)));
}

#[test]
fn only_what_can_be_done_is_compared() {
    let roofed = History { compare_futures: true, ..filled_over(timber_bay(), "2026-06-01", 2, 900.0) };
    assert!(answer(&roofed).futures.iter().all(|future| future.step != Step::Cover), "under a roof");
    let covered =
        with_event(history(), "2026-07-02", |event| event.cover = Some(Cover { state: CoverState::On }));
    assert!(answer(&covered).futures.iter().all(|future| future.step != Step::Cover), "covered already");
}

#[test]
fn wood_adds_to_the_volume() {
    let asked = answer(&history());
    let volume_m3 = |step| future(&asked, step).volume_m3.p50;
    assert!(volume_m3(Step::AddWood) > volume_m3(Step::TurnNow));
}
