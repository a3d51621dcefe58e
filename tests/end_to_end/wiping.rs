//! Everything a farm owns taken out, the store wiped, and the farm put back, from the shell, on both stores.

use std::process::{Command, Stdio};

use axum::body::Body;
use serde_json::{Value, json};
use sqlx::{Connection, PgConnection};

use crate::binary;
use crate::databases::Database;
use crate::http::send;
use crate::server::Server;

#[tokio::test]
async fn a_farm_on_sqlite_comes_back_identical() {
    comes_back_identical(&Database::sqlite(), &Database::postgres().await).await;
}

#[tokio::test]
async fn a_farm_on_postgres_comes_back_identical() {
    comes_back_identical(&Database::postgres().await, &Database::sqlite()).await;
}

/// Sends JSON and hands back the answer's.
async fn call(server: &Server, method: &str, path: &str, body: Value) -> Value {
    let headers = [("content-type", "application/json"), ("if-match", "\"1\"")];
    let body = if body.is_null() { Body::empty() } else { Body::from(body.to_string()) };
    let answer = send(server, method, &format!("/v1/farms{path}"), &headers, body).await;
    assert!(answer.status.is_success(), "{path}: {}", answer.json());
    answer.json()
}

/// Keeps the first season of the farm.
async fn keep(server: &Server, season: &Value) {
    let headers = [("content-type", "application/json")];
    let answer = send(server, "PUT", "/v1/farms/home/season", &headers, season.to_string()).await;
    assert_eq!(answer.status, 201, "{}", answer.json());
}

/// Appends, and hands back the ids.
async fn append(server: &Server, batch: &str, entries: Value) -> Vec<Value> {
    let path = format!("/home/batches/{batch}/events");
    let answer = call(server, "POST", &path, json!({ "entries": entries })).await;
    answer["items"].as_array().expect("items").iter().map(|item| item["id"].clone()).collect()
}

/// A farm with some of everything.
async fn plant(server: &Server) {
    let day = json!([{ "date": "2026-04-01", "mean_air_c": 8.1, "rain_mm": 0.3 }]);
    let site = json!({ "latitude_deg": 52.123_456_789, "daily": day });
    let farm = json!({ "id": "home", "name": "Längs der \"Hecke\" \\ 2", "site": site,
        "time_zone": "Europe/London", "barrow_m3": 0.09 });
    call(server, "POST", "", farm).await;
    for (id, position) in [("east", 2), ("west", 0)] {
        let bay = json!({ "id": id, "length_m": 1.2, "width_m": 0.1 + 1.1, "height_m": 1.1,
            "wall": { "construction": "block" } });
        call(server, "POST", "/home/bays", json!({ "bay": bay, "position": position })).await;
    }
    let feedstock = json!({ "id": "bines", "name": "Hop bines", "moisture_fraction": 0.7,
        "nitrogen_fraction": 0.02, "c_to_n": 20, "ash_fraction": 0.12, "bulk_density_kg_m3": 120,
        "fast_fraction": 0.25, "slow_fraction": 0.4, "structure": "porous" });
    call(server, "POST", "/home/feedstocks", json!({ "feedstock": feedstock })).await;
    for (id, bay) in [("heap", "east"), ("older", "west"), ("empty", "west")] {
        call(server, "POST", "/home/batches", json!({ "id": id, "name": "é 🌿", "start_bay": bay })).await;
    }
    let readings: Vec<_> = (0..700)
        .map(|number| {
            let temperature_c = 20.0 + f64::from(number) / 17.0;
            json!({ "event": { "at": "2026-04-03T06:30:00+02:00", "id": format!("p{number}"),
                "reading": { "temperature_c": temperature_c, "depth_m": 0.3 } } })
        })
        .collect();
    append(server, "older", json!(readings)).await;
    let straw = json!({ "feedstock": "wheat_straw", "mass_kg": 30 });
    append(server, "older", json!([{ "event": { "at": "2026-03-01", "addition": straw } }])).await;
    let events = append(
        server,
        "heap",
        json!([
            { "event": { "at": "2026-04-01", "addition": { "feedstock": "bines", "barrows": 3 } } },
            { "event": { "at": "2026-04-02", "id": "fork", "turn": {} } },
            { "event": { "at": "2026-04-05", "reading": { "temperature_f": 131.2 } } },
            { "event": { "at": "2026-04-06", "move": { "to_bay": "west" } } },
            { "event": { "at": "2026-04-07", "merge": { "source": "older", "placement": "on_top" } } },
        ]),
    )
    .await;
    let right = json!({ "at": "2026-04-04", "id": "fork", "turn": {} });
    append(server, "heap", json!([{ "event": right, "supersedes": events[1] }])).await;
    append(server, "heap", json!([{ "supersedes": events[2] }])).await;
    call(server, "POST", "/home/batches/empty/archive", Value::Null).await;
    let season = json!({ "weeks": 4, "inflows": [{ "feedstock": "bines", "mass_kg_week": 1.1 + 2.2 }] });
    keep(server, &season).await;
}

/// Runs a command on a store.
fn baycast(database: &Database, arguments: &[&str], input: Option<&str>) -> String {
    let mut command = Command::new(binary::path());
    command.args(arguments).args(["--store", &database.url]);
    if let Some(text) = input {
        let file = database.folder.path().join("home.ndjson");
        std::fs::write(&file, text).expect("the export is kept in a file");
        command.stdin(std::fs::File::open(file).expect("the file opens"));
    }
    let output = command.stderr(Stdio::piped()).output().expect("the binary runs");
    assert!(output.status.success(), "{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).expect("text")
}

/// Takes away all that a store holds.
async fn wipe(database: &Database) {
    if let Some(path) = database.url.strip_prefix("sqlite:") {
        for suffix in ["", "-wal", "-shm"] {
            let _ = std::fs::remove_file(format!("{path}{suffix}"));
        }
        return;
    }
    let mut connection = PgConnection::connect(&database.url).await.expect("the server answers");
    for statement in ["DROP SCHEMA public CASCADE", "CREATE SCHEMA public"] {
        sqlx::query(statement).execute(&mut connection).await.expect("the schema goes");
    }
}

async fn comes_back_identical(database: &Database, other: &Database) {
    let server = Server::on(database);
    plant(&server).await;
    let estimate = call(&server, "GET", "/home/batches/heap/estimate?as_of=2026-06-01", Value::Null).await;
    let season = call(&server, "GET", "/home/season", Value::Null).await;
    let exported = baycast(database, &["export", "home"], None);
    assert!(exported.lines().count() > 700 + 10, "{}", exported.lines().count());
    drop(server);

    wipe(database).await;
    baycast(database, &["import", "-"], Some(&exported));
    assert!(baycast(database, &["export", "home"], None) == exported, "an export of what was put back");
    let server = Server::on(database);
    let again = call(&server, "GET", "/home/batches/heap/estimate?as_of=2026-06-01", Value::Null).await;
    assert_eq!(again, estimate);
    assert_eq!(call(&server, "GET", "/home/season", Value::Null).await, season);

    baycast(other, &["import", "-"], Some(&exported));
    assert!(baycast(other, &["export", "home"], None) == exported, "an export from the other kind of store");
}
