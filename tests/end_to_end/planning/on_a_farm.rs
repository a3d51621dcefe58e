//! From what a farm keeps.

use serde_json::Value;
use serde_json::json;

use crate::databases::Database;
use crate::records_rest::yard::Yard;

pub async fn its_own_feedstocks_barrow_place_and_bays_count(database: Database) {
    let yard = Yard::on(database);
    yard.farm(None, "mine", "-mine").await;
    let post = async |path: &str, body: &Value| yard.call("POST", path, None, Some(body)).await;
    let asked = json!({ "ingredients": [
        { "feedstock": "bines-mine", "most": { "barrows": 3 } },
        { "feedstock": "grass_mowings", "most": { "mass_kg": 200 } },
    ] });
    // Elsewhere nobody knows the farm's own material.
    assert_eq!(post("/v1/recipes", &asked).await.status, 422);
    let answer = post("/v1/farms/mine/recipes", &asked).await;
    let recipe = answer.json();
    assert_eq!(answer.status, 200, "{recipe}");
    assert_eq!(recipe["parts"][0]["feedstock"], "bines-mine");
    let barrow =
        yard.call("GET", "/v1/farms/mine", None, None).await.json()["barrow_m3"].as_f64().unwrap_or(0.085);
    let (m3, loads) = (recipe["volume_m3"].as_f64().expect("m³"), recipe["barrows"].as_f64().expect("loads"));
    assert!((m3 / loads - barrow).abs() < 1e-9, "{recipe}");

    let wanted =
        json!({ "use": "mulch", "volume_m3": 0.2, "by": "2027-06-01", "earliest_start": "2027-01-10" });
    let need = json!({ "bay": "bay-mine", "wanted": wanted, "on_hand": asked });
    let answer = post("/v1/farms/mine/requirements", &need).await;
    let told = answer.json();
    assert_eq!(answer.status, 200, "{told}");
    // The same with all of it given: place, bay and material are the farm's.
    let own = async |path: &str| yard.call("GET", path, None, None).await.json();
    let farm = own("/v1/farms/mine").await;
    let feedstock = own("/v1/farms/mine/feedstocks/bines-mine").await["feedstock"].clone();
    let mut on_hand = asked.clone();
    on_hand["feedstocks"] = json!([feedstock]);
    if let Some(barrow) = farm["barrow_m3"].as_f64() {
        on_hand["barrow_m3"] = json!(barrow);
    }
    let bay = own("/v1/farms/mine/bays/bay-mine").await["bay"].clone();
    let given = json!({ "site": farm["site"], "bay": bay, "wanted": wanted, "on_hand": on_hand });
    assert_eq!(post("/v1/requirements", &given).await.json(), told);

    let elsewhere = json!({ "bay": "nowhere", "wanted": wanted, "on_hand": asked });
    let refused = post("/v1/farms/mine/requirements", &elsewhere).await;
    assert_eq!(
        (refused.status.as_u16(), refused.json()["errors"][0]["pointer"].clone()),
        (422, json!("/bay"))
    );
    assert_eq!(post("/v1/farms/nobody/recipes", &asked).await.status, 404);
}
