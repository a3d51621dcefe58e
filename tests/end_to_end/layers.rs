//! Which crate may depend on which.

use std::collections::{BTreeMap, BTreeSet};
use std::process::Command;

use serde_json::Value;

use crate::binary::repository;

/// Direct dependencies of each crate of the workspace, tests and build scripts left out.
fn dependencies() -> BTreeMap<String, BTreeSet<String>> {
    let output = Command::new(env!("CARGO"))
        .current_dir(repository())
        .args(["metadata", "--format-version", "1", "--no-deps", "--offline"])
        .output()
        .expect("cargo runs");
    let metadata: Value = serde_json::from_slice(&output.stdout).expect("cargo writes JSON");
    let text = |value: &Value| value.as_str().expect("a name").to_owned();
    let packages = metadata["packages"].as_array().expect("packages");
    packages
        .iter()
        .map(|package| {
            let all = package["dependencies"].as_array().expect("dependencies");
            let shipped = all.iter().filter(|dependency| dependency["kind"].is_null());
            (text(&package["name"]), shipped.map(|dependency| text(&dependency["name"])).collect())
        })
        .collect()
}

#[test]
fn dependencies_point_one_way() {
    let found = dependencies();
    let own = |name: &str| -> BTreeSet<&str> {
        found[name].iter().map(String::as_str).filter(|name| name.starts_with("baycast")).collect()
    };
    assert_eq!(own("baycast-model"), BTreeSet::new());
    assert_eq!(own("baycast-records"), BTreeSet::from(["baycast-model"]));
    assert_eq!(own("baycast-service"), BTreeSet::from(["baycast-model", "baycast-records"]));
    for front in ["baycast-rest", "baycast-grpc", "baycast-board"] {
        assert_eq!(own(front), BTreeSet::from(["baycast-model", "baycast-service"]), "{front}");
    }
    for own_task in ["baycast-mqtt", "baycast-webhooks"] {
        assert_eq!(own(own_task), BTreeSet::from(["baycast-service"]), "{own_task}");
    }
    for wired in ["baycast-board", "baycast-mqtt", "baycast-webhooks"] {
        for (name, dependencies) in &found {
            let wires_it = name == "baycast";
            assert_eq!(dependencies.contains(wired), wires_it, "{name}: {wired}");
        }
    }
}

#[test]
fn the_model_is_pure_and_no_front_leaks_below() {
    let found = dependencies();
    for (name, forbidden) in [
        (
            "baycast-model",
            ["tokio", "tracing", "futures", "rand", "axum", "tonic", "prost", "serde_json"].as_slice(),
        ),
        ("baycast-records", ["axum", "tonic", "prost", "http", "utoipa"].as_slice()),
        ("baycast-service", ["axum", "tonic", "prost", "http", "tower-http", "sqlx", "rumqttc"].as_slice()),
        ("baycast-rest", ["tonic", "prost"].as_slice()),
        ("baycast-grpc", ["utoipa"].as_slice()),
        ("baycast-board", ["tonic", "prost", "utoipa", "sqlx"].as_slice()),
        ("baycast-mqtt", ["axum", "tonic", "http", "toml", "clap"].as_slice()),
        ("baycast-webhooks", ["axum", "tonic", "prost", "sqlx", "toml", "clap"].as_slice()),
    ] {
        for dependency in forbidden {
            assert!(!found[name].contains(*dependency), "{name} depends on {dependency}");
        }
    }
}
