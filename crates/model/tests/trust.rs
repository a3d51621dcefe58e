//! How far an answer says to trust it: with nothing read, with little, with much, and with readings that are all wrong.

mod larkfield;

use baycast_model::estimate;
use baycast_model::estimate::Estimate;
use baycast_model::history::{Event, History, Reading, Zone};
use baycast_model::learned::Trust;
use baycast_model::moment::{Moment, date_to_days};
use baycast_model::probe::Suspicion;
use baycast_model::rosenbrock::Tolerance;
use baycast_model::timeline::Timeline;
use baycast_model::variant::Variant;
use baycast_model::window::Use;
use jiff::civil::{Date, date};
use jiff::{SignedDuration, Timestamp};
use larkfield::{filled_over, plastic_bin, timber_bay};

const TODAY: Date = date(2026, 9, 1);
/// Readings of a careful grower.
const MANY: u32 = 120;
/// Standard deviation of a reading about what it reads, °C: a long thermometer's own error and how it was put. An
/// estimate.
const NOISE_C: f64 = 2.0;

/// A timber bay filled over five weeks from June on.
fn timber() -> History {
    filled_over(timber_bay(), "2026-06-01", 5, 2183.0)
}

/// A plastic bin filled over two weeks from May on, which is cool by July.
fn bin() -> History {
    filled_over(plastic_bin(), "2026-05-01", 2, 180.0)
}

/// Deviates of a normal law, the same ones at each call: Box and Muller's transform of a linear congruence (Knuth's MMIX
/// constants, from memory).
fn noise() -> impl FnMut() -> f64 {
    let mut state = 0x2026_0901_u64;
    let mut uniform = move || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((state >> 11) as f64 + 0.5) / (1u64 << 53) as f64
    };
    move || (-2.0 * uniform().ln()).sqrt() * (std::f64::consts::TAU * uniform()).cos()
}

/// The history with `count` core readings, evenly from `from` to the day before the estimate; each is what `of` makes of
/// the core of the middle heap and of the air, °C.
fn read(mut history: History, from: Date, count: u32, mut of: impl FnMut(f64, f64) -> f64) -> History {
    let timeline = Timeline::new(&history, TODAY).unwrap();
    let heap = Variant::new(&[0.0; 8], &timeline);
    let tolerance = Tolerance { relative: 1e-4, absolute_scale: 5.0, max_step_days: 8.0, max_steps: 100_000 };
    let course = heap.agenda.run(&heap.parameters, tolerance, timeline.until).unwrap();
    let (first, last) = (date_to_days(from), date_to_days(TODAY));
    for index in 0..count {
        let day = first + (last - first) * (f64::from(index) + 0.5) / f64::from(count);
        let instant = Timestamp::UNIX_EPOCH + SignedDuration::from_secs((day * 86_400.0) as i64);
        let core_c = course.temperature_c(Zone::Core, day).unwrap();
        let temperature_c = of(core_c, heap.agenda.weather.at(day).0);
        let reading = Reading { temperature_c: Some(temperature_c), ..Reading::default() };
        history.events.push(Event { reading: Some(reading), ..Event::at(Moment::Instant(instant)) });
    }
    history
}

/// Readings of the timber bay as a sound thermometer gives them.
fn sound(count: u32) -> History {
    let mut deviate = noise();
    read(timber(), date(2026, 6, 10), count, move |core_c, _| core_c + NOISE_C * deviate())
}

fn answer(history: &History) -> Estimate {
    let answer = estimate(history, TODAY).unwrap();

    untold(&serde_json::to_value(&answer).unwrap());
    let core = answer.now.as_ref().unwrap().core_c;
    assert!(core.p10 <= core.p50 && core.p50 <= core.p90, "{core:?}");
    assert!(core.p10 > -5.0 && core.p90 < 80.0, "{core:?}");
    assert!(!answer.learned.reason.is_empty());
    answer
}

/// Says so where a number is not finite: JSON has null for it, and for a date that is absent and the volume then.
fn untold(value: &serde_json::Value) {
    match value {
        serde_json::Value::Object(members) => {
            let absent = ["opens", "best_by", "from", "to", "volume_at_opening_m3"];
            for (name, member) in members.iter().filter(|(name, _)| !absent.contains(&name.as_str())) {
                assert!(!member.is_null(), "{name} is not finite");
                untold(member);
            }
        }
        serde_json::Value::Array(elements) => elements.iter().for_each(untold),
        _ => {}
    }
}

/// Days since 1970-01-01 of the bed-dressing window's P10, P50 and P90; infinite beyond the horizon.
fn opening(answer: &Estimate) -> [f64; 3] {
    let window = answer.windows.iter().find(|window| window.for_use == Use::BedDressing).unwrap();
    [window.opens.p10, window.opens.p50, window.opens.p90]
        .map(|date| date.map_or(f64::INFINITY, date_to_days))
}

/// Says so where the ranges of two openings have no day in common.
fn assert_in_common(one: &Estimate, other: &Estimate) {
    let ([early, _, late], [other_early, _, other_late]) = (opening(one), opening(other));
    assert!(early <= other_late && other_early <= late, "{:?} {:?}", one.windows[1], other.windows[1]);
}

/// Says so where readings that are wrong are relied on, or carry the answer off.
fn assert_not_trusted(history: &History, without: &History) {
    let (answer, plain) = (answer(history), answer(without));
    let learned = &answer.learned;
    let trust = learned.trust;
    assert!(matches!(trust, Trust::ReadingsDisagree | Trust::MaterialsOnly), "{trust:?}: {}", learned.reason);
    assert_in_common(&answer, &plain);
}

/// Says so where most readings are not doubted for `reason`, or the answer does not say how many were taken.
fn assert_named(history: &History, without: &History, reason: Suspicion) {
    let answer = answer(history);
    let count = history.events.len() - without.events.len();
    let told = &answer.learned.reason;
    let named = answer.suspect_readings.iter().filter(|own| own.reason == reason).count();
    assert!(told.contains(&count.to_string()), "{told}");
    assert!(named * 2 > count, "{named} of {count} are doubted as {reason:?}");
}

#[test]
fn with_nothing_read_it_rests_on_the_materials_alone() {
    let learned = answer(&timber()).learned;
    assert_eq!((learned.trust, learned.observations), (Trust::MaterialsOnly, 0));
    assert!(learned.reason.contains("Nothing was measured"), "{}", learned.reason);
    assert!(learned.moved.is_empty());
    for factor in &learned.factors {
        let (before, after) = (factor.before, factor.after);
        for (before, after) in
            [before.p10, before.p50, before.p90].into_iter().zip([after.p10, after.p50, after.p90])
        {
            assert!((after / before - 1.0).abs() < 0.05, "{factor:?} was learned from nothing");
        }
    }
}

#[test]
fn with_one_reading_it_rests_on_little_more() {
    let one = answer(&sound(1));
    assert_eq!((one.learned.trust, one.learned.observations), (Trust::FewReadings, 1));
    assert!(one.learned.reason.contains("One observation"), "{}", one.learned.reason);
    assert_in_common(&one, &answer(&timber()));
}

#[test]
fn with_many_sound_readings_it_rests_on_them() {
    let many = answer(&sound(MANY));
    let learned = &many.learned;
    assert_eq!((learned.trust, learned.observations), (Trust::Readings, MANY), "{}", learned.reason);
    assert!(learned.reason.contains(&MANY.to_string()), "{}", learned.reason);
    // One in a hundred sound readings may look wrong, as in any trade.
    assert!(many.suspect_readings.len() <= 2, "{:?}", many.suspect_readings);
    let plain = answer(&timber());
    let width = |answer: &Estimate| answer.now.as_ref().map(|now| now.core_c.p90 - now.core_c.p10).unwrap();
    assert!(width(&many) < width(&plain), "{} against {} with none", width(&many), width(&plain));
    assert_in_common(&many, &plain);
    assert!(many.thermal_time.measured_degree_days_fraction > 0.3);
    assert_eq!(plain.thermal_time.measured_degree_days_fraction, 0.0);
}

#[test]
fn with_two_thousand_readings_it_counts_those_on_end_as_one() {
    let most = answer(&sound(2000));
    let learned = &most.learned;
    assert_eq!(learned.trust, Trust::Readings, "{}", learned.reason);
    // 83 days of four stretches of six hours, and one begun.
    assert!((250..=83 * 4 + 1).contains(&learned.observations), "{}", learned.observations);
    assert_in_common(&most, &answer(&sound(MANY)));
}

/// Readings of a thermometer that was left beside the heap.
fn aired() -> History {
    let mut deviate = noise();
    read(timber(), date(2026, 6, 10), MANY, move |_, air_c| air_c + NOISE_C * deviate())
}

/// Readings in °F, given as °C, of a heap under 35 °C: more than 95 °C is refused.
fn fahrenheit() -> History {
    let mut deviate = noise();
    read(bin(), date(2026, 7, 1), MANY, move |core_c, _| {
        assert!(core_c < 30.0, "{core_c}");
        32.0 + 1.8 * (core_c + NOISE_C * deviate().clamp(-2.0, 2.0))
    })
}

/// One value over and over.
fn stuck() -> History {
    read(timber(), date(2026, 6, 10), MANY, |_, _| 43.5)
}

#[test]
fn readings_of_the_open_air_are_not_trusted() {
    assert_not_trusted(&aired(), &timber());
}

#[test]
fn readings_of_the_open_air_are_named_and_counted() {
    assert_named(&aired(), &timber(), Suspicion::OutOfTheHeap);
}

#[test]
fn fahrenheit_given_as_celsius_is_not_trusted() {
    assert_not_trusted(&fahrenheit(), &bin());
}

#[test]
fn fahrenheit_given_as_celsius_is_named_and_counted() {
    assert_named(&fahrenheit(), &bin(), Suspicion::LooksLikeFahrenheit);
}

#[test]
fn one_value_over_and_over_is_not_trusted() {
    assert_not_trusted(&stuck(), &timber());
}

#[test]
fn one_value_over_and_over_is_named_and_counted() {
    assert_named(&stuck(), &timber(), Suspicion::Stuck);
}
