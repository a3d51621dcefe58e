//! Figures as they are written on the board: °C, m³ with the farm's own barrows, percent.

use baycast_model::estimate::Spread;
use baycast_model::timeline::BARROW_M3;
use baycast_service::records::Farm;

use crate::words;

/// A number without decimals; what rounds to nothing has no sign.
pub fn whole(number: f64) -> String {
    format!("{:.0}", number.round() + 0.0)
}

/// A share as a whole percentage.
pub fn percent(fraction: f64) -> String {
    format!("{} %", whole(fraction * 100.0))
}

/// The outer values of a range of temperatures.
pub fn celsius_range(spread: &Spread) -> String {
    format!("{} to {} °C", whole(spread.p10), whole(spread.p90))
}

/// The outer values of a range of shares.
pub fn percent_range(spread: &Spread) -> String {
    format!("{} to {} %", whole(spread.p10 * 100.0), whole(spread.p90 * 100.0))
}

/// A volume, m³, and what it comes to in the farm's barrows.
pub fn volume(volume_m3: f64, farm: &Farm) -> String {
    let (volume, barrows) = both(volume_m3, farm);
    format!("{volume} · {barrows}")
}

/// A volume: in m³, and in the farm's barrows.
pub fn both(volume_m3: f64, farm: &Farm) -> (String, String) {
    told(volume_m3, (volume_m3 / farm.barrow_m3.unwrap_or(BARROW_M3)).round())
}

/// A volume that is missing: in m³, and in the barrow loads that it takes to bring it.
pub fn missing(volume_m3: f64, farm: &Farm) -> (String, String) {
    told(volume_m3, (volume_m3 / farm.barrow_m3.unwrap_or(BARROW_M3)).ceil())
}

fn told(volume_m3: f64, barrows: f64) -> (String, String) {
    let word = if barrows == 1.0 { words::BARROW } else { words::BARROWS_OF_IT };
    (format!("{volume_m3:.2} m³"), format!("{barrows:.0} {word}"))
}

/// The outer values of a range of volumes: in m³, and in the farm's barrows.
pub fn volume_range(spread: &Spread, farm: &Farm) -> (String, String) {
    let barrows = |volume_m3: f64| whole(volume_m3 / farm.barrow_m3.unwrap_or(BARROW_M3));
    let (low, high) = (barrows(spread.p10), barrows(spread.p90));
    (
        words::from_to(&format!("{:.2}", spread.p10), &format!("{:.2} m³", spread.p90)),
        words::from_to(&low, &format!("{high} {}", words::BARROWS_OF_IT)),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_volume_is_told_in_the_farms_barrows() {
        let text = r#"{"id":"f","site":{"latitude_deg":52},"time_zone":"UTC","barrow_m3":0.1}"#;
        let farm: Farm = serde_json::from_str(text).expect("a farm");
        assert_eq!(volume(0.84, &farm), "0.84 m³ · 8 barrows");
        let (m3, barrows) = missing(0.11, &farm);
        assert_eq!((m3.as_str(), barrows.as_str()), ("0.11 m³", "2 barrows"));
        let (m3, barrows) = volume_range(&Spread { p10: 0.0, p50: 0.3, p90: 0.52 }, &farm);
        assert_eq!((m3.as_str(), barrows.as_str()), ("0.00 to 0.52 m³", "0 to 5 barrows"));
        assert_eq!(volume(0.1, &Farm { barrow_m3: None, ..farm }), "0.10 m³ · 1 barrow");
    }

    #[test]
    fn nothing_has_no_sign() {
        assert_eq!([-0.4, 0.4, -0.6].map(whole), ["0", "0", "-1"]);
    }
}
