//! Place and weather.

use baycast_model::site::{DailyWeather, Normals, Site};
use baycast_service::pointer::Pointer;
use jiff::civil::Date;

use super::incoming::Incoming;
use crate::proto;

/// A site, as far as it can be read.
pub fn site(message: proto::Site, at: Pointer<'_>, incoming: &mut Incoming) -> Site {
    let proto::Site { latitude_deg, normals, daily } = message;
    let list = at.member("daily");
    Site {
        latitude_deg: incoming.number(latitude_deg, at.member("latitude_deg")),
        normals: normals.map(|proto::Normals { mean_air_c, rain_mm }| Normals { mean_air_c, rain_mm }),
        daily: daily
            .into_iter()
            .enumerate()
            .map(|(index, one)| day(one, list.element(index), incoming))
            .collect(),
    }
}

/// One day's weather.
fn day(message: proto::DailyWeather, at: Pointer<'_>, incoming: &mut Incoming) -> DailyWeather {
    let proto::DailyWeather { date, mean_air_c, rain_mm } = message;
    DailyWeather {
        date: incoming.parsed(&date, at.member("date"), "a date like 2026-04-30").unwrap_or(Date::ZERO),
        mean_air_c: incoming.number(mean_air_c, at.member("mean_air_c")),
        rain_mm,
    }
}

/// What stands for a site that is absent, which is a problem noted already.
pub fn nowhere() -> Site {
    Site { latitude_deg: f64::NAN, normals: None, daily: Vec::new() }
}

impl From<Site> for proto::Site {
    fn from(Site { latitude_deg, normals, daily }: Site) -> Self {
        Self {
            latitude_deg: Some(latitude_deg),
            normals: normals.map(|Normals { mean_air_c, rain_mm }| proto::Normals { mean_air_c, rain_mm }),
            daily: daily.into_iter().map(Into::into).collect(),
        }
    }
}

impl From<DailyWeather> for proto::DailyWeather {
    fn from(DailyWeather { date, mean_air_c, rain_mm }: DailyWeather) -> Self {
        Self { date: date.to_string(), mean_air_c: Some(mean_air_c), rain_mm }
    }
}
