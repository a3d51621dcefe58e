//! Watching a farm's readiness: each change once and in order, whatever becomes of the server.

mod crowd;
mod ending;
pub mod events;
mod resuming;

use std::time::Duration;

use serde_json::{Value, json};

use crate::appending::good;
use crate::http::get;
use crate::server::Server;

on_both! {
    watching:
    resuming { a_change_is_told_at_once_and_a_restart_misses_none }
    ending { a_revoked_key_and_a_server_that_stops_end_it }
}

/// The farm that is watched.
const FARM: &str = "home";
/// Longest time to wait for anything.
const PATIENCE: Duration = Duration::from_mins(1);

/// Id of a batch.
fn batch(number: usize) -> String {
    format!("heap{number}")
}

/// Adds the farm with so many batches, each with something in it; the sequence once they are told.
async fn plant(server: &Server, batches: usize) -> u64 {
    let site = json!({ "latitude_deg": 52 });
    good(server, "/v1/farms", json!({ "id": FARM, "name": "", "site": site, "time_zone": "Europe/London" }))
        .await;
    for number in 0..batches {
        let bay = json!({ "id": format!("bay{number}"), "length_m": 1.2, "width_m": 1.2, "height_m": 1.2,
            "wall": { "construction": "slatted_timber" } });
        good(server, &format!("/v1/farms/{FARM}/bays"), json!({ "bay": bay })).await;
        let own = json!({ "id": batch(number), "start_bay": format!("bay{number}") });
        good(server, &format!("/v1/farms/{FARM}/batches"), own).await;
        let fill =
            json!({ "at": "2026-10-01", "addition": { "feedstock": "grass_mowings", "mass_kg": 300 } });
        record(server, number, fill).await;
    }
    told(server).await
}

/// Records an event.
async fn record(server: &Server, number: usize, event: Value) {
    let path = format!("/v1/farms/{FARM}/batches/{}/events", batch(number));
    good(server, &path, json!({ "entries": [{ "event": event }] })).await;
}

/// Records a reading of so many degrees.
async fn read(server: &Server, number: usize, temperature_c: f64) {
    record(server, number, json!({ "at": "2026-10-09", "reading": { "temperature_c": temperature_c } }))
        .await;
}

/// The sequence once everything that was recorded is told.
async fn told(server: &Server) -> u64 {
    let waited = async {
        loop {
            let readiness = get(server, &format!("/v1/farms/{FARM}/readiness")).await.json();
            if readiness["pending"] == 0 {
                break readiness["sequence"].as_u64().expect("a sequence");
            }
        }
    };
    tokio::time::timeout(PATIENCE, waited).await.expect("all is told in time")
}
