use baycast_model::advice::Urgency;
use baycast_model::moment::Moment;
use baycast_model::probe::Suspicion;
use baycast_model::sanitisation::{Rule, Verdict};
use baycast_model::window::Criterion;
use jiff::Timestamp;
use jiff::civil::date;

use super::*;

/// A move of more than a week; a best-by day within two.
const USUAL: Interest = Interest { moved_days: 7, best_by_days: 14 };

/// A day of June 2026; those after the 30th are of July.
fn day(day: i32) -> Date {
    date(2026, 5, 31).saturating_add(jiff::Span::new().days(day))
}

fn spread(p50: Option<Date>) -> DateSpread {
    DateSpread { p10: p50, p50, p90: p50 }
}

fn window(opens: Option<Date>, best_by: Option<Date>) -> WindowReadiness {
    WindowReadiness {
        for_use: Use::Mulch,
        opens: spread(opens),
        best_by: spread(best_by),
        open_now_probability: 0.5,
        binding: Criterion::AboveAir,
        volume_at_opening_m3: None,
        sequence: 0,
        changed_at: Timestamp::UNIX_EPOCH,
    }
}

fn readiness(as_of: i32) -> BatchReadiness {
    BatchReadiness {
        batch: "heap".to_owned(),
        name: String::new(),
        bay: "east".to_owned(),
        as_of: day(as_of),
        changed_at: Timestamp::UNIX_EPOCH,
        model_version: String::new(),
        stage: Stage::Curing,
        now: None,
        maturity_index: None,
        windows: Vec::new(),
        turn: None,
        advice: Vec::new(),
        suspect_readings: Vec::new(),
        sanitisation_met: Vec::new(),
    }
}

/// A readiness with one window.
fn with_window(as_of: i32, opens: i32, best_by: i32) -> BatchReadiness {
    BatchReadiness { windows: vec![window(Some(day(opens)), Some(day(best_by)))], ..readiness(as_of) }
}

fn advised(as_of: i32, subjects: &[Subject]) -> BatchReadiness {
    let advice = |subject: &Subject| Advice {
        subject: *subject,
        urgency: Urgency::Now,
        action: String::new(),
        reason: String::new(),
    };
    BatchReadiness { advice: subjects.iter().map(advice).collect(), ..readiness(as_of) }
}

/// Tells one readiness after the other; the kinds of news of each.
fn course(told: &[BatchReadiness], interest: Interest) -> Vec<Vec<OccurrenceKind>> {
    let mut known: Option<Known> = None;
    let mut before: Option<&BatchReadiness> = None;
    let mut kinds = Vec::new();
    for after in told {
        let (found, next) = occurrences(known.take(), before, after, interest);
        kinds.push(found.iter().map(Occurrence::kind).collect());
        // What is kept is text.
        known = Some(serde_json::from_str(&serde_json::to_string(&next).unwrap()).unwrap());
        before = Some(after);
    }
    kinds
}

use OccurrenceKind as Kind;

#[test]
fn of_a_first_readiness_only_stage_heat_wetness_and_todays_opening_are_news() {
    let mut first = advised(10, &[Subject::TooHot, Subject::TooWet, Subject::Turn]);
    first.windows = vec![window(Some(day(3)), Some(day(12)))];
    first.suspect_readings = vec![suspect(2, 99.0)];
    first.sanitisation_met = vec![met(Rule::PsrpComposting)];
    assert_eq!(course(&[first.clone()], USUAL), [vec![Kind::StageEntered, Kind::TooHot, Kind::TooWet]]);
    first.windows = vec![window(Some(day(10)), Some(day(90)))];
    let kinds = course(&[first.clone(), first], USUAL);
    assert_eq!(kinds, [vec![Kind::StageEntered, Kind::WindowOpened, Kind::TooHot, Kind::TooWet], vec![]]);
}

#[test]
fn someone_new_is_told_what_changed_since_all_were() {
    let (before, mut after) = (with_window(1, 20, 90), with_window(2, 40, 99));
    after.stage = Stage::Hot;
    let (found, _) = occurrences(None, Some(&before), &after, USUAL);
    assert_eq!(found[0], Occurrence::StageEntered { stage: Stage::Hot, before: Some(Stage::Curing) });
    let moved = Occurrence::WindowMoved {
        for_use: Use::Mulch,
        opens: spread(Some(day(40))),
        told_p50: Some(day(20)),
        later_by_days: Some(20),
    };
    assert_eq!(found[1..], [moved]);
    // Open on the day before someone came: no news.
    let (found, _) = occurrences(None, Some(&with_window(20, 20, 90)), &with_window(21, 20, 90), USUAL);
    assert_eq!(found, []);
}

#[test]
fn slow_drift_adds_up_to_a_move() {
    let drift: Vec<_> = (0..=8).map(|step| with_window(1, 20 + step, 120)).collect();
    let kinds = course(&drift, USUAL);
    assert_eq!(kinds[0], [Kind::StageEntered]);
    let moved: Vec<_> = kinds.iter().map(|kinds| kinds.contains(&Kind::WindowMoved)).collect();
    // Seven days are not more than seven; eight are, and from there it is counted anew.
    assert_eq!(moved, [false, false, false, false, false, false, false, false, true]);
    let earlier = [with_window(1, 20, 120), with_window(1, 12, 120), with_window(1, 19, 120)];
    assert_eq!(course(&earlier, USUAL)[1..], [vec![Kind::WindowMoved], vec![]]);
    let keen = Interest { moved_days: 1, ..USUAL };
    let kinds = course(&drift, keen);
    assert_eq!(kinds.iter().filter(|kinds| kinds.contains(&Kind::WindowMoved)).count(), 4);
}

#[test]
fn beyond_the_horizon_and_back_is_a_move() {
    let lost = BatchReadiness { windows: vec![window(None, None)], ..readiness(2) };
    let kinds = course(&[with_window(1, 20, 120), lost.clone(), lost, with_window(3, 20, 120)], USUAL);
    assert_eq!(kinds[1..], [vec![Kind::WindowMoved], vec![], vec![Kind::WindowMoved]]);
}

#[test]
fn a_window_opens_once_until_a_move_into_the_future_was_told() {
    let days = [
        with_window(9, 10, 120),
        with_window(10, 10, 120),
        with_window(11, 10, 120),
        // To and fro by a day or two: nothing new.
        with_window(11, 13, 120),
        with_window(13, 13, 120),
        // What was thought to have opened opened earlier still.
        with_window(30, 10, 120),
        with_window(30, 19, 120),
        // Fresh material went in.
        with_window(31, 60, 150),
        with_window(60, 60, 150),
    ];
    let kinds = course(&days, USUAL);
    assert_eq!(kinds[1], [Kind::WindowOpened]);
    assert!(kinds[2..7].iter().all(Vec::is_empty), "{kinds:?}");
    assert_eq!(kinds[7..], [vec![Kind::WindowMoved], vec![Kind::WindowOpened]]);
    // One that jumps from the future into the past is told with its move; one that is over already did not open.
    let kinds = course(&[with_window(1, 40, 120), with_window(20, 15, 120)], USUAL);
    assert_eq!(kinds[1], [Kind::WindowMoved, Kind::WindowOpened]);
    let kinds = course(&[with_window(1, 40, 120), with_window(20, 10, 15)], USUAL);
    assert_eq!(kinds[1], [Kind::WindowMoved]);
}

#[test]
fn a_best_by_day_is_near_once_until_it_went_far_again() {
    let days = [
        with_window(1, 2, 60),
        with_window(45, 2, 60),
        with_window(46, 2, 60),
        with_window(47, 2, 62),
        with_window(47, 2, 60),
        with_window(47, 2, 69),
        with_window(56, 2, 69),
    ];
    let mut kinds = course(&days, USUAL);
    assert_eq!(kinds.remove(0), [Kind::StageEntered]);
    let expected: [Vec<Kind>; 6] = [
        vec![Kind::WindowOpened],
        vec![Kind::BestByNear],
        vec![],
        vec![],
        // 22 days: more than the two weeks and a move.
        vec![],
        vec![Kind::BestByNear],
    ];
    assert_eq!(kinds, expected);
    let (found, _) = occurrences(None, Some(&with_window(45, 2, 60)), &with_window(46, 2, 60), USUAL);
    let near = Occurrence::BestByNear { for_use: Use::Mulch, best_by: spread(Some(day(60))), days_left: 14 };
    assert_eq!(found, [near]);
    // Not while it is still closed.
    let closed = course(&[with_window(1, 20, 28), with_window(19, 20, 28), with_window(20, 20, 28)], USUAL);
    assert_eq!(closed[1..], [vec![], vec![Kind::WindowOpened, Kind::BestByNear]]);
}

#[test]
fn heat_and_wetness_are_news_once_a_spell_and_fire_once_more() {
    let spells = [
        &[][..],
        &[Subject::TooHot],
        &[Subject::TooHot, Subject::TooWet],
        &[Subject::FireRisk, Subject::TooWet],
        &[Subject::TooHot],
        &[],
        &[Subject::FireRisk, Subject::TooHot],
        &[Subject::TooWet],
    ];
    let told: Vec<_> = spells.iter().map(|subjects| advised(1, subjects)).collect();
    let kinds = course(&told, USUAL);
    let expected: [Vec<Kind>; 8] = [
        vec![Kind::StageEntered],
        vec![Kind::TooHot],
        vec![Kind::TooWet],
        vec![Kind::TooHot],
        vec![],
        vec![],
        vec![Kind::TooHot],
        vec![Kind::TooWet],
    ];
    assert_eq!(kinds, expected);
    let (found, _) = occurrences(None, Some(&told[0]), &told[6], USUAL);
    let [Occurrence::TooHot(advice)] = found.as_slice() else { panic!("{found:?}") };
    assert_eq!(advice.subject, Subject::FireRisk, "the more pressing one");
}

fn suspect(on: i32, temperature_c: f64) -> SuspectReading {
    SuspectReading {
        pointer: format!("/events/{on}"),
        at: Moment::Date(day(on)),
        temperature_c,
        reason: Suspicion::Spike,
        weight: 0.0,
    }
}

#[test]
fn a_doubted_reading_is_news_once_even_where_it_was_trusted_between() {
    let with =
        |suspects: &[SuspectReading]| BatchReadiness { suspect_readings: suspects.to_vec(), ..readiness(9) };
    let (one, other) = (suspect(1, 99.0), suspect(2, 98.0));
    // Events before it move its pointer, and a better fit its reason.
    let again = SuspectReading { pointer: "/events/7".to_owned(), reason: Suspicion::Stuck, ..one.clone() };
    let first = with(std::slice::from_ref(&one));
    let told = [with(&[]), first.clone(), with(&[]), with(&[again, other.clone()])];
    let kinds = course(&told, USUAL);
    assert_eq!(kinds[1..], [vec![Kind::ProbeSuspect], vec![], vec![Kind::ProbeSuspect]]);
    let (found, _) = occurrences(None, Some(&first), &with(&[one, other.clone()]), USUAL);
    assert_eq!(found, [Occurrence::ProbeSuspect { readings: vec![other] }]);
}

fn met(rule: Rule) -> RuleFinding {
    RuleFinding {
        rule,
        verdict: Verdict::Met,
        from: Some(day(1)),
        to: Some(day(6)),
        shown_days: 5.0,
        required_days: 5.0,
        turns: 0,
        explanation: String::new(),
        source: String::new(),
    }
}

#[test]
fn a_rule_is_news_when_readings_come_to_meet_it() {
    let with = |rules: &[Rule]| BatchReadiness {
        sanitisation_met: rules.iter().copied().map(met).collect(),
        ..readiness(9)
    };
    let (psrp, pile) = (Rule::PsrpComposting, Rule::PfrpStaticPile);
    // A reading is retracted, and taken again.
    let kinds =
        course(&[with(&[]), with(&[psrp]), with(&[psrp, pile]), with(&[psrp]), with(&[psrp, pile])], USUAL);
    let evidence = vec![Kind::SanitisationEvidenceMet];
    assert_eq!(kinds[1..], [evidence.clone(), evidence.clone(), vec![], evidence]);
}

#[test]
fn each_kind_has_one_word_everywhere() {
    for kind in Kind::ALL {
        assert_eq!(serde_json::to_value(kind).unwrap(), kind.as_str());
    }
    let told = serde_json::to_value(Occurrence::ProbeSuspect { readings: vec![] }).unwrap();
    assert_eq!(told, serde_json::json!({ "probe_suspect": { "readings": [] } }));
}
