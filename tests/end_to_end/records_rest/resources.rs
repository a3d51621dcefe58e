//! Farms, bays, feedstocks and batches: created, read, listed, changed, put away.

use serde_json::{Value, json};

use super::yard::{Yard, batch, bay, farm, feedstock, text};
use crate::databases::Database;
use crate::http::get;
use crate::server::Server;

/// Each kind of thing: where its list is, its id's place, one to create, and how it is changed.
fn kinds() -> [(&'static str, &'static str, Value, &'static str, Value); 4] {
    [
        ("/v1/farms", "/id", farm("long field/2"), "/time_zone", json!("Europe/Dublin")),
        ("/v1/farms/home/bays", "/bay/id", bay("pallet 2"), "/bay/top", json!("roofed")),
        (
            "/v1/farms/home/feedstocks",
            "/feedstock/id",
            feedstock("hop waste"),
            "/feedstock/c_to_n",
            json!(22.5),
        ),
        ("/v1/farms/home/batches", "/id", batch("b/1", "bay"), "/horizon_days", json!(90)),
    ]
}

pub async fn each_kind_is_created_read_changed_and_put_away(database: Database) {
    let yard = Yard::on(database);
    yard.farm(None, "home", "").await;
    for (list, id, given, changed, value) in kinds() {
        let created = yard.call("POST", list, None, Some(&given)).await;
        assert_eq!(created.status, 201, "{list}: {}", created.json());
        assert_eq!(created.header("etag"), "\"1\"");
        let path = created.header("location").to_owned();
        let again = yard.call("POST", list, None, Some(&given)).await;
        assert_eq!(
            (again.status.as_u16(), again.header("location")),
            (201, path.as_str()),
            "sent again: {list}"
        );
        assert_eq!(again.json(), created.json());

        let found = yard.call("GET", &path, None, None).await;
        assert_eq!((found.status.as_u16(), found.header("etag")), (200, "\"1\""), "{path}");
        assert_eq!(found.json(), created.json());
        let again = yard.call_with("GET", &path, None, &[("if-none-match", "\"1\"")], None).await;
        assert_eq!((again.status.as_u16(), again.body.len()), (304, 0), "{path}");

        let mut next = found.json();
        if next.pointer(changed).is_none() {
            next[changed.trim_start_matches('/')] = Value::Null;
        }
        *next.pointer_mut(changed).expect("a member to change") = value.clone();
        let unsaid = yard.call("PUT", &path, None, Some(&next)).await;
        assert_eq!(unsaid.status, 428, "{path}: {}", unsaid.json());
        assert_eq!(unsaid.json()["type"], "urn:baycast:problem:precondition_required");
        let put = yard.call_with("PUT", &path, None, &[("if-match", "\"1\"")], Some(&next)).await;
        assert_eq!((put.status.as_u16(), put.header("etag")), (200, "\"2\""), "{}", put.json());
        assert_eq!(put.json().pointer(changed), Some(&value), "{path}");
        let taken = yard.call("POST", list, None, Some(&given)).await;
        assert_eq!(taken.status, 409, "{list}: the id is another's: {}", taken.json());
        let stale = yard.call_with("PUT", &path, None, &[("if-match", "\"1\"")], Some(&next)).await;
        assert_eq!(
            (stale.status.as_u16(), &stale.json()["type"]),
            (412, &json!("urn:baycast:problem:stale"))
        );
        *next.pointer_mut(id).expect("an id") = json!("other");
        let other = yard.call_with("PUT", &path, None, &[("if-match", "\"2\"")], Some(&next)).await;
        assert_eq!(other.status, 422);
        assert_eq!(other.json()["errors"][0]["pointer"], id);

        let archive = format!("{path}/archive");
        assert_eq!(yard.call("POST", &archive, None, None).await.status, 428);
        let away = yard.call_with("POST", &archive, None, &[("if-match", "\"2\"")], None).await;
        assert_eq!(away.status, 200, "{}", away.json());
        assert!(text(&away.json()["archived"]).ends_with('Z'));
        let back = format!("{archive}?state=active");
        let back = yard.call_with("POST", &back, None, &[("if-match", "\"3\"")], None).await;
        assert_eq!((back.status.as_u16(), back.json().get("archived")), (200, None), "{path}");
        let lost = format!("{archive}?state=lost");
        let lost = yard.call_with("POST", &lost, None, &[("if-match", "\"4\"")], None).await;
        assert_eq!((lost.status.as_u16(), &lost.json()["errors"][0]["pointer"]), (422, &json!("/state")));
    }
}

pub async fn pages_of_each_kind_join_to_the_whole_list(database: Database) {
    let yard = Yard::on(database);
    yard.farm(None, "home", "").await;
    for (list, id, given, ..) in kinds() {
        for number in 0..5 {
            let mut given = given.clone();
            *given.pointer_mut(id).expect("an id") = json!(format!("z{number}"));
            yard.good("POST", list, None, Some(&given)).await;
        }
        let (mut ids, mut token) = (Vec::new(), String::new());
        loop {
            let path = format!("{list}?page_size=2&page_token={token}");
            let page = yard.good("GET", &path, None, None).await;
            let items = page["items"].as_array().expect("items");
            assert!(items.len() <= 2, "{path}");
            ids.extend(items.iter().map(|item| text(item.pointer(id).expect("an id"))));
            match page.get("next_page_token").and_then(Value::as_str) {
                Some(next) => next.clone_into(&mut token),
                None => break,
            }
        }
        let whole = yard.good("GET", list, None, None).await;
        let whole = whole["items"].as_array().expect("items").iter();
        let whole: Vec<_> = whole.map(|item| text(item.pointer(id).expect("an id"))).collect();
        assert_eq!(ids, whole, "{list}");
        assert_eq!(ids.len(), 6, "{list}: five and the one there was");
        for (query, pointer) in
            [("page_size=-1", "/page_size"), ("page_token=zz", "/page_token"), ("colour=red", "/colour")]
        {
            let refused = yard.call("GET", &format!("{list}?{query}"), None, None).await;
            assert_eq!(
                (refused.status.as_u16(), &refused.json()["errors"][0]["pointer"]),
                (422, &json!(pointer))
            );
        }
    }
}

#[tokio::test]
async fn values_out_of_range_are_refused_with_their_place() {
    let yard = Yard::open();
    yard.farm(None, "home", "").await;
    // The ranges are those that the contract's descriptions state.
    for (list, place, value) in [
        ("/v1/farms", "/site/latitude_deg", json!(80)),
        ("/v1/farms", "/barrow_m3", json!(9)),
        ("/v1/farms", "/time_zone", json!("Europe/Nowhere")),
        ("/v1/farms/home/bays", "/bay/length_m", json!(25)),
        ("/v1/farms/home/feedstocks", "/feedstock/moisture_fraction", json!(1)),
        ("/v1/farms/home/batches", "/horizon_days", json!(731)),
        ("/v1/farms/home/batches", "/forecast_step_days", json!("seven")),
    ] {
        let mut given = kinds().into_iter().find(|(of, ..)| *of == list).expect("a kind").2;
        let (parent, member) = place.rsplit_once('/').expect("a member");
        given.pointer_mut(parent).expect("an object")[member] = value;
        let refused = yard.call("POST", list, None, Some(&given)).await;
        assert_eq!(refused.status, 422, "{place}");
        assert_eq!(refused.json()["errors"][0]["pointer"], place);
    }
    let lost = batch("b", "no such bay");
    let lost = yard.call("POST", "/v1/farms/home/batches", None, Some(&lost)).await;
    assert_eq!(
        (lost.status.as_u16(), lost.json()["detail"].as_str()),
        (404, Some("there is no bay `no such bay`"))
    );
}

pub async fn a_batch_that_is_put_away_is_listed_only_where_asked_for(database: Database) {
    let yard = Yard::on(database);
    yard.farm(None, "home", "").await;
    let at = "/v1/farms/home/batches";
    let path = format!("{at}/heap/archive");
    let away = yard.call_with("POST", &path, None, &[("if-match", "\"1\"")], None).await;
    assert_eq!(away.status, 200, "{}", away.json());
    let count = async |path: &str| yard.good("GET", path, None, None).await["items"].as_array().map(Vec::len);
    assert_eq!(count(at).await, Some(0));
    assert_eq!(count(&format!("{at}?shown=all")).await, Some(1));
    let more = super::yard::entries(&[super::yard::reading("2026-04-02", 50.0)]);
    let refused = yard.call("POST", &format!("{at}/heap/events"), None, Some(&more)).await;
    assert_eq!(refused.status, 409, "{}", refused.json());
}

#[tokio::test]
async fn a_server_without_a_store_says_so() {
    let server = Server::start();
    for path in ["/v1/farms", "/v1/farms/home", "/v1/keys", "/v1/farms/home/batches/b/estimate"] {
        let answer = get(&server, path).await;
        assert_eq!(answer.status, 404, "{path}");
        assert_eq!(answer.json()["type"], "urn:baycast:problem:not_found");
        assert!(answer.json()["detail"].as_str().is_some_and(|detail| detail.contains("no store")), "{path}");
    }
}
