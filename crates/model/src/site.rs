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
    #[cfg_attr(feature = "schema", schema(schema_with = monthly_air))]
    pub mean_air_c: Vec<f64>,
    /// Total rain of each month, mm.
    #[cfg_attr(feature = "schema", schema(schema_with = monthly_rain))]
    pub rain_mm: Vec<f64>,
}

#[cfg(feature = "schema")]
fn monthly_air() -> utoipa::openapi::schema::Array {
    monthly("Mean air temperature of each month, °C.", -40.0, 45.0)
}

#[cfg(feature = "schema")]
fn monthly_rain() -> utoipa::openapi::schema::Array {
    monthly("Total rain of each month, mm.", 0.0, 2000.0)
}

/// A value for each month, as the description tells it.
#[cfg(feature = "schema")]
fn monthly(what: &str, low: f64, high: f64) -> utoipa::openapi::schema::Array {
    use utoipa::openapi::schema::{ArrayBuilder, KnownFormat, ObjectBuilder, SchemaFormat, Type};
    let value = ObjectBuilder::new()
        .schema_type(Type::Number)
        .format(Some(SchemaFormat::KnownFormat(KnownFormat::Double)))
        .minimum(Some(low))
        .maximum(Some(high));
    let months = ArrayBuilder::new().items(value.build()).min_items(Some(12)).max_items(Some(12));
    months.description(Some(what)).build()
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
