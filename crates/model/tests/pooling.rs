//! What finished batches of a bay teach about the next, from readings to the next one's window.

mod larkfield;

use baycast_model::estimate::Estimate;
use baycast_model::history::{History, Turn, Withdrawal};
use baycast_model::learned::Input;
use baycast_model::lesson::{KEPT, Lesson};
use baycast_model::pooling::Taught;
use baycast_model::variant::Unknown;
use jiff::civil::{Date, date};
use larkfield::measured::measured;
use larkfield::{filled_over, timber_bay, with_event};

/// The day on which a finished batch was emptied.
const EMPTIED: Date = date(2026, 7, 20);

/// A finished batch whose breakdown lies so many standard errors from the middle.
fn finished(kinetics: f64) -> History {
    let heap = [kinetics, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0];
    let filled = filled_over(timber_bay(), "2026-03-02", 1, 1500.0);
    with_event(measured(filled, &heap, EMPTIED), "2026-07-20", |event| {
        event.withdrawal = Some(Withdrawal { volume_m3: None });
    })
}

/// What two of them taught.
fn lesson(kinetics: f64) -> Lesson {
    let taught = ["spring", "spring before"].map(|name| {
        let taught = Taught::by(&finished(kinetics)).expect("an estimate").expect("it was read");
        (name.to_owned(), taught)
    });
    Lesson::of(&taught).expect("a lesson")
}

/// A batch of which nothing was measured yet.
fn next(lesson: Option<Lesson>) -> Estimate {
    let history =
        History { lesson, horizon_days: Some(730), ..filled_over(timber_bay(), "2027-03-01", 1, 1500.0) };
    baycast_model::estimate(&history, date(2027, 3, 20)).expect("an estimate")
}

/// Middle of the bed-dressing window's opening.
fn opens(estimate: &Estimate) -> Date {
    estimate.windows[1].opens.p50.expect("it opens before the horizon")
}

/// How far the middle of the factor on kinetics is put from 1, on a log scale.
fn pace(lesson: &Lesson) -> f64 {
    let belief = lesson.beliefs.iter().find(|belief| belief.unknown == Unknown::Kinetics);
    belief.expect("a belief").factor.ln()
}

#[test]
fn batches_that_broke_down_faster_bring_the_next_window_forward() {
    let plain = next(None);
    let (fast, slow) = (lesson(1.5), lesson(-1.5));
    assert!(pace(&fast) > 0.05 && pace(&slow) < -0.05, "{fast:?} {slow:?}");
    let (sooner, later) = (next(Some(fast.clone())), next(Some(slow)));
    assert!(opens(&sooner) < opens(&plain), "{} against {}", opens(&sooner), opens(&plain));
    assert!(opens(&plain) < opens(&later), "{} against {}", opens(&plain), opens(&later));

    // It says so.
    let moved = |of: &Estimate| {
        let by = of.learned.moved.iter().find(|moved| moved.by == Input::EarlierBatches);
        by.map(|moved| moved.later_days)
    };
    assert_eq!(moved(&plain), None);
    assert!(moved(&sooner).is_some_and(|days| days < 0.0) && moved(&later).is_none_or(|days| days > 0.0));
    let assumed =
        sooner.assumptions.iter().find(|own| own.pointer == "/lesson").map(|own| own.assumed.as_str());
    assert_eq!(assumed, Some("what earlier batches of the bay taught: spring, spring before"));
    assert!(plain.assumptions.iter().all(|own| own.pointer != "/lesson"));
    for (unknown, ..) in KEPT {
        let belief = fast.beliefs.iter().find(|belief| belief.unknown == unknown).expect("a belief");
        let factor =
            sooner.learned.factors.iter().find(|factor| factor.unknown == unknown).expect("a factor");
        assert!((factor.before.p50 - belief.factor).abs() < 1e-9, "{unknown:?}");
    }
}

#[test]
fn what_was_seen_of_one_decides_and_not_what_it_was_taught_or_planned() {
    let plain = finished(1.5);
    let taught = |history: &History| Taught::by(history).expect("an estimate");
    let told = History { lesson: Some(lesson(-1.5)), ..plain.clone() };
    assert_eq!(taught(&told), taught(&plain));
    let mut standing = plain.clone();
    standing.events.retain(|event| event.withdrawal.is_none());
    let planned = with_event(standing.clone(), "2026-09-20", |event| event.turn = Some(Turn::default()));
    let asked = History { horizon_days: Some(500), ready_by: vec![date(2026, 8, 1)], ..planned };
    assert_eq!(taught(&asked), taught(&standing));

    let mut unread = plain;
    unread.events.retain(|event| event.reading.is_none() && event.level.is_none());
    assert_eq!(taught(&unread), None, "nothing was seen of it");
}
