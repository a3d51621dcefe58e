//! A server with Larkfield's records (invented), as if its season ended today.

use std::collections::BTreeSet;
use std::fs;
use std::time::{Duration, Instant};

use baycast_model::history::{Event, History};
use baycast_model::moment::Moment;
use baycast_model::site::Site;
use jiff::civil::{Date, date};
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp, ToSpan};
use serde_json::{Value, json};

use crate::binary::repository;
use crate::databases::Database;
use crate::http::send;
use crate::server::Server;

/// The farm.
pub const FARM: &str = "larkfield";

/// A batch that has all that a page can show.
pub const BATCH: &str = "timber-2 summer";

/// The day on which the records end.
const LAST: Date = date(2026, 9, 15);

/// Longest wait for all batches to be worked out: 48 of them on a busy machine.
const PATIENCE: Duration = Duration::from_mins(5);

/// A server with the farm.
pub struct Yard {
    /// The server; declared first, so that it is stopped before its store goes.
    pub server: Server,
    /// Its store.
    _database: Database,
    /// Path of the board under a feed's address.
    pub feed: String,
    /// Batches that stand in the bays.
    pub standing: usize,
}

impl Yard {
    /// The farm as the demo has it, `times` over, each with bays of its own.
    pub async fn larkfield(times: usize) -> Self {
        Self::filled(&histories(), times).await
    }

    /// Three of its batches, where pages need not be full.
    pub async fn small() -> Self {
        let few = ["plastic-1 spring", "pallet-2 summer", BATCH];
        let own: Vec<_> = histories().into_iter().filter(|own| few.contains(&own.batch.as_str())).collect();
        Self::filled(&own, 1).await
    }

    async fn filled(histories: &[History], times: usize) -> Self {
        let database = Database::sqlite();
        let mut yard =
            Self { server: Server::on(&database), _database: database, feed: String::new(), standing: 0 };
        let first = &histories[0];
        let site = json!({ "latitude_deg": first.site.latitude_deg, "normals": turned(&first.site) });
        let own =
            json!({ "id": FARM, "name": "Larkfield (invented)", "site": site, "time_zone": "Europe/London" });
        yard.good("POST", "/v1/farms", &own).await;
        for time in 0..times {
            yard.fill(histories, &if time == 0 { String::new() } else { format!(" {}", time + 1) }).await;
        }
        let issued =
            yard.good("POST", &format!("/v1/farms/{FARM}/feeds"), &json!({ "name": "the shed" })).await;
        yard.feed = format!("{}/board", issued["path"].as_str().expect("a path"));
        yard.standing = yard.worked_out().await;
        yard
    }

    /// Adds bays, batches and their events; `mark` ends each name.
    async fn fill(&self, histories: &[History], mark: &str) {
        let farm = format!("/v1/farms/{FARM}");
        let all: Vec<&History> = histories.iter().flat_map(with_sources).collect();
        let mut seen = BTreeSet::new();
        for bay in all.iter().flat_map(|own| [&own.bay].into_iter().chain(&own.other_bays)) {
            if seen.insert(bay.id.clone()) {
                let mut own = json!({ "bay": bay, "position": seen.len() });
                own["bay"]["id"] = format!("{}{mark}", bay.id).into();
                self.good("POST", &format!("{farm}/bays"), &own).await;
            }
        }
        for own in &all {
            let batch = json!({ "id": format!("{}{mark}", own.batch), "name": format!("{}{mark}", own.batch),
                "start_bay": format!("{}{mark}", own.bay.id) });
            self.good("POST", &format!("{farm}/batches"), &batch).await;
        }
        for own in &all {
            let entries: Vec<Value> =
                own.events.iter().map(|event| json!({ "event": shifted(event, mark) })).collect();
            let path =
                format!("{farm}/batches/{}/events", format!("{}{mark}", own.batch).replace(' ', "%20"));
            self.good("POST", &path, &json!({ "entries": entries })).await;
        }
    }

    /// Keeps the first weeks of Larkfield's season, as if it began today.
    pub async fn keep_season(&self) {
        let day = |days: i64| TimeZone::UTC.to_datetime(Timestamp::now()).date().saturating_add(days.days());
        let season = json!({
            "weeks": 14,
            "inflows": [
                { "feedstock": "grass_mowings", "mass_kg_week": 90 },
                { "feedstock": "leafy_crop_waste", "mass_kg_week": 45 },
                { "feedstock": "shredded_prunings", "mass_kg_week": 45 },
            ],
            "demands": [
                { "id": "garlic beds", "use": "bed_dressing", "by": day(35), "area_m2": 20, "depth_m": 0.02 },
                { "id": "tunnel beds", "use": "bed_dressing", "by": day(80), "area_m2": 120, "depth_m": 0.025 },
            ],
        });
        self.good("PUT", &format!("/v1/farms/{FARM}/season"), &season).await;
    }

    /// Sends and expects success.
    pub async fn good(&self, method: &str, path: &str, body: &Value) -> Value {
        let answer =
            send(&self.server, method, path, &[("content-type", "application/json")], body.to_string()).await;
        assert!(answer.status.is_success(), "{method} {path}: {} {}", answer.status, answer.json());
        answer.json()
    }

    /// Waits until every batch is worked out, and says how many stand.
    async fn worked_out(&self) -> usize {
        let end = Instant::now() + PATIENCE;
        loop {
            let path = format!("/v1/farms/{FARM}/readiness");
            let readiness = send(&self.server, "GET", &path, &[], String::new()).await.json();
            let standing = readiness["batches"].as_array().map_or(0, Vec::len);
            if readiness["pending"] == 0 && standing > 0 {
                return standing;
            }
            assert!(Instant::now() < end, "not all are worked out: {} pending", readiness["pending"]);
            tokio::time::sleep(Duration::from_millis(200)).await;
        }
    }
}

/// The demo's histories.
fn histories() -> Vec<History> {
    let text = fs::read_to_string(repository().join("crates/baycast/demo/larkfield.json")).expect("the demo");
    serde_json::from_str(&text).expect("histories")
}

/// A batch after those that were merged into it.
fn with_sources(history: &History) -> Vec<&History> {
    history.sources.iter().flat_map(with_sources).chain([history]).collect()
}

/// Time from the records' last day to today.
fn shift() -> SignedDuration {
    let today = TimeZone::UTC.to_datetime(Timestamp::now()).date();
    today.duration_since(LAST)
}

/// The site's normals with the months moved as the events are, so that the weather suits the season.
fn turned(site: &Site) -> Value {
    let mut normals = serde_json::to_value(site).expect("a site")["normals"].take();
    let months = (shift().as_hours() as f64 / 24.0 / 30.4).round().rem_euclid(12.0) as usize;
    for own in ["mean_air_c", "rain_mm"] {
        normals[own].as_array_mut().expect("twelve").rotate_right(months);
    }
    normals
}

/// An event near today, of the batch and the bays with that mark.
fn shifted(event: &Event, mark: &str) -> Event {
    let mut event = event.clone();
    event.at = match event.at {
        Moment::Date(day) => Moment::Date(day.saturating_add(shift())),
        Moment::Instant(at) => Moment::Instant(at + shift()),
    };
    if let Some(moved) = &mut event.moved {
        moved.to_bay += mark;
    }
    if let Some(merge) = &mut event.merge {
        merge.source += mark;
    }
    event
}

/// A farm with nothing on it.
pub fn farm(id: &str) -> Value {
    json!({ "id": id, "name": "Bare field", "site": { "latitude_deg": 52 }, "time_zone": "Europe/London" })
}
