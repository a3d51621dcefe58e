//! The season that a farm keeps, and its plan.

use baycast_grpc::proto::{DeleteSeasonRequest, GetPlanRequest, GetSeasonRequest, KeepSeasonRequest};
use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan};
use serde_json::{Value, json};
use tonic::Code;

use super::client;
use crate::databases::Database;
use crate::http::Answer;
use crate::records_rest::yard::{Yard, bay, entries, text};
use crate::server::Server;

const SEASON: &str = "/v1/farms/mine/season";
const PLAN: &str = "/v1/farms/mine/plan";

fn today() -> Date {
    TimeZone::UTC.to_datetime(Timestamp::now()).date()
}

/// Eight weeks with a little to come in and something to spread.
fn season() -> Value {
    json!({
        "from": today(),
        "weeks": 8,
        "turns_per_week": 1,
        "inflows": [{ "feedstock": "bines-mine", "mass_kg_week": 40.0, "preparation": "as_listed" }],
        "demands": [{ "id": "paths", "use": "mulch", "by": today().saturating_add(40.days()), "volume_m3": 0.1 }]
    })
}

async fn planted(database: Database) -> Yard {
    let yard = Yard::on(database);
    yard.farm(None, "mine", "-mine").await;
    yard.good("POST", "/v1/farms/mine/bays", None, Some(&bay("second"))).await;
    yard
}

async fn put(yard: &Yard, tag: Option<&str>, body: &Value) -> Answer {
    let held: Vec<_> = tag.map(|tag| ("if-match", tag)).into_iter().collect();
    yard.call_with("PUT", SEASON, None, &held, Some(body)).await
}

pub async fn a_season_is_kept_read_back_and_deleted(database: Database) {
    let yard = planted(database).await;
    yard.farm(None, "theirs", "-theirs").await;
    for path in [SEASON, PLAN] {
        let none = yard.call("GET", path, None, None).await;
        assert_eq!(none.status, 404, "{path}");
        assert!(text(&none.json()["detail"]).contains("no season `mine`"), "{}", none.json());
    }
    let first = put(&yard, None, &season()).await;
    assert_eq!(first.status, 201, "{}", first.json());
    assert_eq!((first.header("etag"), first.header("location")), ("\"1\"", SEASON));
    let read = yard.call("GET", SEASON, None, None).await;
    assert_eq!((read.status.as_u16(), read.header("etag")), (200, "\"1\""));
    assert_eq!(read.json(), season());
    assert_eq!(first.json(), season());
    let held = yard.call_with("GET", SEASON, None, &[("if-none-match", "\"1\"")], None).await;
    assert_eq!(held.status, 304);
    assert_eq!(yard.call("GET", "/v1/farms/theirs/season", None, None).await.status, 404);

    let mut other = season();
    other["turns_per_week"] = json!(0);
    assert_eq!(put(&yard, None, &other).await.status, 428);
    assert_eq!(put(&yard, Some("*"), &other).await.status, 428);
    assert_eq!(put(&yard, Some("\"7\""), &other).await.status, 412);
    let second = put(&yard, Some("\"1\""), &other).await;
    assert_eq!((second.status.as_u16(), second.header("etag")), (200, "\"2\""));
    assert_eq!(yard.good("GET", SEASON, None, None).await, other);

    let mut plans = client(&yard.server).await;
    let farm = || "mine".to_owned();
    let asked = GetSeasonRequest { farm: farm() };
    let read = plans.get_season(asked).await.expect("a season").into_inner();
    let kept = read.season.clone().expect("it");
    assert_eq!((read.etag.as_str(), kept.weeks, kept.turns_per_week), ("2", Some(8), Some(0)));
    assert_eq!(kept.from, Some(today().to_string()));
    assert_eq!(kept.demands[0].id, "paths");
    let again = KeepSeasonRequest { farm: farm(), season: read.season.clone(), etag: String::new() };
    let taken = plans.keep_season(again.clone()).await.expect_err("one is kept");
    assert_eq!(taken.code(), Code::AlreadyExists);
    let stale = KeepSeasonRequest { etag: "1".into(), ..again.clone() };
    assert_eq!(plans.keep_season(stale).await.expect_err("it was changed").code(), Code::Aborted);
    let good = plans.keep_season(KeepSeasonRequest { etag: "2".into(), ..again.clone() }).await;
    let good = good.expect("it is kept").into_inner();
    assert_eq!((good.etag.as_str(), &good.season), ("3", &read.season));

    assert_eq!(yard.call("DELETE", SEASON, None, None).await.status, 428);
    let gone = yard.call_with("DELETE", SEASON, None, &[("if-match", "\"3\"")], None).await;
    assert_eq!((gone.status.as_u16(), gone.json()), (200, other));
    for path in [SEASON, PLAN] {
        assert_eq!(yard.call("GET", path, None, None).await.status, 404, "{path}");
    }
    // What is said without a first day or weeks is kept as it was planned.
    let bare = put(&yard, None, &json!({ "weeks": 4 })).await;
    assert_eq!((bare.status.as_u16(), bare.header("etag")), (201, "\"4\""));
    assert_eq!(bare.json(), json!({ "from": today(), "weeks": 4 }));
    let gone = plans.delete_season(DeleteSeasonRequest { farm: farm(), etag: "4".into() }).await;
    assert_eq!(gone.expect("it goes").into_inner().season.and_then(|own| own.weeks), Some(4));
}

pub async fn what_cannot_be_planned_is_refused(database: Database) {
    let yard = planted(database).await;
    let mut wrong = season();
    wrong["weeks"] = json!(500);
    wrong["inflows"][0]["feedstock"] = json!("granite");
    wrong["demands"][0]["by"] = json!("2020-01-01");
    let mut unknown = season();
    unknown["filling"] = json!("nothing");
    for (body, pointers) in
        [(wrong, vec!["/weeks", "/inflows/0/feedstock", "/demands/0/by"]), (unknown, vec!["/filling"])]
    {
        let refused = put(&yard, None, &body).await;
        assert_eq!(refused.status, 422);
        let planned = yard.call("POST", "/v1/farms/mine/plans", None, Some(&body)).await;
        assert_eq!(refused.json()["errors"], planned.json()["errors"], "as planning refuses it");
        let errors = refused.json()["errors"].clone();
        let named: Vec<_> = errors.as_array().expect("errors").iter().map(|own| &own["pointer"]).collect();
        assert_eq!(named, pointers);
    }
    assert_eq!(yard.call("GET", SEASON, None, None).await.status, 404, "nothing was kept");
    let mut plans = client(&yard.server).await;
    let refused = plans.keep_season(KeepSeasonRequest { farm: "mine".into(), ..Default::default() }).await;
    assert_eq!(refused.expect_err("no season").code(), Code::InvalidArgument);
    // With so many bays nothing that was sent is wrong, and nothing is planned.
    for number in 0..15 {
        yard.good("POST", "/v1/farms/mine/bays", None, Some(&bay(&format!("more-{number}")))).await;
    }
    for (method, path) in [("PUT", SEASON), ("POST", "/v1/farms/mine/plans")] {
        let refused = yard.call(method, path, None, Some(&season())).await;
        assert_eq!(refused.status, 409, "{method}");
        assert_eq!(
            refused.json()["detail"],
            "the farm has 17 bays in use, a season is planned for 1 to 16",
            "{method}"
        );
    }
}

pub async fn a_plan_holds_until_something_changes(database: Database) {
    let mut yard = planted(database).await;
    assert_eq!(put(&yard, None, &season()).await.status, 201);
    let first = yard.call("GET", PLAN, None, None).await;
    let told = first.json();
    assert_eq!(first.status, 200, "{told}");
    assert_eq!(told["plan"]["from"], json!(today()));
    assert!(told["plan"]["steps"].as_array().is_some_and(|steps| !steps.is_empty()), "{told}");

    // It is the same one, by when it was made, also for who asks over the other contract and of another process.
    let tag = first.header("etag").to_owned();
    let again = yard.call("GET", PLAN, None, None).await;
    assert_eq!((again.header("etag"), again.json()), (tag.as_str(), told.clone()));
    let held = yard.call_with("GET", PLAN, None, &[("if-none-match", &tag)], None).await;
    assert_eq!((held.status.as_u16(), held.body.len()), (304, 0));
    let mut plans = client(&yard.server).await;
    let asked = GetPlanRequest { farm: "mine".into(), held_etag: String::new() };
    let grpc = plans.get_plan(asked.clone()).await.expect("a plan").into_inner();
    let plan = grpc.plan.expect("it");
    assert_eq!((plan.made_at, grpc.etag.as_str()), (text(&told["made_at"]), tag.trim_matches('"')));
    let asked = GetPlanRequest { held_etag: grpc.etag, ..asked };
    assert_eq!(plans.get_plan(asked).await.expect("held").into_inner().plan, None);
    yard.server = Server::on(&yard.database);
    assert_eq!(yard.good("GET", PLAN, None, None).await, told);

    // Something was seen: it is made anew, once for all who ask at the time, from the one before.
    let seen = json!({ "at": today(), "reading": { "temperature_c": 21.0 } });
    let path = "/v1/farms/mine/batches/heap-mine/events";
    yard.good("POST", path, None, Some(&entries(&[seen]))).await;
    let ask = || yard.good("GET", PLAN, None, None);
    let (one, other) = tokio::join!(ask(), ask());
    assert_eq!(one, other);
    assert!(text(&one["made_at"]) > text(&told["made_at"]), "{one}");
    // And for a change of the season.
    let mut fewer = season();
    fewer["demands"] = json!([]);
    assert_eq!(put(&yard, Some("\"1\""), &fewer).await.status, 200);
    let changed = yard.good("GET", PLAN, None, None).await;
    assert!(text(&changed["made_at"]) > text(&one["made_at"]));
    assert_eq!(changed["plan"]["demands"], json!([]));
}
