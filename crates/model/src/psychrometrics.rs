//! Moist air: what exhaust carries away.

/// Standard atmospheric pressure, kPa.
pub const ATMOSPHERE_KPA: f64 = 101.325;

/// Saturation vapour pressure over water, kPa, for 0.01 to 373 °C.
///
/// Wagner & Pruss 2002, The IAPWS formulation 1995 for the thermodynamic properties of ordinary water
/// substance, J. Phys. Chem. Ref. Data 31:387-535, eq. 2.5 (coefficients from memory, held to an independent
/// implementation in `tests/python/steam.py`). Below 0 °C it goes on smoothly, as supercooled water would.
///
/// # Examples
/// ```
/// let p = baycast_model::psychrometrics::saturation_kpa(60.0);
/// assert!((p - 19.946).abs() < 0.003);
/// ```
#[must_use]
pub fn saturation_kpa(temperature_c: f64) -> f64 {
    let (log, _) = log_saturation(temperature_c);
    CRITICAL_KPA * log.exp()
}

const CRITICAL_K: f64 = 647.096;
const CRITICAL_KPA: f64 = 22_064.0;

/// Logarithm of the saturation pressure over the critical one, and its slope over temperature, 1/K (eq. 2.5a).
#[inline]
fn log_saturation(temperature_c: f64) -> (f64, f64) {
    let kelvin = temperature_c + 273.15;
    let x = 1.0 - kelvin / CRITICAL_K;
    let root = x.sqrt();
    let (square, cube) = (x * x, x * x * x);
    let sum = x * (-7.859_517_83 + 1.844_082_59 * root)
        + cube * (-11.786_649_7 + 22.680_741_1 * root - 15.961_871_9 * x)
        + 1.801_225_02 * cube * cube * x * root;
    let log = CRITICAL_K / kelvin * sum;
    let sum_slope = -7.859_517_83
        + 1.5 * 1.844_082_59 * root
        + square * (-3.0 * 11.786_649_7 + 3.5 * 22.680_741_1 * root - 4.0 * 15.961_871_9 * x)
        + 7.5 * 1.801_225_02 * cube * cube * root;
    (log, -(log + sum_slope) / kelvin)
}

/// Temperature over which the humidity of saturated air is held, °C: it runs away above.
const HOTTEST_C: f64 = 95.0;

/// Humidity ratio of saturated air, kg water per kg dry air, at standard pressure.
///
/// `w = 0.62198 p / (P − p)`, 0.62198 being the ratio of the molar masses of water and dry air.
/// The temperature is held to at most 95 °C, over which `w` runs away.
#[must_use]
pub fn saturation_humidity(temperature_c: f64) -> f64 {
    let p = saturation_kpa(temperature_c.min(HOTTEST_C));
    0.621_98 * p / (ATMOSPHERE_KPA - p)
}

/// Slope of that ratio over temperature, 1/K, where the ratio is `humidity`.
#[must_use]
pub fn saturation_humidity_slope(temperature_c: f64, humidity: f64) -> f64 {
    if temperature_c >= HOTTEST_C {
        return 0.0;
    }
    let (_, slope) = log_saturation(temperature_c);
    // P / (P − p) = 1 + w / 0.62198.
    humidity * (1.0 + humidity / 0.621_98) * slope
}

/// Enthalpy of moist air, kJ per kg dry air, zero for dry air and liquid water at 0 °C.
///
/// `h = 1.006 T + w (2501 + 1.86 T)`, the form of the ASHRAE Handbook, Fundamentals, psychrometrics
/// chapter (from memory).
#[must_use]
pub fn enthalpy_kj_kg(temperature_c: f64, humidity: f64) -> f64 {
    1.006 * temperature_c + humidity * (2501.0 + 1.86 * temperature_c)
}
