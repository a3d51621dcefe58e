//! Plans, recipes and requirements: over REST, over gRPC and at a shell, from what is given and from what a farm keeps.

mod kept;
mod on_a_farm;
pub mod season;

use baycast_grpc::proto::plan_service_client::PlanServiceClient;
use baycast_grpc::proto::{
    Amount, FindRequirementRequest, Ingredient, MixMeasure, OnHand, SuggestRecipeRequest, Targets,
};
use serde_json::{Value, json};
use tonic::Code;
use tonic::transport::Channel;
use tonic_types::StatusExt;

use crate::binary;
use crate::http::{Answer, send};
use crate::server::Server;

on_both! { planning:
    on_a_farm { its_own_feedstocks_barrow_place_and_bays_count }
    season { what_a_farm_keeps_counts }
    kept { a_season_is_kept_read_back_and_deleted, what_cannot_be_planned_is_refused, a_plan_holds_until_something_changes }
}

/// What the demo's recipe is asked from.
pub fn on_hand() -> Value {
    serde_json::from_str(include_str!("../../crates/baycast/demo/recipe.json")).expect("JSON")
}

/// What the demo's requirement is asked from.
pub fn need() -> Value {
    serde_json::from_str(include_str!("../../crates/baycast/demo/requirement.json")).expect("JSON")
}

async fn post(server: &Server, path: &str, body: &Value) -> Answer {
    send(server, "POST", path, &[("content-type", "application/json")], body.to_string()).await
}

async fn client(server: &Server) -> PlanServiceClient<Channel> {
    let endpoint = Channel::from_shared(format!("http://{}", server.address)).expect("an address");
    PlanServiceClient::new(endpoint.connect().await.expect("the server takes connections"))
}

/// What the demo's recipe is asked from, as the other contract has it.
fn on_hand_message() -> OnHand {
    let amount = |amount: &Value| Amount {
        mass_kg: amount["mass_kg"].as_f64(),
        barrows: amount["barrows"].as_f64(),
        ..Amount::default()
    };
    let asked = on_hand();
    let ingredients = asked["ingredients"].as_array().expect("a list").iter().map(|own| Ingredient {
        feedstock: own["feedstock"].as_str().expect("an id").to_owned(),
        least: own.get("least").map(amount),
        most: Some(amount(&own["most"])),
        ..Ingredient::default()
    });
    OnHand { ingredients: ingredients.collect(), ..OnHand::default() }
}

#[tokio::test]
async fn a_recipe_is_the_same_over_rest_over_grpc_and_at_a_shell() {
    let server = Server::start();
    let answer = post(&server, "/v1/recipes", &on_hand()).await;
    assert_eq!(answer.status, 200);
    let rest = answer.json();
    let request = SuggestRecipeRequest { on_hand: Some(on_hand_message()) };
    let answer = client(&server).await.suggest_recipe(request).await.expect("a recipe").into_inner();
    let grpc = answer.recipe.expect("it");
    assert_eq!(grpc.parts.len(), 4);
    for (own, its) in grpc.parts.iter().zip(rest["parts"].as_array().expect("parts")) {
        assert_eq!(its["feedstock"], own.feedstock.as_str());
        assert_eq!(its["mass_kg"].as_f64(), Some(own.mass_kg));
        assert_eq!(its["barrows"].as_f64(), Some(own.barrows));
    }
    assert_eq!(grpc.qualities[0].measure(), MixMeasure::CToN);
    assert_eq!(rest["qualities"][0]["value"].as_f64(), Some(grpc.qualities[0].value));
    assert_eq!(rest["cautions"].as_array().map(Vec::len), Some(grpc.cautions.len()));

    let run = |to: &str| {
        let file = binary::repository().join("crates/baycast/demo/recipe.json");
        let mut command = std::process::Command::new(binary::path());
        command.args(["recipe", "--to", to]).arg(file);
        let output = command.output().expect("it runs");
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        String::from_utf8(output.stdout).expect("text")
    };
    let printed: Value = serde_json::from_str(&run("json")).expect("JSON");
    assert_eq!(printed, rest);
    let table = run("table");
    assert!(table.contains("Horse manure with straw") && table.contains("Bear in mind"), "{table}");
    assert!(table.lines().all(|line| line.chars().count() <= 96), "{table}");
}

#[tokio::test]
async fn a_requirement_is_the_same_over_rest_and_at_a_shell_and_takes_few_seconds() {
    let server = Server::start();
    let started = std::time::Instant::now();
    let answer = post(&server, "/v1/requirements", &need()).await;
    let taken = started.elapsed();
    println!("{:.1} s", taken.as_secs_f64());
    let rest = answer.json();
    assert_eq!(answer.status, 200, "{rest}");
    assert!(taken.as_secs() < 25, "{taken:?}");
    assert!(rest["bays"].as_u64().is_some_and(|bays| bays >= 1));
    let likely = &rest["likely"];
    assert!(likely["on"].as_str() < Some("2027-10-01"), "{rest}");
    let m3 = likely["volume_m3"]["p50"].as_f64().expect("a volume");
    assert!((m3 / 1.2 - 1.0).abs() < 0.1, "{m3}");
    let file = binary::repository().join("crates/baycast/demo/requirement.json");
    let mut command = std::process::Command::new(binary::path());
    let output = command.args(["requirement", "--to", "json"]).arg(file).output().expect("it runs");
    let printed: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    assert_eq!(printed, rest);
}

#[tokio::test]
async fn what_cannot_be_used_is_named_alike_in_both_contracts() {
    let server = Server::start();
    let mut asked = on_hand();
    asked["ingredients"][0]["most"] = json!({ "mass_kg": -1 });
    asked["ingredients"][1]["feedstock"] = json!("granite");
    asked["targets"] = json!({ "c_to_n": 300 });
    let answer = post(&server, "/v1/recipes", &asked).await;
    assert_eq!(answer.status, 422);
    let problem = answer.json();
    let pointers: Vec<_> =
        problem["errors"].as_array().expect("errors").iter().map(|e| &e["pointer"]).collect();
    assert_eq!(pointers, ["/ingredients/0/most/mass_kg", "/targets/c_to_n", "/ingredients/1/feedstock"]);
    let mut message = on_hand_message();
    message.ingredients[0].most = Some(Amount { mass_kg: Some(-1.0), ..Amount::default() });
    message.ingredients[1].feedstock = "granite".into();
    message.targets = Some(Targets { c_to_n: Some(300.0), ..Targets::default() });
    let mut client = client(&server).await;
    let request = SuggestRecipeRequest { on_hand: Some(message) };
    let refused = client.suggest_recipe(request).await.expect_err("it cannot be used");
    assert_eq!(refused.code(), Code::InvalidArgument);
    let violations = refused.get_details_bad_request().expect("details").field_violations;
    let fields: Vec<_> = violations.iter().map(|one| one.field.as_str()).collect();
    assert_eq!(fields, ["ingredients[0].most.mass_kg", "targets.c_to_n", "ingredients[1].feedstock"]);
    let refused = client.find_requirement(FindRequirementRequest::default()).await.expect_err("no need");
    assert_eq!(refused.code(), Code::InvalidArgument);
}

#[test]
fn a_wrong_document_is_named_by_line_and_field() {
    let folder =
        std::path::PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(format!("asked-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("a folder");
    let asked =
        "{\n \"ingredients\": [\n  {\"feedstock\": \"cardboard\",\n   \"most\": {\"mass_kg\": 99999}}]}";
    std::fs::write(folder.join("mix.json"), asked).expect("a file");
    let run = |arguments: &[&str]| {
        let output = std::process::Command::new(binary::path())
            .args(arguments)
            .current_dir(&folder)
            .output()
            .expect("it runs");
        (output.status.code(), String::from_utf8(output.stderr).expect("text"))
    };
    let (code, told) = run(&["recipe", "mix.json"]);
    assert_eq!(code, Some(1));
    assert_eq!(told, "mix.json:4: /ingredients/0/most/mass_kg: 99999 given, accepted: 0 to 50000\n");
    let (code, told) = run(&["requirement", "mix.json"]);
    assert_eq!(code, Some(1));
    assert!(told.contains("mix.json:1: /bay: ") && told.contains("mix.json:2: /ingredients: "), "{told}");
    assert_eq!(run(&["recipe", "none.json"]).0, Some(1));
    assert_eq!(run(&["recipe"]).0, Some(2));
    std::fs::remove_dir_all(&folder).expect("it goes away");
}
