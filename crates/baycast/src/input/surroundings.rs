//! What a sheet of events does not say: where the bays stand, what they are built of, own materials.

use std::fs;
use std::path::{Path, PathBuf};

use baycast_model::bay::Bay;
use baycast_model::feedstock::Feedstock;
use baycast_model::history::{Event, History};
use baycast_model::site::Site;
use baycast_service::sheet::{Grammar, Names};
use jiff::tz::TimeZone;
use serde::de::DeserializeOwned;

use super::bay_text;
use super::writing::{Dates, Units};

/// The flags that describe them.
#[derive(Clone, Debug, Default, clap::Args)]
#[command(next_help_heading = "For CSV")]
pub struct Flags {
    /// Site as JSON, with latitude and weather.
    #[arg(long, value_name = "FILE.json", conflicts_with = "latitude")]
    pub site: Option<PathBuf>,
    /// Degrees north, in place of a site file; a climate is assumed from it.
    #[arg(long, value_name = "DEGREES", allow_negative_numbers = true)]
    pub latitude: Option<f64>,
    /// Bay as JSON, or in a line such as "pallet-1: 1.0x1.0x1.1 cardboard_lined open soil".
    /// Given again for each bay the batch moves to.
    #[arg(long, value_name = "FILE.json|TEXT")]
    pub bay: Vec<String>,
    /// Own feedstocks as a JSON array.
    #[arg(long, value_name = "FILE.json")]
    pub feedstocks: Option<PathBuf>,
    /// One barrow load, m³.
    #[arg(long, value_name = "M3")]
    pub barrow_m3: Option<f64>,
    /// How far past the day of the estimate to look; 365 where not given.
    #[arg(long, value_name = "DAYS")]
    pub horizon_days: Option<u32>,
    /// Days between two points of the forecast; 7 where not given.
    #[arg(long, value_name = "DAYS")]
    pub forecast_step_days: Option<u32>,
    /// How dates in figures are written; `iso` where not given.
    #[arg(long, value_enum, value_name = "DATES")]
    pub dates: Option<Dates>,
    /// What temperatures are in where neither header nor cell says so; `c` where not given.
    #[arg(long, value_enum, value_name = "UNITS")]
    pub units: Option<Units>,
    /// Where local times are, such as Europe/London; only times with an offset are taken where not given.
    #[arg(long, value_name = "ZONE")]
    pub time_zone: Option<String>,
}

impl Flags {
    /// Whether any of them is given.
    pub fn any(&self) -> bool {
        self.site.is_some()
            || self.latitude.is_some()
            || !self.bay.is_empty()
            || self.feedstocks.is_some()
            || self.barrow_m3.is_some()
            || self.horizon_days.is_some()
            || self.forecast_step_days.is_some()
            || self.dates.is_some()
            || self.units.is_some()
            || self.time_zone.is_some()
    }

    /// Reads the files and texts they name.
    pub fn surroundings(&self) -> Result<Surroundings, String> {
        let site = match (&self.site, self.latitude) {
            (Some(path), _) => from_file(path)?,
            (None, Some(latitude_deg)) => Site { latitude_deg, normals: None, daily: Vec::new() },
            (None, None) => return Err("CSV needs --site FILE.json or --latitude DEGREES".into()),
        };
        let mut bays = self.bay.iter().map(|text| {
            if Path::new(text).extension().is_some_and(|extension| extension == "json") {
                from_file(Path::new(text))
            } else {
                bay_text::parse(text).map_err(|detail| format!("--bay \"{text}\": {detail}"))
            }
        });
        let bay = bays
            .next()
            .ok_or("CSV needs --bay FILE.json or a line such as --bay \"1.0x1.0x1.1 cardboard_lined\"")??;
        let other_bays = bays.collect::<Result<_, _>>()?;
        let feedstocks = self.feedstocks.as_deref().map(from_file).transpose()?;
        let feedstocks: Vec<Feedstock> = feedstocks.unwrap_or_default();
        let grammar = self.grammar(&feedstocks)?;
        Ok(Surroundings {
            grammar,
            site,
            bay,
            other_bays,
            feedstocks,
            barrow_m3: self.barrow_m3,
            horizon_days: self.horizon_days,
            forecast_step_days: self.forecast_step_days,
        })
    }
}

impl Flags {
    /// How sheets are read.
    fn grammar(&self, own: &[Feedstock]) -> Result<Grammar, String> {
        let zone = self.time_zone.as_deref().map(TimeZone::get).transpose();
        let zone = zone.map_err(|error| format!("--time-zone: {error}"))?;
        let feedstocks = own.iter().cloned().chain(baycast_model::default_feedstocks());
        Ok(Grammar {
            dates: self.dates.unwrap_or_default().into(),
            units: self.units.unwrap_or_default().into(),
            zone,
            barrow_m3: self.barrow_m3,
            feedstocks: Names::new("a feedstock's id or name", feedstocks.map(|own| (own.id, own.name))),
            bays: None,
            batches: None,
        })
    }
}

/// Site, bays, materials and the span of the answer, for a sheet's batches.
#[derive(Clone, Debug)]
pub struct Surroundings {
    grammar: Grammar,
    site: Site,
    bay: Bay,
    other_bays: Vec<Bay>,
    feedstocks: Vec<Feedstock>,
    barrow_m3: Option<f64>,
    horizon_days: Option<u32>,
    forecast_step_days: Option<u32>,
}

impl Surroundings {
    /// How sheets are read in them.
    pub fn grammar(&self) -> &Grammar {
        &self.grammar
    }

    /// The history of a batch of which only the events are known.
    pub fn history(&self, batch: String, events: Vec<Event>) -> History {
        History {
            batch,
            as_of: None,
            site: self.site.clone(),
            bay: self.bay.clone(),
            other_bays: self.other_bays.clone(),
            feedstocks: self.feedstocks.clone(),
            barrow_m3: self.barrow_m3,
            events,
            sources: Vec::new(),
            criteria: Vec::new(),
            horizon_days: self.horizon_days,
            forecast_step_days: self.forecast_step_days,
            ready_by: Vec::new(),
            compare_futures: false,
            lesson: None,
        }
    }

    /// A pallet bay at 52° N.
    #[cfg(test)]
    pub fn example() -> Self {
        let bay = vec!["1.0x1.0x1.1 cardboard_lined".into()];
        Flags { latitude: Some(52.0), bay, ..Flags::default() }.surroundings().unwrap()
    }
}

/// The value in a JSON file.
fn from_file<T: DeserializeOwned>(path: &Path) -> Result<T, String> {
    let text = fs::read(path).map_err(|error| format!("{}: {error}", path.display()))?;
    serde_json::from_slice(&text).map_err(|error| format!("{}:{}: {error}", path.display(), error.line()))
}
