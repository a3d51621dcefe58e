//! A season's plan.

use std::process::{Command, Stdio};
use std::time::Instant;

use baycast_grpc::proto::PlanSeasonRequest;
use serde_json::{Value, json};
use tonic::Code;
use tonic_types::StatusExt;

use super::{client, post};
use crate::binary;
use crate::databases::Database;
use crate::python::python;
use crate::records_rest::yard::{Yard, entries, farm};
use crate::server::Server;

fn bay(id: &str) -> Value {
    json!({ "id": id, "length_m": 1.2, "width_m": 1.2, "height_m": 1.0, "wall": { "construction": "slatted_timber" } })
}

/// What was done with the batch that stands.
fn events() -> Vec<Value> {
    vec![
        json!({ "at": "2026-04-01", "addition": { "feedstock": "grass_mowings", "mass_kg": 180.0 } }),
        json!({ "at": "2026-04-01", "addition": { "feedstock": "shredded_prunings", "barrows": 5.0 } }),
        json!({ "at": "2026-05-10", "turn": {} }),
        json!({ "at": "2026-06-20", "reading": { "temperature_c": 31.0 } }),
    ]
}

/// Three bays and sixteen weeks.
pub fn season() -> Value {
    json!({
        "from": "2026-09-15",
        "weeks": 16,
        "site": { "latitude_deg": 52.0 },
        "bays": [bay("pallet-1"), bay("pallet-2"), bay("pallet-3")],
        "batches": [{
            "history": {
                "batch": "spring", "site": { "latitude_deg": 52.0 }, "bay": bay("pallet-1"), "events": events()
            }
        }],
        "inflows": [
            { "feedstock": "grass_mowings", "mass_kg_week": 60.0 },
            { "feedstock": "shredded_prunings", "barrows_week": 2.0, "preparation": "shredded" }
        ],
        "demands": [
            { "id": "garlic", "use": "bed_dressing", "by": "2026-10-20", "volume_m3": 0.2 },
            { "id": "paths", "use": "mulch", "by": "2026-12-20", "area_m2": 40.0, "depth_m": 0.05 }
        ]
    })
}

/// JSON without nulls, empty texts and empty lists, which protobuf doesn't tell from absence.
fn without_nothing(value: Value) -> Value {
    let nothing = |value: &Value| value.is_null() || *value == json!("") || *value == json!([]);
    match value {
        Value::Object(members) => {
            let kept = members.into_iter().map(|(name, inner)| (name, without_nothing(inner)));
            Value::Object(kept.filter(|(_, inner)| !nothing(inner)).collect())
        }
        Value::Array(elements) => Value::Array(elements.into_iter().map(without_nothing).collect()),
        other => other,
    }
}

/// Runs a command on the season and hands back what it printed.
fn told(command: &mut Command) -> String {
    let mut child = command.stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().expect("it runs");
    let season = season().to_string();
    std::io::Write::write_all(&mut child.stdin.take().expect("its input"), season.as_bytes())
        .expect("it reads");
    let output = child.wait_with_output().expect("it ends");
    assert!(output.status.success(), "{command:?}: {}", output.status);
    String::from_utf8(output.stdout).expect("text")
}

#[tokio::test]
async fn a_plan_is_the_same_over_rest_over_grpc_and_at_a_shell() {
    let server = Server::start();
    let started = Instant::now();
    let answer = post(&server, "/v1/plans", &season()).await;
    let taken = started.elapsed();
    let rest = answer.json();
    assert_eq!(answer.status, 200, "{rest}");
    println!("{:.1} s for three bays and sixteen weeks", taken.as_secs_f64());
    assert!(taken.as_secs() < 25, "{taken:?}");
    let steps = rest["steps"].as_array().expect("steps");
    assert!(steps.iter().any(|step| step["action"] == "fill"), "{rest}");
    assert!(steps.iter().all(|step| step["reason"].as_str().is_some_and(|reason| !reason.is_empty())));
    assert_eq!((&rest["until"], &rest["batches"][0]["batch"]), (&json!("2027-01-05"), &json!("spring")));
    // There is not enough for 2 m³ of mulch, and what is missing is told with what would mend it.
    let short = |index: usize| rest["demands"][index]["short_m3"].as_f64().expect("m³");
    assert!(short(1) > 0.5, "{rest}");
    assert!(rest["conflicts"].as_array().is_some_and(|all| all.iter().any(|one| one["demand"] == "paths")));

    let shell = |to: &str| told(Command::new(binary::path()).args(["plan", "--to", to, "-"]));
    assert_eq!(serde_json::from_str::<Value>(&shell("json")).expect("JSON"), rest);
    let table = shell("table");
    for part in ["Week of 15 Sep 2026", "□ fill", "For the beds", "SHORT by", "► 20 Dec 2026", "Bear in mind"]
    {
        assert!(table.contains(part), "{part}: {table}");
    }
    assert!(table.lines().all(|line| line.chars().count() <= 96), "{table}");

    let mut stub = Command::new(python());
    stub.arg("-B").arg(binary::repository().join("tests/python/grpc_plan.py")).arg(&server.address);
    let grpc = told(stub.arg(binary::repository().join("proto")));
    assert_eq!(serde_json::from_str::<Value>(&grpc).expect("JSON"), without_nothing(rest.clone()));

    // What it says to do goes back in as it came out.
    let mut again = season();
    again["earlier"] = rest["steps"].clone();
    let answer = post(&server, "/v1/plans", &again).await;
    assert_eq!(answer.status, 200, "{}", answer.json());
}

#[tokio::test]
async fn what_a_season_cannot_have_is_named_by_its_field_in_both_contracts() {
    let server = Server::start();
    let mut wrong = season();
    wrong["weeks"] = json!(500);
    wrong["inflows"][0]["feedstock"] = json!("granite");
    wrong["batches"][0]["history"]["events"][3]["at"] = json!("2026-09-20");
    let answer = post(&server, "/v1/plans", &wrong).await;
    assert_eq!(answer.status, 422);
    let pointers = |answer: &Value| -> Vec<String> {
        let errors = answer["errors"].as_array().expect("errors");
        errors.iter().map(|error| error["pointer"].as_str().expect("a pointer").to_owned()).collect()
    };
    assert_eq!(pointers(&answer.json()), ["/weeks", "/inflows/0/feedstock"]);
    wrong["weeks"] = json!(16);
    wrong["inflows"][0]["feedstock"] = json!("grass_mowings");
    let answer = post(&server, "/v1/plans", &wrong).await;
    let mut at_fault = pointers(&answer.json());
    at_fault.dedup();
    assert_eq!(at_fault, ["/batches/0/history/events/3/at"]);

    let mut client = client(&server).await;
    let refused = client.plan_season(PlanSeasonRequest::default()).await.expect_err("no season");
    assert_eq!(refused.code(), Code::InvalidArgument);
    let fields = refused.get_details_bad_request().expect("details").field_violations;
    assert_eq!(fields.iter().map(|one| one.field.as_str()).collect::<Vec<_>>(), ["season"]);
}

#[test]
fn the_season_of_larkfield_is_planned_from_its_own_histories() {
    let histories: Vec<Value> =
        serde_json::from_str(include_str!("../../../crates/baycast/demo/larkfield.json")).expect("JSON");
    let season: Value =
        serde_json::from_str(include_str!("../../../crates/baycast/demo/season.json")).expect("JSON");
    let batches = season["batches"].as_array().expect("batches");
    assert_eq!(batches.len(), 7);
    for batch in batches {
        assert!(histories.contains(&batch["history"]), "{}", batch["history"]["batch"]);
    }
}

/// A farm's records tell its place, its bays and what stands in them; the rest is as with a season that is given whole.
pub async fn what_a_farm_keeps_counts(database: Database) {
    let yard = Yard::on(database);
    let post = async |path: &str, body: &Value| yard.call("POST", path, None, Some(body)).await;
    let good = async |path: &str, body: Value| yard.good("POST", path, None, Some(&body)).await;
    good("/v1/farms", farm("mine")).await;
    for (position, id) in (1..).zip(["pallet-1", "pallet-2", "pallet-3"]) {
        good("/v1/farms/mine/bays", json!({ "bay": bay(id), "position": position })).await;
    }
    let fill =
        |at: &str| json!({ "at": at, "addition": { "feedstock": "leafy_crop_waste", "mass_kg": 90.0 } });
    let emptied = json!({ "at": "2026-03-01", "withdrawal": {} });
    let turn = json!({ "at": "2026-10-01", "turn": {} });
    let spring = [events(), vec![turn]].concat();
    let batches = [
        ("old", "pallet-1", vec![fill("2025-05-01")]),
        ("spring", "pallet-1", spring),
        ("gone", "pallet-2", vec![fill("2025-05-01"), emptied]),
        ("empty", "pallet-3", vec![]),
    ];
    for (id, start_bay, events) in batches {
        good("/v1/farms/mine/batches", json!({ "id": id, "name": id, "start_bay": start_bay })).await;
        if !events.is_empty() {
            good(&format!("/v1/farms/mine/batches/{id}/events"), entries(&events)).await;
        }
    }
    let mut given = season();
    given["batches"][0]["kill_seeds"] = json!(true);
    let mut asked = json!({ "kill_seeds": ["spring"] });
    for same in ["from", "weeks", "inflows", "demands"] {
        asked[same] = given[same].clone();
    }
    let answer = post("/v1/farms/mine/plans", &asked).await;
    let mut told = answer.json();
    assert_eq!(answer.status, 200, "{told}");
    let expected = post("/v1/plans", &given).await.json();
    // Of the batch that must have left its bay it is said that it is taken to have.
    let assumptions = told["assumptions"].as_array_mut().expect("assumptions");
    let gone = assumptions.pop().expect("one more");
    assert!(gone["assumed"].as_str().is_some_and(|text| text.contains("`old` is gone from bay `pallet-1`")));
    assert_eq!(told, expected);

    asked["filling"] = json!("gone");
    asked["kill_seeds"] = json!(["spring", "nothing"]);
    let refused = post("/v1/farms/mine/plans", &asked).await;
    assert_eq!(refused.status, 422);
    let errors = refused.json()["errors"].clone();
    assert_eq!((&errors[0]["pointer"], &errors[1]["pointer"]), (&json!("/filling"), &json!("/kill_seeds/1")));
    assert_eq!(post("/v1/farms/nobody/plans", &json!({})).await.status, 404);
}
