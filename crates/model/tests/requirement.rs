//! What compost that is needed asks for: held against the estimates that any batch gets.

use std::time::Instant;

use baycast_model::bay::{Base, Bay, Construction, Top, Wall};
use baycast_model::estimator::estimate;
use baycast_model::history::{Addition, Event, History, Preparation, Turn};
use baycast_model::moment::Moment;
use baycast_model::recipe::{Amount, Ingredient, OnHand, Targets};
use baycast_model::requirement;
use baycast_model::requirement::{CompostWanted, Need, Requirement, RequirementStart};
use baycast_model::site::{Normals, Site};
use baycast_model::window::Use;
use jiff::ToSpan;
use jiff::civil::{Date, date};

fn site() -> Site {
    Site {
        latitude_deg: 52.0,
        normals: Some(Normals {
            mean_air_c: vec![4.5, 4.8, 6.8, 9.2, 12.4, 15.4, 17.6, 17.3, 14.6, 11.0, 7.3, 5.0],
            rain_mm: vec![58.0, 50.0, 50.0, 51.0, 55.0, 56.0, 54.0, 60.0, 55.0, 65.0, 62.0, 61.0],
        }),
        daily: Vec::new(),
    }
}

fn timber() -> Bay {
    Bay {
        id: "timber".into(),
        length_m: 1.5,
        width_m: 1.6,
        height_m: 1.25,
        wall: Wall { construction: Construction::TimberBoards, layers: Vec::new() },
        base: Base::Soil,
        top: Top::Roofed,
    }
}

fn ingredient(feedstock: &str, most_kg: f64) -> Ingredient {
    Ingredient {
        feedstock: feedstock.into(),
        least: None,
        most: Amount { mass_kg: Some(most_kg), ..Amount::default() },
        moisture_fraction: None,
        preparation: Preparation::AsListed,
    }
}

fn need(for_use: Use, volume_m3: f64, by: Date) -> Need {
    Need {
        site: site(),
        bay: timber(),
        wanted: CompostWanted {
            for_use,
            volume_m3,
            by,
            earliest_start: Some(date(2026, 4, 1)),
            filling_weeks: None,
            turn_after_days: None,
        },
        on_hand: OnHand {
            ingredients: vec![
                ingredient("grass_mowings", 600.0),
                ingredient("shredded_prunings", 300.0),
                ingredient("horse_manure_bedded", 900.0),
                ingredient("cardboard", 60.0),
            ],
            feedstocks: Vec::new(),
            barrow_m3: None,
            max_water_litres: None,
            volume_m3: None,
            targets: Targets::default(),
        },
    }
}

fn asked(need: &Need) -> Requirement {
    let started = Instant::now();
    let told = requirement(need, date(2026, 1, 1)).expect("an answer");
    println!("{:.0} ms", started.elapsed().as_secs_f64() * 1e3);
    told
}

/// The batch of one bay as its grower would tell it, estimated as any batch is: how probable it is that the window has opened
/// by a day.
fn estimated(need: &Need, told: &Requirement, on: Date) -> f64 {
    let all = f64::from(told.bays);
    let dry = |moisture: f64, kg: f64| kg * (1.0 - moisture);
    let table = baycast_model::default_feedstocks();
    let row = |id: &str| table.iter().find(|row| row.id == id).expect("a row");
    let dry_kg: f64 =
        told.recipe.parts.iter().map(|part| dry(row(&part.feedstock).moisture_fraction, part.mass_kg)).sum();
    let additions = told.recipe.parts.iter().map(|part| {
        let own = row(&part.feedstock);
        let share = dry(own.moisture_fraction, part.mass_kg) / dry_kg;
        let wetted = part.mass_kg + told.recipe.water_litres * share;
        let addition = Addition {
            feedstock: part.feedstock.clone(),
            mass_kg: Some(wetted / all),
            moisture_fraction: Some(1.0 - dry(own.moisture_fraction, part.mass_kg) / wetted),
            ..Addition::default()
        };
        Event { addition: Some(addition), ..Event::at(Moment::Date(on)) }
    });
    let turned = Moment::Date(on.saturating_add(21.days()));
    let turn = Event { turn: Some(Turn::default()), ..Event::at(turned) };
    let history = History {
        batch: "one".into(),
        as_of: Some(Moment::Date(on)),
        site: need.site.clone(),
        bay: need.bay.clone(),
        other_bays: Vec::new(),
        feedstocks: Vec::new(),
        barrow_m3: None,
        events: additions.chain([turn]).collect(),
        sources: Vec::new(),
        criteria: Vec::new(),
        horizon_days: Some(600),
        forecast_step_days: None,
        ready_by: vec![need.wanted.by],
        compare_futures: false,
        lesson: None,
    };
    let told = estimate(&history, on).expect("an estimate");
    let window = told.windows.iter().find(|window| window.for_use == need.wanted.for_use).expect("it");
    window.ready_by[0].probability
}

fn the_latest(need: &Need, told: &Requirement, start: &RequirementStart, sure: f64) {
    let on = estimated(need, told, start.on);
    assert!(on >= sure && (on - start.probability).abs() < 1e-6, "{on} {start:?}");
    let later = estimated(need, told, start.on.saturating_add(1.day()));
    assert!(later < sure, "a day later: {later} {start:?}");
}

#[test]
fn the_starts_are_the_latest_from_which_the_estimate_opens_in_time() {
    let mut need = need(Use::Mulch, 1.3, date(2027, 9, 1));
    // Warm all year: even heaps that cool early go on.
    need.site.normals = Some(Normals { mean_air_c: vec![26.0; 12], rain_mm: vec![50.0; 12] });
    let told = asked(&need);
    let (likely, prudent) = (told.likely.as_ref().expect("one"), told.prudent.as_ref().expect("one"));
    assert!(prudent.on < likely.on);
    the_latest(&need, &told, likely, 0.5);
    the_latest(&need, &told, prudent, 0.9);
    assert!(told.missing.is_empty() && told.unmet.is_empty(), "{:?}", told.unmet);
    assert!((likely.volume_m3.p50 / 1.3 - 1.0).abs() < 0.05, "{likely:?}");
}

#[test]
fn what_cannot_be_ready_says_when_it_is() {
    let need = need(Use::Mulch, 0.5, date(2026, 5, 10));
    let told = asked(&need);
    assert!(told.likely.is_none() && told.prudent.is_none());
    let soonest = told.soonest.p50.expect("it opens some day");
    assert!(soonest > need.wanted.by);
    assert!(told.unmet[0].contains(&format!("about {soonest}")), "{:?}", told.unmet);
}

#[test]
fn more_than_a_bay_holds_goes_into_several_and_more_than_is_on_hand_is_missing() {
    let mut need = need(Use::Mulch, 4.0, date(2027, 4, 1));
    need.wanted.filling_weeks = Some(4);
    let told = asked(&need);
    assert!(told.bays >= 3, "{}", told.bays);
    assert!(told.volume_each_m3 <= need.bay.capacity_m3() * 1.000_001);
    assert!(!told.missing.is_empty());
    assert!(told.unmet.iter().any(|unmet| unmet.contains("than is on hand")), "{:?}", told.unmet);
    let likely = told.likely.expect("a start");
    assert_eq!(likely.filled, likely.on.saturating_add(21.days()));
    assert!((likely.volume_m3.p50 / 4.0 - 1.0).abs() < 0.1, "{likely:?}");
}

#[test]
fn every_value_that_cannot_be_used_is_named_at_once() {
    let mut need = need(Use::Mulch, 900.0, date(2026, 3, 1));
    need.bay.height_m = 9.0;
    need.on_hand.volume_m3 = Some(1.0);
    need.on_hand.ingredients[1].feedstock = "granite".into();
    need.wanted.filling_weeks = Some(60);
    let refused = requirement(&need, date(2026, 1, 1)).expect_err("it cannot be used").to_string();
    for pointer in [
        "/bay/height_m",
        "/wanted/volume_m3",
        "/wanted/filling_weeks",
        "/wanted/by",
        "/on_hand/volume_m3",
        "/on_hand/ingredients/1/feedstock",
    ] {
        assert!(refused.contains(&format!("{pointer}: ")), "{pointer}: {refused}");
    }
}

/// As many ingredients as are taken, two years to look at with a fortnight forecast, and no start that is surely in time: what is asked is answered
/// well within the service's half minute, on a slow machine too.
#[test]
fn the_heaviest_question_is_answered_in_time() {
    let mut need = need(Use::Potting, 30.0, date(2028, 3, 25));
    let ids = baycast_model::feedstock::TABLE.iter().map(|row| row.id);
    need.on_hand.ingredients = ids.take(24).map(|id| ingredient(id, 3000.0)).collect();
    let days = (0..14).map(|day| baycast_model::site::DailyWeather {
        date: date(2026, 4, 1).saturating_add(day.days()),
        mean_air_c: 9.0 + f64::from(day % 3),
        rain_mm: Some(f64::from(day % 5)),
    });
    need.site.daily = days.collect();
    let started = Instant::now();
    let told = asked(&need);
    assert!(started.elapsed().as_secs() < 20, "{:?}", started.elapsed());
    assert!(told.prudent.is_none());
}
