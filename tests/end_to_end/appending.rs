//! Clients that append without pause, over REST and gRPC, and what the records must hold after them.

mod asked;
mod client;
mod kept;

pub use client::{Client, Unanswered};
pub use kept::{Kept, recorded};

use serde_json::{Value, json};

use crate::http::send;
use crate::server::Server;

/// The farm they append to.
pub const FARM: &str = "home";

/// Batches they append to: few, so that they meet.
pub const BATCHES: usize = 6;

/// Id of a batch.
pub fn batch(number: usize) -> String {
    format!("heap{number}")
}

/// Adds the farm, its bay and its empty batches.
pub async fn plant(server: &Server) {
    let site = json!({ "latitude_deg": 52 });
    good(server, "/v1/farms", json!({ "id": FARM, "name": "", "site": site, "time_zone": "Etc/UTC" })).await;
    let bay = json!({ "id": "bay", "length_m": 1.2, "width_m": 1.2, "height_m": 1.2,
        "wall": { "construction": "slatted_timber" } });
    good(server, &format!("/v1/farms/{FARM}/bays"), json!({ "bay": bay })).await;
    for number in 0..BATCHES {
        let own = json!({ "id": batch(number), "start_bay": "bay" });
        good(server, &format!("/v1/farms/{FARM}/batches"), own).await;
    }
}

/// Posts and expects success.
pub async fn good(server: &Server, path: &str, body: Value) -> Value {
    let headers = [("content-type", "application/json")];
    let answer = send(server, "POST", path, &headers, body.to_string()).await;
    assert!(answer.status.is_success(), "{path}: {} {}", answer.status, answer.json());
    answer.json()
}

/// What a random course begins with: `BAYCAST_SEED`, or another each time. Printed, so that it can be given again.
pub fn seed(test: &str) -> u64 {
    let given = std::env::var("BAYCAST_SEED").ok();
    let seed =
        given.map_or_else(|| fastrand::u64(..), |text| text.parse().expect("BAYCAST_SEED is a number"));
    println!("{test}: BAYCAST_SEED={seed}");
    seed
}
