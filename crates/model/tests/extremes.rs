//! Whatever is within the accepted ranges gets an answer: no panic, no failed integration, no number that is none.

mod larkfield;

use baycast_model::EstimateError;
use baycast_model::bay::{Base, Bay, Construction, Top, Wall};
use baycast_model::feedstock::TABLE;
use baycast_model::history::{
    Addition, Cover, CoverState, Event, Firming, History, MoistureNote, Preparation, Reading, Turn, Watering,
    Withdrawal, Zone,
};
use baycast_model::moment::Moment;
use baycast_model::site::{DailyWeather, Normals, Site};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use serde_json::Value;

fn any_bay() -> impl Strategy<Value = Bay> {
    let construction = prop::sample::select(vec![
        Construction::ThinPlastic,
        Construction::SlattedTimber,
        Construction::TimberBoards,
        Construction::CardboardLined,
        Construction::StrawBale,
        Construction::Block,
        Construction::OpenHeap,
    ]);
    let top = prop::sample::select(vec![Top::Open, Top::Roofed, Top::Lidded]);
    let side = || prop_oneof![Just(0.3), 0.3..20.0_f64, Just(20.0)];
    (side(), side(), 0.3..4.0_f64, construction, top).prop_map(
        |(length_m, width_m, height_m, construction, top)| Bay {
            id: "bay".into(),
            length_m,
            width_m,
            height_m,
            wall: Wall { construction, layers: Vec::new() },
            base: Base::Slab,
            top,
        },
    )
}

fn any_site() -> impl Strategy<Value = Site> {
    let normals = prop::option::of((
        prop::collection::vec(-40.0..45.0_f64, 12),
        prop::collection::vec(0.0..2000.0_f64, 12),
    ));
    let daily = prop::collection::vec((0..300_i64, -50.0..50.0_f64, prop::option::of(0.0..500.0_f64)), 0..40);
    (-66.0..66.0_f64, normals, daily).prop_map(|(latitude_deg, normals, daily)| {
        let mut days: Vec<DailyWeather> = daily
            .into_iter()
            .map(|(day, mean_air_c, rain_mm)| DailyWeather { date: date(day), mean_air_c, rain_mm })
            .collect();
        days.sort_by_key(|day| day.date);
        days.dedup_by_key(|day| day.date);
        Site {
            latitude_deg,
            normals: normals.map(|(mean_air_c, rain_mm)| Normals { mean_air_c, rain_mm }),
            daily: days,
        }
    })
}

fn date(day: i64) -> jiff::civil::Date {
    jiff::civil::date(2026, 3, 1).saturating_add(jiff::SignedDuration::from_hours(24 * day))
}

fn any_addition() -> impl Strategy<Value = Addition> {
    let feedstock = prop::sample::select(TABLE.iter().map(|row| row.id).collect::<Vec<_>>());
    let amount = prop_oneof![
        prop_oneof![Just(0.0), 1e-6..1.0_f64, 1.0..500.0_f64, Just(50_000.0)].prop_map(|kg| (
            Some(kg),
            None,
            None
        )),
        prop_oneof![1e-6..1.0_f64, Just(100.0)].prop_map(|m3| (None, Some(m3), None)),
        (0.0..1.2_f64).prop_map(|fraction| (None, None, Some(fraction))),
        Just((None, None, None)),
    ];
    let moisture = prop::option::of(prop_oneof![Just(0.0), 0.0..0.98_f64, Just(0.98)]);
    (feedstock, amount, moisture, prop::option::of(-10.0..80.0_f64), any::<bool>()).prop_map(
        |(
            feedstock,
            (mass_kg, volume_m3, filled_to_fraction),
            moisture_fraction,
            temperature_c,
            shredded,
        )| Addition {
            feedstock: feedstock.into(),
            mass_kg,
            volume_m3,
            barrows: None,
            filled_to_fraction,
            moisture_fraction,
            temperature_c,
            preparation: if shredded { Preparation::Shredded } else { Preparation::AsListed },
        },
    )
}

fn any_event() -> impl Strategy<Value = Event> {
    let blank = || Event::at(Moment::Date(date(0)));
    let detail = prop_oneof![
        4 => any_addition().prop_map(move |addition| Event { addition: Some(addition), ..blank() }),
        4 => (-20.0..95.0_f64, any::<bool>()).prop_map(move |(celsius, edge)| {
            let zone = if edge { Zone::Edge } else { Zone::Core };
            let reading = Reading { temperature_c: Some(celsius), zone: Some(zone), ..Reading::default() };
            Event { reading: Some(reading), ..blank() }
        }),
        1 => (5.0..95.0_f64).prop_map(move |percent| {
            Event { moisture: Some(MoistureNote { percent: Some(percent), squeeze: None }), ..blank() }
        }),
        1 => Just(()).prop_map(move |()| Event { turn: Some(Turn {}), ..blank() }),
        1 => Just(()).prop_map(move |()| Event { firming: Some(Firming {}), ..blank() }),
        1 => Just(()).prop_map(move |()| Event { cover: Some(Cover { state: CoverState::On }), ..blank() }),
        1 => (0.0..20_000.0_f64).prop_map(move |litres| Event { watering: Some(Watering { litres }), ..blank() }),
        1 => (0.0..0.5_f64).prop_map(move |volume| {
            Event { withdrawal: Some(Withdrawal { volume_m3: Some(volume) }), ..blank() }
        }),
    ];
    (detail, 1..300_i64).prop_map(|(event, day)| Event { at: Moment::Date(date(day)), ..event })
}

fn any_history() -> impl Strategy<Value = History> {
    (any_bay(), any_site(), any_addition(), prop::collection::vec(any_event(), 0..25)).prop_map(
        |(bay, site, first, events)| {
            let mut history = larkfield::empty(bay);
            history.site = site;
            let first = Addition {
                mass_kg: Some(first.mass_kg.unwrap_or(5.0).max(1e-3)),
                volume_m3: None,
                filled_to_fraction: None,
                ..first
            };
            history.events.push(Event { addition: Some(first), ..Event::at(Moment::Date(date(0))) });
            history.events.extend(events);
            history.as_of = Some(Moment::Date(date(301)));
            history
        },
    )
}

/// Pointer of the first value that is null where a number belongs: how a number that is none is written.
fn none_in(value: &Value, at: &str) -> Option<String> {
    match value {
        Value::Object(members) => members.iter().find_map(|(name, member)| {
            let at = format!("{at}/{name}");
            let may_be_absent =
                ["p10", "p50", "p90", "from", "to", "volume_at_opening_m3"].contains(&name.as_str());
            if member.is_null() && !may_be_absent { Some(at) } else { none_in(member, &at) }
        }),
        Value::Array(elements) => elements
            .iter()
            .enumerate()
            .find_map(|(index, element)| none_in(element, &format!("{at}/{index}"))),
        _ => None,
    }
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 60,
        rng_seed: RngSeed::Fixed(20_260_301),
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    #[test]
    fn every_accepted_history_is_answered(history in any_history()) {
        match baycast_model::estimate(&history, date(301)) {
            Ok(estimate) => {
                let value = serde_json::to_value(&estimate).unwrap();
                prop_assert_eq!(none_in(&value, ""), None);
                for spread in estimate.now.iter().flat_map(|now| [now.core_c, now.edge_c, now.volume_m3, now.moisture_fraction]) {
                    prop_assert!(spread.p10 <= spread.p50 && spread.p50 <= spread.p90, "{spread:?}");
                    prop_assert!(spread.p10.is_finite() && spread.p90.is_finite(), "{spread:?}");
                }
                for point in &estimate.forecast {
                    prop_assert!(point.core_c.p50.is_finite() && point.volume_m3.p50 > 0.0, "{point:?}");
                }
            }
            // More taken out than there was is refused, and that is all.
            Err(EstimateError::Invalid(problems)) => {
                let only = problems.0.iter().all(|problem| {
                    problem.pointer.ends_with("/withdrawal/volume_m3") || problem.accepted.contains("in the bay") || problem.accepted.contains("after the first addition")
                });
                prop_assert!(only, "{problems}");
            }
            Err(failure) => prop_assert!(false, "{failure}"),
        }
    }
}

#[test]
fn events_a_moment_apart_are_no_step_of_the_integrator() {
    let mut history = larkfield::filled_over(larkfield::timber_bay(), "2026-05-01", 2, 800.0);
    for at in ["2026-06-01T18:00:00Z", "2026-06-01T18:00:00.00002Z"] {
        history = larkfield::with_event(history, at, |event| event.turn = Some(Turn::default()));
    }
    let estimate = baycast_model::estimate(&history, jiff::civil::date(2026, 6, 2)).unwrap();
    assert!(estimate.now.is_some());
}
