//! Batches with no readings, one, very many, and nothing but wrong ones: each is answered, and told how far to trust it.

use jiff::ToSpan;
use jiff::civil::{Date, date};
use serde_json::{Value, json};

use crate::http::estimate;
use crate::server::Server;

/// The day of the estimates.
const TODAY: Date = date(2026, 9, 1);
/// Air of the place, the whole year round, °C.
const AIR_C: f64 = 12.0;

/// A batch in a small bay, filled at once, with these readings.
fn history(readings: &[Value]) -> Value {
    let add = |feedstock: &str, mass_kg: f64| json!({ "at": "2026-05-01", "addition": { "feedstock": feedstock, "mass_kg": mass_kg } });
    let mut events =
        vec![add("grass_mowings", 150.0), add("leafy_crop_waste", 60.0), add("shredded_prunings", 150.0)];
    events.extend_from_slice(readings);
    json!({
        "batch": "spring", "as_of": TODAY.to_string(), "horizon_days": 300, "forecast_step_days": 1,
        "site": { "latitude_deg": 52, "normals": { "mean_air_c": vec![AIR_C; 12], "rain_mm": vec![50; 12] } },
        "bay": {
            "id": "pallet-1", "length_m": 1, "width_m": 1, "height_m": 1.1, "base": "soil", "top": "lidded",
            "wall": { "construction": "cardboard_lined" }
        },
        "events": events
    })
}

/// A reading of the core.
fn reading(at: &str, temperature_c: f64) -> Value {
    json!({ "at": at, "reading": { "temperature_c": temperature_c } })
}

/// The estimate, whose numbers and ranges are sound.
async fn sound(server: &Server, readings: &[Value]) -> Value {
    let answer = estimate(server, &history(readings)).await;
    assert_eq!(answer.status, 200, "{}", answer.json());
    let answer = answer.json();
    let core = ["p10", "p50", "p90"].map(|share| answer["now"]["core_c"][share].as_f64().expect("a number"));
    assert!(core.is_sorted() && core[0] > -5.0 && core[2] < 80.0, "{core:?}");
    for window in answer["windows"].as_array().expect("windows") {
        let days: Vec<Option<&str>> =
            ["p10", "p50", "p90"].iter().map(|share| window["opens"][share].as_str()).collect();
        let told: Vec<&str> = days.iter().map_while(|day| *day).collect();
        assert!(told.is_sorted() && days[told.len()..].iter().all(Option::is_none), "{window}");
    }
    let factors = answer["learned"]["factors"].as_array().expect("factors");
    for factor in factors {
        let after = ["p10", "p50", "p90"].map(|share| factor["after"][share].as_f64().expect("a number"));
        assert!(after.is_sorted() && after[0] > 0.0, "{factor}");
    }
    answer
}

/// The middle core of each day of an estimate, °C, up to the day before it.
fn cores(answer: &Value) -> Vec<(Date, f64)> {
    let points = answer["forecast"].as_array().expect("a forecast").iter();
    let cores = points.map(|point| {
        let day: Date = point["date"].as_str().expect("a date").parse().expect("a date");
        (day, point["core_c"]["p50"].as_f64().expect("a number"))
    });
    cores.filter(|(day, _)| *day < TODAY).collect()
}

fn trust(answer: &Value) -> (&str, &str) {
    let text = |name: &str| answer["learned"][name].as_str().expect("a text");
    (text("trust"), text("reason"))
}

/// Says so where wrong readings are relied on, or not told of by their number.
fn assert_doubted(answer: &Value, readings: usize) {
    let (trust, reason) = trust(answer);
    assert!(["readings_disagree", "materials_only"].contains(&trust), "{trust}: {reason}");
    for reading in answer["suspect_readings"].as_array().expect("a list") {
        assert!((0.0..1.0).contains(&reading["weight"].as_f64().expect("a weight")), "{reading}");
    }
    assert!(reason.contains(&readings.to_string()), "{trust}: {reason}");
}

/// A ripple as a sound probe has it, °C.
fn ripple(index: usize) -> f64 {
    0.8 * ((index * 7 % 5) as f64 - 2.0)
}

#[tokio::test]
async fn no_reading_and_one_and_two_thousand() {
    let server = Server::start();
    let plain = sound(&server, &[]).await;
    assert_eq!(trust(&plain).0, "materials_only");
    assert_eq!(plain["learned"]["observations"], 0);
    assert_eq!(plain["thermal_time"]["measured_degree_days_fraction"], 0.0);

    let cores = cores(&plain);
    let (day, core_c) = cores[40];
    let one = sound(&server, &[reading(&format!("{day}T18:00:00Z"), core_c)]).await;
    assert_eq!((trust(&one).0, &one["learned"]["observations"]), ("few_readings", &json!(1)));

    let hourly = cores.iter().enumerate().skip(10).flat_map(|(index, (day, core_c))| {
        let at = move |hour: usize| {
            reading(&format!("{day}T{hour:02}:30:00Z"), core_c + ripple(24 * index + hour))
        };
        (0..24).map(at)
    });
    let readings: Vec<Value> = hourly.take(2000).collect();
    assert_eq!(readings.len(), 2000);
    let most = sound(&server, &readings).await;
    assert_eq!(trust(&most).0, "readings", "{}", trust(&most).1);
    let observations = most["learned"]["observations"].as_u64().expect("a number");
    assert!((200..=2000 / 6 + 90).contains(&observations), "{observations}");
    // The core alone was read: its share of the heap, over two thirds of the time.
    let measured = most["thermal_time"]["measured_degree_days_fraction"].as_f64().expect("a share");
    assert!((0.2..0.8).contains(&measured), "{measured}");
}

#[tokio::test]
async fn readings_in_the_open_air_are_doubted() {
    let server = Server::start();
    // Over the weeks in which such a heap is warm: the air is far from it.
    let aired: Vec<Value> = (0..40_u8)
        .map(|index| {
            let day = date(2026, 5, 8) + i64::from(index).days();
            reading(&format!("{day}T18:00:00Z"), AIR_C + ripple(usize::from(index)))
        })
        .collect();
    assert_doubted(&sound(&server, &aired).await, aired.len());
}

#[tokio::test]
async fn fahrenheit_given_as_celsius_is_doubted() {
    let server = Server::start();
    // Once the heap has cooled: over 95 °C would be refused.
    let cores = cores(&sound(&server, &[]).await);
    let cooled = cores.iter().enumerate().skip(20).filter(|(_, (_, core_c))| *core_c < 32.0);
    let fahrenheit: Vec<Value> = cooled
        .map(|(index, (day, core_c))| {
            reading(&format!("{day}T18:00:00Z"), 32.0 + 1.8 * (core_c + ripple(index)))
        })
        .collect();
    assert!(fahrenheit.len() > 60, "{} days under 32 °C", fahrenheit.len());
    assert_doubted(&sound(&server, &fahrenheit).await, fahrenheit.len());
}

#[tokio::test]
async fn one_value_over_and_over_is_doubted() {
    let server = Server::start();
    let stuck: Vec<Value> = (0..100_u8)
        .map(|index| {
            let day = date(2026, 5, 8) + i64::from(index).days();
            reading(&format!("{day}T18:00:00Z"), 41.5)
        })
        .collect();
    assert_doubted(&sound(&server, &stuck).await, stuck.len());
}
