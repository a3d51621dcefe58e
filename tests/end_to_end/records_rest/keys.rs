//! Keys: the first one closes the door, a revoked one opens nothing.

use serde_json::json;

use super::yard::{Yard, farm, text};
use crate::databases::Database;

pub async fn the_first_key_closes_the_door(database: Database) {
    let yard = Yard::on(database);
    assert_eq!(yard.call("GET", "/v1/farms", None, None).await.status, 200);
    let unknown = yard.call("GET", "/v1/farms", Some("bck_unknown"), None).await;
    assert_eq!(unknown.status, 401, "a key that is given must be good");
    let (admin, text_of_admin) = yard.key(None, "admin", &[]).await;
    let closed = yard.call("GET", "/v1/farms", None, None).await;
    assert_eq!((closed.status.as_u16(), closed.header("www-authenticate")), (401, "Bearer"));
    assert_eq!(closed.json()["type"], "urn:baycast:problem:unauthenticated");
    let key = Some(text_of_admin.as_str());
    assert_eq!(yard.call("GET", "/v1/farms", key, None).await.status, 200);
    let lower = format!("bearer {text_of_admin}");
    let any_case = yard.call_with("GET", "/v1/farms", None, &[("authorization", &lower)], None).await;
    assert_eq!(any_case.status, 200);

    yard.farm(key, "home", "").await;
    let event = yard.good("GET", "/v1/farms/home/batches/heap/events", key, None).await;
    assert_eq!(event["items"][0]["recorded_by"], json!(admin));
}

pub async fn a_key_is_listed_without_its_text_and_revoked_for_good(database: Database) {
    let yard = Yard::on(database);
    let (_, admin) = yard.key(None, "admin", &[]).await;
    let admin = Some(admin.as_str());
    yard.good("POST", "/v1/farms", admin, Some(&farm("home"))).await;
    let (id, reader) = yard.key(admin, "read", &["home"]).await;
    assert_eq!(yard.call("GET", "/v1/farms/home", Some(&reader), None).await.status, 200);
    let listed = yard.good("GET", "/v1/keys", admin, None).await;
    let kept = listed["items"].as_array().expect("items");
    let own = kept.iter().find(|key| key["id"] == json!(id)).expect("the key");
    assert_eq!(
        (&own["scope"], &own["reach"], &own["farms"]),
        (&json!("read"), &json!("farms"), &json!(["home"]))
    );
    assert!(text(&own["last_used_at"]).ends_with(":00:00Z"), "to the hour");
    assert!(!listed.to_string().contains(&reader), "no text of a key is ever shown again");

    let revoke = format!("/v1/keys/{id}/revoke");
    let revoked = yard.good("POST", &revoke, admin, None).await;
    assert_eq!(yard.good("POST", &revoke, admin, None).await, revoked, "again changes nothing");
    assert_eq!(yard.call("GET", "/v1/farms/home", Some(&reader), None).await.status, 401);
    assert_eq!(yard.call("POST", "/v1/keys/key_none/revoke", admin, None).await.status, 404);
}

#[tokio::test]
async fn a_reach_and_its_farms_must_fit() {
    let yard = Yard::open();
    for draft in [
        json!({ "scope": "read", "reach": "all", "farms": ["home"] }),
        json!({ "scope": "read", "reach": "farms" }),
        json!({ "scope": "read", "reach": "farms", "farms": [] }),
    ] {
        let refused = yard.call("POST", "/v1/keys", None, Some(&draft)).await;
        assert_eq!(
            (refused.status.as_u16(), &refused.json()["errors"][0]["pointer"]),
            (422, &json!("/farms"))
        );
    }
    let lost = json!({ "scope": "read", "reach": "farms", "farms": ["lost"] });
    assert_eq!(yard.call("POST", "/v1/keys", None, Some(&lost)).await.status, 404);
    let bad = json!({ "scope": "most", "reach": "all" });
    assert_eq!(yard.call("POST", "/v1/keys", None, Some(&bad)).await.status, 422);
    assert_eq!(yard.call("GET", "/v1/keys", None, None).await.status, 200, "no key was made");
}
