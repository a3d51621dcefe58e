//! Sanitisation rules at their edges: histories just inside and just outside each.

mod larkfield;

use baycast_model::history::{Event, History, MoistureNote, Reading, Turn};
use baycast_model::moment::Moment;
use baycast_model::sanitisation::{Rule, RuleFinding, Verdict, lethal_days};
use larkfield::{cardboard_pallet, empty, with_event};

/// A heap put in on 1 May with the given readings (hours since 2 May 00:00, °C) and turns (hours).
fn heap(readings: &[(f64, f64)], turns: &[f64]) -> History {
    let mut history = with_event(empty(cardboard_pallet()), "2026-05-01", |event| {
        event.addition = Some(baycast_model::history::Addition {
            feedstock: "example".into(),
            mass_kg: Some(600.0),
            ..Default::default()
        });
    });
    history.feedstocks.push(baycast_model::feedstock::Feedstock {
        id: "example".into(),
        name: String::new(),
        moisture_fraction: 0.6,
        nitrogen_fraction: 0.015,
        c_to_n: 30.0,
        ash_fraction: 0.1,
        bulk_density_kg_m3: 450.0,
        fast_fraction: 0.2,
        slow_fraction: 0.3,
        structure: baycast_model::feedstock::Structure::Mixed,
        note: String::new(),
        sources: Vec::new(),
    });
    for (hours, celsius) in readings {
        let mut event = Event::at(at(*hours));
        // Alternate readings are noted in the other unit: it must not matter.
        event.reading = Some(if (*hours as i64) % 2 == 0 {
            Reading { temperature_c: Some(*celsius), ..Default::default() }
        } else {
            Reading { temperature_f: Some(celsius * 1.8 + 32.0), ..Default::default() }
        });
        history.events.push(event);
    }
    for hours in turns {
        let mut event = Event::at(at(*hours));
        event.turn = Some(Turn {});
        history.events.push(event);
    }
    let last = readings.last().map_or(0.0, |reading| reading.0);
    history.as_of = Some(Moment::Date(at(last).date()));
    history.horizon_days = Some(1);
    history
}

fn at(hours: f64) -> Moment {
    let start: jiff::Timestamp = "2026-05-02T00:00:00Z".parse().unwrap();
    Moment::Instant(start + jiff::SignedDuration::from_secs((hours * 3600.0).round() as i64))
}

/// Readings every `every` hours over `hours`, all at `celsius`, wavering so as not to look stuck.
fn steady(celsius: f64, hours: f64, every: f64) -> Vec<(f64, f64)> {
    let count = (hours / every).round() as u32;
    (0..=count).map(|i| (f64::from(i) * every, celsius + 0.03 * f64::from(i % 3))).collect()
}

fn finding(history: &History, rule: Rule) -> RuleFinding {
    let estimate = baycast_model::estimate(history, jiff::civil::date(2026, 5, 2)).unwrap();
    estimate.sanitisation.into_iter().find(|finding| finding.rule == rule).unwrap()
}

fn verdict(history: &History, rule: Rule) -> Verdict {
    finding(history, rule).verdict
}

/// Where days must be consecutive the dates are those of one spell, though a shorter one came before.
#[test]
fn a_spell_that_was_too_short_dates_nothing() {
    let spell = |from: f64, hours: f64| {
        steady(58.0, hours, 12.0).into_iter().map(move |(hour, celsius)| (from + hour, celsius))
    };
    // Two days, a cold day, then four days: met three days after the second spell began, on 5 May at the earliest.
    let readings: Vec<_> = spell(0.0, 48.0).chain([(60.0, 40.0)]).chain(spell(72.0, 96.0)).collect();
    let found = finding(&heap(&readings, &[]), Rule::PfrpStaticPile);
    assert_eq!(found.verdict, Verdict::Met);
    let (from, to) = (found.from.expect("a day"), found.to.expect("a day"));
    assert!(from >= jiff::civil::date(2026, 5, 4) && to >= jiff::civil::date(2026, 5, 7), "{from} to {to}");
}

/// 40 CFR 503 appendix B, within-vessel and static aerated pile: 55 °C or higher for three days.
#[test]
fn three_days_at_55_are_met_and_a_tenth_of_a_degree_or_an_hour_less_is_not() {
    assert_eq!(verdict(&heap(&steady(55.0, 72.0, 12.0), &[]), Rule::PfrpStaticPile), Verdict::Met);
    assert_eq!(verdict(&heap(&steady(54.9, 72.0, 12.0), &[]), Rule::PfrpStaticPile), Verdict::NotMet);
    let short = finding(&heap(&steady(55.0, 71.0, 35.5), &[]), Rule::PfrpStaticPile);
    assert_ne!(short.verdict, Verdict::Met);
    assert!(
        short.explanation.contains("3.0 of 3.0") || short.explanation.contains("of 3.0 days"),
        "{}",
        short.explanation
    );
    // One cold reading in the middle breaks the stretch.
    let mut broken = steady(56.0, 96.0, 12.0);
    broken[4].1 = 50.0;
    assert_ne!(verdict(&heap(&broken, &[]), Rule::PfrpStaticPile), Verdict::Met);
}

#[test]
fn a_gap_over_36_hours_proves_nothing() {
    assert_eq!(verdict(&heap(&steady(60.0, 108.0, 36.0), &[]), Rule::PfrpStaticPile), Verdict::Met);
    let gapped = finding(&heap(&steady(60.0, 148.0, 37.0), &[]), Rule::PfrpStaticPile);
    assert_eq!(gapped.verdict, Verdict::NotEnoughReadings);
    assert!(gapped.explanation.contains("longest gap"), "{}", gapped.explanation);
}

/// 40 CFR 503 appendix B, windrow: 55 °C or higher for 15 days or longer, five turnings.
#[test]
fn fifteen_days_need_five_turns_within_them() {
    let readings = steady(57.0, 360.0, 24.0);
    let five = [30.0, 100.0, 170.0, 240.0, 310.0];
    assert_eq!(verdict(&heap(&readings, &five), Rule::PfrpWindrow), Verdict::Met);
    assert_eq!(verdict(&heap(&readings, &five[..4]), Rule::PfrpWindrow), Verdict::NotMet);
    assert_ne!(verdict(&heap(&steady(57.0, 336.0, 24.0), &five), Rule::PfrpWindrow), Verdict::Met);
}

/// 40 CFR 503 appendix B, PSRP: 40 °C or higher for five days, over 55 °C for four hours during them.
#[test]
fn psrp_needs_its_four_hours_over_55() {
    let mut readings = steady(45.0, 120.0, 12.0);
    let without = finding(&heap(&readings, &[]), Rule::PsrpComposting);
    assert_ne!(without.verdict, Verdict::Met);
    assert!(without.explanation.contains("0.0 of 4 hours over 55"), "{}", without.explanation);
    for (hours, celsius) in [(62.0, 56.0), (66.0, 56.1), (68.0, 56.0)] {
        readings.push((hours, celsius));
    }
    readings.sort_by(|a, b| a.0.total_cmp(&b.0));
    assert_eq!(verdict(&heap(&readings, &[]), Rule::PsrpComposting), Verdict::Met);
    assert_eq!(verdict(&heap(&steady(39.9, 120.0, 12.0), &[]), Rule::PsrpComposting), Verdict::NotMet);
}

/// 7 CFR 205.203(c)(2): initial C:N 25 to 40, 131 °F to 170 °F (55.0 to 76.7 °C).
#[test]
fn the_organic_rule_has_an_upper_bound_and_a_c_to_n() {
    let good = heap(&steady(60.0, 84.0, 12.0), &[]);
    assert_eq!(verdict(&good, Rule::OrganicStaticPile), Verdict::Met);
    let over = heap(&steady(76.8, 84.0, 12.0), &[]);
    assert_eq!(verdict(&over, Rule::OrganicStaticPile), Verdict::NotMet);
    assert_eq!(verdict(&over, Rule::PfrpStaticPile), Verdict::Met);
    assert_eq!(verdict(&heap(&steady(76.5, 84.0, 12.0), &[]), Rule::OrganicStaticPile), Verdict::Met);
    for (c_to_n, expected) in
        [(24.9, Verdict::NotMet), (25.1, Verdict::Met), (39.9, Verdict::Met), (40.1, Verdict::NotMet)]
    {
        let mut history = good.clone();
        history.feedstocks[0].c_to_n = c_to_n;
        assert_eq!(verdict(&history, Rule::OrganicStaticPile), expected, "C:N {c_to_n}");
    }
}

/// PAS 100 recommended default (from memory): 65 °C on 7 days that need not follow on, 2 turns, moisture 51 % or more.
#[test]
fn pas_100_wants_moisture_measured() {
    let readings = steady(66.0, 192.0, 12.0);
    let dry = heap(&readings, &[50.0, 120.0]);
    assert_ne!(verdict(&dry, Rule::Pas100Default), Verdict::Met);
    let noted = |percent: f64| {
        with_event(dry.clone(), "2026-05-05", |event| {
            event.moisture = Some(MoistureNote { percent: Some(percent), squeeze: None });
        })
    };
    assert_eq!(verdict(&noted(51.0), Rule::Pas100Default), Verdict::Met);
    assert_eq!(verdict(&noted(50.0), Rule::Pas100Default), Verdict::NotMet);
}

/// Regulation (EU) 142/2011 (70 °C for an hour) also asks for a particle size that no history shows: never `met`.
#[test]
fn what_a_history_cannot_show_is_never_met() {
    let hot = finding(&heap(&steady(71.0, 24.0, 2.0), &[]), Rule::EuAnimalByProducts);
    assert_eq!(hot.verdict, Verdict::IndicativeOnly);
    assert!(hot.explanation.contains("12 mm"), "{}", hot.explanation);
    let cooler = finding(&heap(&steady(69.9, 24.0, 2.0), &[]), Rule::EuAnimalByProducts);
    assert_eq!((cooler.verdict, cooler.shown_days), (Verdict::NotEnoughReadings, 0.0));
}

#[test]
fn material_added_later_was_not_there() {
    let history = heap(&steady(60.0, 120.0, 12.0), &[]);
    assert_eq!(verdict(&history, Rule::PfrpStaticPile), Verdict::Met);
    let topped = with_event(history, "2026-05-06", |event| {
        event.addition = Some(baycast_model::history::Addition {
            feedstock: "example".into(),
            mass_kg: Some(20.0),
            ..Default::default()
        });
    });
    assert_ne!(verdict(&topped, Rule::PfrpStaticPile), Verdict::Met);
}

/// A forecast is no evidence: with no reading nothing is met, however hot the model has it.
#[test]
fn without_readings_nothing_is_met() {
    let mut history = larkfield::filled_over(larkfield::timber_bay(), "2026-06-10", 5, 2183.0);
    history.as_of = Some("2026-08-01".parse().unwrap());
    let estimate = baycast_model::estimate(&history, jiff::civil::date(2026, 8, 1)).unwrap();
    assert!(estimate.now.unwrap().core_c.p50 > 50.0);
    assert!(estimate.sanitisation.iter().all(|finding| finding.verdict != Verdict::Met));
}

/// 40 CFR 503.32(a): D = 131 700 000 / 10^(0.1400 t), points computed outside the project.
#[test]
fn the_time_temperature_equation_at_tabulated_points() {
    for (t, days) in [
        (50.0, 13.170),
        (53.0, 5.007),
        (55.0, 2.628),
        (57.0, 33.10 / 24.0),
        (60.0, 12.583 / 24.0),
        (62.0, 6.604 / 24.0),
        (65.0, 2.511 / 24.0),
        (70.0, 30.06 / 1440.0),
    ] {
        let found = lethal_days(t).unwrap();
        assert!((found / days - 1.0).abs() < 5e-4, "{t} °C: {found} against {days}");
    }
    // At least 20 minutes, which binds above 71.26 °C; undefined under 50 °C.
    assert!((lethal_days(71.3).unwrap() * 1440.0 - 20.0).abs() < 1e-9);
    assert!(lethal_days(71.2).unwrap() * 1440.0 > 20.0);
    assert_eq!(lethal_days(49.99), None);
    let dose = finding(&heap(&steady(55.0, 63.07, 63.07 / 2.0), &[]), Rule::LethalityEquation);
    assert!((dose.shown_days - 1.0).abs() < 0.02, "dose {}", dose.shown_days);
    assert_eq!(dose.verdict, Verdict::IndicativeOnly);
}
