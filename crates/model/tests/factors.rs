//! The correction factors of the kinetics at points computed outside the project.

use baycast_model::kinetics::{Cardinal, air_space_factor, moisture_factor, oxygen_factor};
use baycast_model::maturity::{RespirationClass, SelfHeatingClass};
use baycast_model::psychrometrics::{saturation_humidity, saturation_kpa};

fn close(what: &str, found: f64, printed: f64, half_digit: f64) {
    assert!((found - printed).abs() <= half_digit, "{what}: {found} against {printed}");
}

/// Equation of Rosso, Lobry & Flandrois 1993, J. theor. Biol. 162:447-463, for two sets of cardinal temperatures; points
/// computed from the equation outside the project, to four digits.
#[test]
fn the_cardinal_temperature_factor() {
    let a = Cardinal { min_c: 5.0, opt_c: 58.6, max_c: 71.6 };
    for (t, f) in [
        (10.0, 0.0141),
        (20.0, 0.1229),
        (30.0, 0.3264),
        (40.0, 0.5968),
        (50.0, 0.8736),
        (55.0, 0.9725),
        (60.0, 0.9947),
        (65.0, 0.8522),
        (70.0, 0.3300),
    ] {
        close("(5, 58.6, 71.6)", a.factor(t), f, 5e-5);
    }
    let b = Cardinal { min_c: 5.0, opt_c: 59.0, max_c: 80.0 };
    for (t, f) in
        [(10.0, 0.0188), (20.0, 0.1561), (40.0, 0.6662), (55.0, 0.9792), (70.0, 0.7808), (75.0, 0.4816)]
    {
        close("(5, 59, 80)", b.factor(t), f, 5e-5);
    }
    for t in [-20.0, 5.0, 80.0, 95.0] {
        assert_eq!(b.factor(t), 0.0);
    }
    close("optimum", b.factor(59.0), 1.0, 1e-12);
}

/// Haug 1993, The Practical Handbook of Compost Engineering; equations seen in two public model programs, points computed.
#[test]
fn the_moisture_air_space_and_oxygen_factors() {
    for (m, f) in [(0.2, 0.029), (0.3, 0.147), (0.4, 0.503), (0.5, 0.856), (0.6, 0.972), (0.7, 0.995)] {
        close("moisture", moisture_factor(m), f, 5e-4);
    }
    for (a, f) in [(0.05, 0.090), (0.10, 0.245), (0.15, 0.514), (0.20, 0.776), (0.30, 0.974)] {
        close("air space", air_space_factor(a), f, 5e-4);
    }
    // With no demand the pores hold outside air: O2 / (O2 + 2) at 20.95 %.
    close("oxygen, no demand", oxygen_factor(1.0, 0.0), 20.95 / 22.95, 1e-12);
    // A demand made to leave 5 % in the pores: factor .714; and 1 %: .333 (computed).
    for (y, f) in [(5.0, 0.714), (1.0, 0.333), (10.0, 0.833)] {
        let supply = 0.2314 * (20.95 - y) / 20.95;
        close("oxygen", oxygen_factor(1.0, supply * (y + 2.0) / y), f, 5e-4);
    }
}

#[test]
fn oxygen_stays_finite_with_no_air_and_with_too_much() {
    assert_eq!(oxygen_factor(0.0, 5.0), 0.0);
    assert!(oxygen_factor(1e9, 1e-9) <= 20.95 / 22.95 + 1e-12);
}

/// Saturated steam tables (from memory, 20, 40, 60 and 80 °C: 2.339, 7.385, 19.95, 47.42 kPa).
#[test]
fn saturation_pressure_is_that_of_steam_tables() {
    for (t, kpa) in [(20.0, 2.339), (40.0, 7.385), (60.0, 19.947), (80.0, 47.41)] {
        assert!((saturation_kpa(t) / kpa - 1.0).abs() < 4e-4, "{t}");
    }
    // Psychrometric tables at 101.325 kPa (from memory): 14.76 g/kg at 20 °C, 153.5 g/kg at 60 °C (both ± the real-gas 0.5 %).
    assert!((saturation_humidity(20.0) / 0.014_76 - 1.0).abs() < 6e-3);
    assert!((saturation_humidity(60.0) / 0.153_5 - 1.0).abs() < 8e-3);
}

/// Limits from memory: TMECC 05.08-B classes and the vessel test's bands.
#[test]
fn classes_change_at_their_limits() {
    assert_eq!(RespirationClass::of(2.0), RespirationClass::VeryStable);
    assert_eq!(RespirationClass::of(2.01), RespirationClass::Stable);
    assert_eq!(RespirationClass::of(8.01), RespirationClass::ModeratelyUnstable);
    assert_eq!(RespirationClass::of(15.01), RespirationClass::Unstable);
    assert_eq!(RespirationClass::of(40.01), RespirationClass::Raw);
    assert_eq!(SelfHeatingClass::of(10.0), SelfHeatingClass::V);
    assert_eq!(SelfHeatingClass::of(10.1), SelfHeatingClass::Iv);
    assert_eq!(SelfHeatingClass::of(20.1), SelfHeatingClass::Iii);
    assert_eq!(SelfHeatingClass::of(30.1), SelfHeatingClass::Ii);
    assert_eq!(SelfHeatingClass::of(40.1), SelfHeatingClass::I);
}
