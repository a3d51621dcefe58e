//! Where the bays stand: latitude and the weather they see.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// The place of the heap and its weather.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Site {
    /// Degrees north, -66 to 66.
    #[cfg_attr(feature = "schema", schema(minimum = -66, maximum = 66))]
    pub latitude_deg: f64,
    /// Monthly climate. Where absent, a temperate climate is assumed from the latitude and said so.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub normals: Option<Normals>,
    /// Observed or forecast days, which replace the normals where they reach.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub daily: Vec<DailyWeather>,
}

/// Monthly climate normals, January first, twelve values each.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct Normals {
    /// Mean air temperature of each month, °C.
    #[cfg_attr(feature = "schema", schema(min_items = 12, max_items = 12))]
    pub mean_air_c: Vec<f64>,
    /// Total rain of each month, mm.
    #[cfg_attr(feature = "schema", schema(min_items = 12, max_items = 12))]
    pub rain_mm: Vec<f64>,
}

/// One day's weather.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct DailyWeather {
    /// The day.
    #[cfg_attr(feature = "schema", schema(value_type = String, format = Date))]
    pub date: Date,
    /// Mean air temperature of the day, °C.
    #[cfg_attr(feature = "schema", schema(minimum = -50, maximum = 50))]
    pub mean_air_c: f64,
    /// Rain of the day, mm; the normals' where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schema(minimum = 0, maximum = 500))]
    pub rain_mm: Option<f64>,
}
