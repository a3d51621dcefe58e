//! Moist air.

/// Saturation pressure over water, kPa, and its slope: Magnus's formula with the coefficients of Sonntag 1990 (from memory).
fn saturation_kpa(celsius: f64) -> (f64, f64) {
    let t = celsius.clamp(-30.0, 95.0);
    let kpa = 0.6112 * (17.62 * t / (243.12 + t)).exp();
    (kpa, kpa * 17.62 * 243.12 / (243.12 + t).powi(2))
}

/// Humidity ratio of air at a relative humidity, kg/kg, and its slope with temperature.
pub fn humidity(celsius: f64, relative: f64) -> (f64, f64) {
    let (kpa, slope) = saturation_kpa(celsius);
    let dry = 101.325 - kpa;
    (relative * 0.622 * kpa / dry, relative * 0.622 * slope * 101.325 / (dry * dry))
}

/// Enthalpy of moist air, kJ per kg dry air.
pub fn enthalpy_kj_kg(celsius: f64, humidity: f64) -> f64 {
    1.006 * celsius + humidity * (2501.0 + 1.86 * celsius)
}
